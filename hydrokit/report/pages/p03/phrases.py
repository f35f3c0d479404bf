"""Page 03: how parts are named in its sentences."""

from __future__ import annotations

from ...display import escape_markdown

__all__ = []


def limits_verb(name: str) -> str:
    return "limit" if name.endswith(("jets", "machines")) else "limits"


def with_article(name: str) -> str:
    return f"the {escape_markdown(name)}" if not name.startswith("the ") else escape_markdown(name)


def capitalised(text: str) -> str:
    """The first letter of a sentence, the rest as it is written."""
    return text[0].upper() + text[1:]
