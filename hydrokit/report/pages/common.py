"""What every page has: what was understood, what is lacking, checks, cautions, sources, provenance."""

from __future__ import annotations

import functools
import platform
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Callable, Sequence, TypeVar, overload

import numpy as np

from ... import __version__
from ...sentences import series_text
from ...study.answer import Answer
from ...study.build.machines import fed, opened
from ...study.build.record import known_days, stages_wait_for
from ...study.build.sizing import lacks as sizing_lacks
from ...study.study import Study
from ...study.variant import told
from ...study.view import View
from ...tables import row
from ..display import Cautions, Table, Words, escape_markdown, findings_table
from .lack_words import (
    BRIEFLY,
    LACKING,
    OF_PLANT_AND_RECORD,
    RESTS_ON,
    STAGES_GIVE,
    waiting,
)

__all__ = [
    "bold",
    "cautions",
    "checks",
    "in_frost",
    "in_picture",
    "keeps_open",
    "lacking",
    "level",
    "needs",
    "provenance",
    "sources",
    "understood",
]

if TYPE_CHECKING:
    from ...study.build.frost_measures import KeptOpen

One = TypeVar("One")
Two = TypeVar("Two")
Three = TypeVar("Three")
Shown = TypeVar("Shown")
Known = cached_property[One | None] | Callable[[Study], One | None]


def level(view: View, metres: float) -> str:
    """A surveyed level, to a centimetre or a tenth of a foot."""
    return (
        f"{float(view.number(metres, 'length')):,.{2 if view.system == 'metric' else 1}f} "
        f"{view.label('length')}"
    )


def all_jets(count: int) -> str:
    """All jets of the plant in words: ``the jet``, ``both jets``, ``all 4 jets``.

    >>> all_jets(1), all_jets(2), all_jets(4)
    ('the jet', 'both jets', 'all 4 jets')
    """
    return {1: "the jet", 2: "both jets"}.get(count, f"all {count} jets")


def value(study: Study, key: str) -> Any:
    """The value of an answer in SI; NaN where the study cannot say."""
    found = study.answer(key)
    return np.nan if found is None else found.value


def of_month(answer: Answer | None, month: int) -> Answer | None:
    """The answer for one month, 1 to 12, of an answer by month; None where there is none."""
    return None if answer is None else answer.month(month)


def in_picture(view: View, answer: Answer | None, unit: bool = True) -> str:
    """An answer in a picture, where no key can stand."""
    if answer is None:
        return "not known"
    return view.amount(answer.value, answer.kind, answer.digits, unit=unit)


def bold(text: object) -> str:
    """Stressed in Markdown; the text is taken as it is."""
    return f"**{text}**"


@overload
def needs(
    one: Known[One], /, *, headline: bool = ..., quiet: bool = ...
) -> Callable[[Callable[[Study, View, One], Shown]], Callable[[Study, View], Shown | Words]]: ...


@overload
def needs(
    one: Known[One], two: Known[Two], /, *, headline: bool = ..., quiet: bool = ...
) -> Callable[
    [Callable[[Study, View, One, Two], Shown]], Callable[[Study, View], Shown | Words]
]: ...


@overload
def needs(
    one: Known[One],
    two: Known[Two],
    three: Known[Three],
    /,
    *,
    headline: bool = ...,
    quiet: bool = ...,
) -> Callable[
    [Callable[[Study, View, One, Two, Three], Shown]], Callable[[Study, View], Shown | Words]
]: ...


def needs(
    *things: Known[object], headline: bool = False, quiet: bool = False
) -> Callable[[Callable[..., Any]], Callable[[Study, View], Any]]:
    """A section that is handed these things, and says what to measure where the study lacks one.

    ``@needs(Study.rating)`` makes ``section(study, view)`` of ``section(study, view, rating)``; a
    thing is a property of the study or what a function of ``study/build/`` makes of it. The
    headline says in full what is lacking, so that the sections below it can be brief, and the
    second and third of a section quiet.
    """

    def decorate(section: Callable[..., Any]) -> Callable[[Study, View], Any]:
        @functools.wraps(section)
        def shown(study: Study, view: View) -> Any:
            given = []
            for each in things:
                if isinstance(each, cached_property):
                    found, name = each.__get__(study), str(each.attrname)
                else:
                    found, name = each(study), each.__name__
                if found is None:
                    return lacking(study, view, name, headline, quiet)
                given.append(found)
            return section(study, view, *given)

        del shown.__wrapped__  # a reader calls it with study and view
        return shown

    return decorate


def lacking(
    study: Study, view: View, name: str, headline: bool = False, quiet: bool = False
) -> Words:
    """What is said where a property is lacking."""
    name = _cause(study, name)
    refused = study.refused.get(name)
    if quiet or (name == "bracket" and study.record is not None and refused is None):
        return Words("")
    if refused is not None:
        return Words(f"**This could not be worked out.** {escape_markdown(view.told(refused))}.")
    waits = stages_wait_for(study) if headline and name in STAGES_GIVE else None
    if waits is not None:
        return Words(f"**Not known yet.** {view.told(waiting(waits))}")
    if headline:
        return Words(f"**Not known yet.** {_how(study, name)}")
    return Words(f"*Not shown: {BRIEFLY.get(name, name)} is lacking.*")


def _how(study: Study, name: str) -> str:
    """How to get what is lacking; of a sizing, only what this study has not."""
    how = LACKING.get(name, f"The study has no {name}.")
    if name != "sizing":
        return how
    lacks = sizing_lacks(study)
    needed = f"{series_text(list(lacks))} {'is' if len(lacks) == 1 else 'are'} lacking"
    return how.format(lacks=needed if lacks else "no water is left to be taken")


def in_frost(section: Callable[[Study, View], object]) -> Callable[[Study, View], Any]:
    """A section on ice, of which nothing is shown where no frost comes."""

    @functools.wraps(section)
    def shown(study: Study, view: View) -> Any:
        return section(study, view) if study.frosty else Words("")

    del shown.__wrapped__  # a reader calls it with study and view
    return shown


def keeps_open(study: Study, view: View, kept: KeptOpen, flow_m3s: float) -> str:
    """The flow that keeps a stretch open, and whether its line ever has so much."""
    if flow_m3s == 0:
        return "any"
    flow = view.text(flow_m3s, "flow", 2)
    if flow_m3s <= kept.most_m3s:
        return flow
    if kept.line == "penstock":
        return f"out of reach: {flow}, {fed(study)} {view.text(kept.most_m3s, 'flow')}"
    return f"out of reach: {flow}, the line carries {view.shown(study.answer('capacity.line'))}"


def _cause(study: Study, name: str) -> str:
    """What is behind the lack of a property: where there is a record, the plant; behind that, a
    sizing that did not come about."""
    if name in OF_PLANT_AND_RECORD and study.record is not None and study.plant is None:
        name = "plant"
    if name in study.refused:
        return name
    for under in RESTS_ON.get(name, ()):
        found = _cause(study, under)
        if found in study.refused:
            return found
    return "sizing" if name == "plant" and "sizing" in study.refused else name


def understood(study: Study, view: View) -> Table:
    """What the site file was understood to say."""
    site = study.site.site
    head = study.head
    rows = [
        ("creek or plant", study.name),
        *((("variant", told(study.variant)),) if study.variant else ()),
        ("place", site.place or "not said"),
        *((("prepared by", site["prepared_by"]),) if "prepared_by" in site else ()),
        ("the plant", "runs today" if study.exists else "is planned"),
        (
            "altitude",
            "not said" if study.altitude_m is None else view.text(study.altitude_m, "length", 4),
        ),
        (
            "catchment",
            _catchment(view, site["catchment"]) if "catchment" in site else "not said",
        ),
        ("water temperature", view.text(study.water_temperature_k, "temperature", 2)),
        ("gaugings", "none" if study.gaugings is None else f"{len(study.gaugings)}"),
        (
            "daily record",
            "none"
            if study.record is None
            else (
                f"{known_days(study):,} days, {study.record.index[0]:%Y-%m-%d} to "
                f"{study.record.index[-1]:%Y-%m-%d}"
            ),
        ),
        (
            "gross head",
            "not known"
            if head is None
            else f"{view.shown(study.answer('head.gross'))} ± {view.text(head.sd or 0.0, 'head', 2)}",
        ),
        *_sizes(study, view),
        (
            "units shown",
            {"metric": "metric", "us": "US"}[view.system] + " (results do not depend on it)",
        ),
    ]
    return Table(("what", "as understood"), rows, "What was understood")


def _catchment(view: View, area_m2: float) -> str:
    """The area as it was given: without a nought behind it that nobody measured."""
    rounded = float(f"{float(view.number(area_m2, 'catchment')):.3g}")
    return view.with_unit(f"{rounded:,g}", "catchment")


def _sizes(study: Study, view: View) -> list[tuple[str, str]]:
    """The plan of which every page speaks, and the recommended size where it is another."""
    if study.plan is None:
        return []

    def told(which: str) -> str:
        flow, pipe, jets = (
            view.shown(study.answer(f"{which}.{name}")) for name in ("flow", "pipe", "jets")
        )
        several = "s" if value(study, f"{which}.jets") > 1 else ""
        return f"{flow} through {pipe}; {jets} {opened(study)}{several}"

    rows = [
        ("the plant on every page" if study.exists else "the plan, on every page", told("plan"))
    ]
    return (
        rows
        if study.exists or study.sizing is None
        else [*rows, ("the size recommended on page 04", told("recommended"))]
    )


def checks(study: Study, view: View, rooms: Sequence[str] | None = None) -> Table:
    """Everything a reader must know, the gravest first."""
    return findings_table(study.findings(rooms), view)


def cautions(*names: str) -> Cautions:
    """The usual cautions for the work on a page."""
    return Cautions([caution_text(name) for name in names])


def caution_text(name: str) -> str:
    """One of the usual cautions, for a sheet that has its own box."""
    return row("cautions", name)["caution"]


def sources(*lines: str) -> Words:
    """The standards and works a page rests on, as a list."""
    return Words("\n".join(f"{number}. {line}" for number, line in enumerate(lines, 1)))


def versions() -> list[tuple[str, str]]:
    """What computed: hydrokit and the libraries its numbers rest on."""
    import numpy
    import pint
    import scipy

    return [
        ("hydrokit", __version__),
        (
            "Python, numpy, scipy, pint",
            ", ".join(
                [platform.python_version(), numpy.__version__, scipy.__version__, pint.__version__]
            ),
        ),
    ]


def provenance(study: Study, view: View) -> Table:
    """What was read, with what, when: enough to make the same page again."""
    rows = versions()
    rows += [(name, f"sha256 {digest[:16]}…") for name, digest in study.inputs().items()]
    rows += [("made", f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"), ("units shown", view.system)]
    return Table(("what", "which"), rows, "Provenance")
