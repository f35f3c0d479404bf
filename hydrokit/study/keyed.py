"""Numbers on a page that carry the key of the question they answer.

The key travels inside the text, between characters of the private use area, through f-strings,
Markdown and cells of tables; a page turns it into ``<data value="key">``, and whatever is no page
leaves it out. So one test can read all pages of a study and find the same key with the same
number everywhere.

>>> text = f"it brings {keyed('energy.annual.p50', '19,900 kWh')} a year"
>>> plain(text)
'it brings 19,900 kWh a year'
>>> as_markup(text)
'it brings <data value="energy.annual.p50">19,900 kWh</data> a year'
>>> keys(text)
[('energy.annual.p50', '19,900 kWh')]
"""

from __future__ import annotations

import re

__all__ = ["Keyed", "TAG", "as_markup", "keyed", "keys", "plain"]

_BEGIN, _TEXT, _END = "\ue000", "\ue001", "\ue002"
_KEY = r"[a-z0-9_.]+"
_MARKED = re.compile(f"{_BEGIN}({_KEY}){_TEXT}([^{_BEGIN}{_TEXT}{_END}]*){_END}")
_STRAY = re.compile(f"[{_BEGIN}{_TEXT}{_END}]")
TAG = re.compile(
    f'<data value="{_KEY}">|</data>'
)  # the only markup that a page's Markdown lets through


class Keyed(str):
    """Shown text that answers a question; in a table it stands as a number does."""


def keyed(key: str, text: str) -> Keyed:
    """Shown text with the key of its question."""
    if not re.fullmatch(_KEY, key):
        raise ValueError(f"a key is dotted lower case, such as 'energy.annual.p50'; got {key!r}")
    return Keyed(f"{_BEGIN}{key}{_TEXT}{plain(text)}{_END}")


def plain(text: str) -> str:
    """The text without its keys."""
    return _STRAY.sub("", _MARKED.sub(r"\2", text))


def as_markup(text: str) -> str:
    """The text, escaped already, with its keys as HTML."""
    return _STRAY.sub("", _MARKED.sub(r'<data value="\1">\2</data>', text))


def keys(text: str) -> list[tuple[str, str]]:
    """Every key of a text with what is shown for it, in order."""
    return _MARKED.findall(text)
