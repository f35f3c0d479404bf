"""The trade's terms, explained on a page where each is first used."""

from __future__ import annotations

import functools
import html
import re
from dataclasses import KW_ONLY, dataclass

from ..errors import HydrokitError, did_you_mean
from ..tables import load
from .display import Table

__all__ = ["Explained", "Term", "explained", "terms"]

# Terms that everyday English uses in other senses too: marked where they stand they would mislead.
_EVERYDAY = {
    "bias",
    "control",
    "coverage",
    "interval",
    "jet",
    "licence",
    "resolution",
    "roughness",
    "shift",
    "stage",
    "trend",
    "vent",
    "surge",
    "runner",
}


@dataclass(frozen=True)
class Term:
    """A term of the trade.

    Parameters
    ----------
    name, meaning, unit, source : str
        Columns of the table ``glossary``.
    """

    name: str
    meaning: str
    unit: str
    _: KW_ONLY
    source: str

    @property
    def anchor(self) -> str:
        """Where a page has it: ``term-head-loss``."""
        return "term-" + re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")


@functools.cache
def terms() -> dict[str, Term]:
    """Every term by its name as it is written in a sentence, without what a bracket adds."""
    table = load("glossary")
    rows = zip(table["term"], table["meaning"], table["unit"], table["source"])
    return {
        re.sub(r" \(.*\)", "", name): Term(name, meaning, unit, source=source)
        for name, meaning, unit, source in rows
    }


def explained(*names: str) -> Table:
    """Some terms with what they mean, as a table.

    Parameters
    ----------
    *names : str
        As :func:`terms` names them.

    Raises
    ------
    HydrokitError
        A term that the glossary does not have.
    """
    known = terms()
    for each in names:
        if each not in known:
            raise HydrokitError(
                f"explained(): the glossary has no '{each}'{did_you_mean(each, known)}"
            )
    return Table(("term", "meaning"), [(each, known[each].meaning) for each in names])


@functools.cache
def _pattern() -> re.Pattern[str]:
    names = sorted(set(terms()) - _EVERYDAY, key=len, reverse=True)
    capital = "|".join(re.escape(each) for each in names if each != each.lower())
    lower = "|".join(
        f"[{each[0].upper()}{each[0]}]{re.escape(each[1:])}"
        for each in names
        if each == each.lower()
    )
    return re.compile(rf"(?<![\w&#-])({capital}|{lower})(?=s?(?![\w-]))")


class Explained:
    """Marks the first use of each term of one page, and remembers which were used."""

    def __init__(self) -> None:
        self.used: dict[str, Term] = {}

    def marked(self, escaped: str) -> str:
        """Text that was made safe for a page, with each term that is new to the page linked to its
        meaning."""

        def link(match: re.Match[str]) -> str:
            written = match[1]
            name = written if written in terms() else written[0].lower() + written[1:]
            if name in self.used:
                return written
            term = self.used[name] = terms()[name]
            title = html.escape(term.meaning, quote=True)
            return f'<dfn><a href="#{term.anchor}" title="{title}">{written}</a></dfn>'

        return _pattern().sub(link, escaped)

    def listed(self) -> list[tuple[str, Term]]:
        """The terms used, by their names."""
        return sorted(self.used.items(), key=lambda each: each[0].lower())
