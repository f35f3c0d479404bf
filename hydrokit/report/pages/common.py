"""What every page has: what was understood, what is lacking, checks, cautions, sources, provenance."""

from __future__ import annotations

import functools
import platform
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any, Callable, Sequence, TypeVar, overload

import numpy as np

from ... import __version__
from ...study.answer import Answer
from ...study.build.record import known_days
from ...study.study import Study
from ...study.variant import told
from ...study.view import View
from ..display import Cautions, Table, Words, escape_markdown, findings_table

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

# What a study lacks, and how to get it. Property of Study -> sentences.
LACKING = {
    "gaugings": "There are no gaugings yet. Time a bucket, throw a float or a bag of salt, or read a notch; write each as a line of a sheet: "
    "date, stage, flow, uncertainty, method. Three at different flows are worth more than ten at the same.",
    "rating": "There is no rating yet: at least two gaugings need a stage read at the same time from a staff gauge that does not move. "
    "Five, spread from low to high, make a curve; survey the level at which the creek would stop flowing.",
    "expected_range": "No flow of this creek is known yet, so no weir plate or dose can be chosen for it. Gauge it once, with whatever there is, or write lowest and highest under [weir].",
    "record": "There is no daily record of this creek, so nothing can be said of its year from measurements. Put up a staff gauge and a logger; "
    "after a year of it a long gauge of a similar creek nearby can lengthen it. Until then one reading a week, always at the same staff gauge, is the best there is.",
    "temperature": "There is no record of air temperature. A thermometer on a shaded north wall, read each morning, is enough to begin with.",
    "head": "The head is not known. Level it, or read a good gauge at the bottom of a full, still pipe.",
    "penstock": "The penstock is not described. Its inside diameter, length and material are needed; a paced length will do to begin with.",
    "profile": "There is no profile of the penstock. Level it: a station at every change of slope, chainage and elevation of the pipe.",
    "diversion": "No profile of a diversion line is given; where there is one, survey it to 0.1 m (4 in): every high point and every low point.",
    "section": "The penstock is not described well enough to say what it must hold: its head, its pipes and a flow are needed.",
    "line_air": "No diversion line is described. Where there is one, survey every high point and every low point with a level (heights by satellite are far too coarse), and give its bore.",
    "full_flow_m3s": "Nothing says how much the plant takes: describe its jets, or give a design flow.",
    "frost": "No pipe is described, so nothing can be said of frost.",
    "readings": "There are no readings from the powerhouse. Read the gauge with the jets shut, then with one, two, … jets open while the forebay spills; "
    "write down volts and amps each time.",
    "plant": "The plant is not described well enough to compute: head, penstock and jets (or a design flow) are needed.",
    "card": "What the gauge should read is not known: head, pipe and jets (or a design flow) are needed, or readings of the plant with each number of jets open.",
    "signatures": "Faults cannot be told from the gauge here: that needs jets of one fixed bore, which tie pressure and flow together.",
    "log": "There is no log. Copy the sheet of page 09, hang it beside the gauge, and write a line at every visit: time, jets open, pressure, volts, amps, "
    "whether the forebay spills, whether the needle fluctuates. After a year it tells what leaves, ice and worn jets cost.",
    "day_by_day": "There is no daily record of flow to walk through day by day, so what jets changed by hand and frost take from the year is not known.",
    "money": 'Nothing is said of money. Under [costs] write value = "0.22 per kWh", what the energy replaces costs; for a plant that is planned also what it costs '
    "to build. A few gaugings, a log or a daily record must say what it makes.",
    "winter_outlook": "There is no year of air temperatures, so nothing can be said of frazil, of freezing by month or of heat. A thermometer on a shaded north wall, "
    "read each morning with its lowest of the night, is enough to begin with; write date and temperature, one line a day.",
    "jet_plan": "Which jets should stand open is not known: head, pipe and jets of one bore (or a design flow) are needed.",
    "wires": "What the wires carry is not known: a described plant and the voltage of its cable ([cable] voltage) are needed, or volts among the readings.",
    "house": "How fast the rooms lose heat is not known. Meter all the heat through a calm, dark night and read inside and outside ([[loads.night]]), or list the rooms with their areas ([[room]]).",
    "warmth": "What the plant keeps warm is not known: the heat loss of the rooms and the power of the plant are needed.",
    "year": "Without a daily record there is no year to add up. The pages on gauging and on today's plant say what to measure first.",
    "sizing": "There is nothing to size by: a daily record, a head, a kind of turbine, and a penstock of one pipe or a list of pipes ([costs] pipes) are needed; costs then say which size pays.",
}
LACKING["flow_regime"] = LACKING["record"]


def level(view: View, metres: float) -> str:
    """A surveyed level, to a centimetre or a tenth of a foot."""
    return f"{float(view.number(metres, 'length')):,.{2 if view.system == 'metric' else 1}f} {view.label('length')}"


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
    thing is a property of the study or what a function of ``study/build/`` makes of it. The headline says in full what is lacking, so that the sections below
    it can be brief, and the second and third of a section quiet.
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
    if headline:
        return Words(f"**Not known yet.** {LACKING.get(name, f'The study has no {name}.')}")
    return Words(f"*Not shown: {_BRIEFLY.get(name, name)} is lacking.*")


def in_frost(section: Callable[[Study, View], object]) -> Callable[[Study, View], Any]:
    """A section on ice, of which nothing is shown where no frost comes."""

    @functools.wraps(section)
    def shown(study: Study, view: View) -> Any:
        return section(study, view) if study.frosty else Words("")

    del shown.__wrapped__  # a reader calls it with study and view
    return shown


def keeps_open(view: View, kept: KeptOpen, flow_m3s: float) -> str:
    """The flow that keeps a stretch open, and whether its line ever has so much."""
    if flow_m3s == 0:
        return "any"
    flow = view.text(flow_m3s, "flow", 2)
    if flow_m3s <= kept.most_m3s:
        return flow
    passes = "the jets pass" if kept.line == "penstock" else "the line carries"
    return f"out of reach: {flow}, {passes} {view.text(kept.most_m3s, 'flow')}"


# What a property rests on: where that did not come about, the reason lies there.
_RESTS_ON = {
    "pressures": ("section",),
    "section": ("plant",),
    "full_flow_m3s": ("plant",),
    "line_air": ("plant",),
    "card": ("plant", "pressures"),
    "signatures": ("plant",),
    "jet_plan": ("plant",),
    "wires": ("plant",),
    "warmth": ("plant",),
    "sharing": ("plant",),
    "bracket": ("plant",),
    "upgrades": ("base_case", "plant"),
}
_OF_PLANT_AND_RECORD = (
    "year",
    "energy_uncertainty",
    "day_by_day",
    "rules_price",
    "measure_next",
    "base_case",
)


def _cause(study: Study, name: str) -> str:
    """What is behind the lack of a property: where there is a record, the plant; behind that, a sizing that did not come about."""
    if name in _OF_PLANT_AND_RECORD and study.record is not None and study.plant is None:
        name = "plant"
    if name in study.refused:
        return name
    for under in _RESTS_ON.get(name, ()):
        found = _cause(study, under)
        if found in study.refused:
            return found
    return "sizing" if name == "plant" and "sizing" in study.refused else name


_BRIEFLY = {
    "expected_range": "any flow of this creek, gauged or expected,",
    "weir_plan": "any flow of this creek, gauged or expected,",
    "salt_plan": "any flow of this creek, gauged or expected,",
    "floods": "a daily record",
    "low_flows": "a daily record",
    "intake_flood": "a daily record",
    "record": "a daily record",
    "usable": "a daily record",
    "duration": "a daily record",
    "flow_regime": "a daily record",
    "bypassed": "a daily record",
    "yearly_extremes": "a daily record",
    "year": "a daily record",
    "energy_uncertainty": "a daily record",
    "temperature": "a record of air temperature",
    "plant": "a described plant",
    "profile": "a profile of the penstock",
    "diversion": "a profile of the diversion line",
    "section": "a described penstock",
    "pressures": "a described penstock",
    "line_air": "a described diversion line",
    "frost": "a described pipe",
    "full_flow_m3s": "a flow",
    "sizing": "something to size by",
    "gaugings": "a sheet of gaugings",
    "rating": "a rating",
    "stage_record": "a record of stages",
    "jet_plan": "a described plant",
    "wires": "a described plant, or the voltage of its cable,",
    "house": "the heat loss of the rooms",
    "warmth": "the heat loss of the rooms, or a plant,",
    "sharing": "a plant, or a list of circuits,",
    "baseline": "a set of readings with the forebay spilling",
    "readings": "a set of readings",
    "card": "a described plant",
    "signatures": "a plant with jets of one fixed bore, which tie pressure and flow together,",
    "faults_seen": "a plant with jets of one fixed bore, which tie pressure and flow together,",
    "head": "the head",
    "log": "a log of readings",
    "history": "a log of readings",
    "upkeep": "a log of readings",
    "trends": "a log of readings",
    "winter_outlook": "a year of air temperatures",
    "measure_next": "a daily record, or a described plant,",
    "base_case": "a plant with a record or gaugings",
    "upgrades": "a list of changes to weigh",
    "rules_price": "a daily record",
    "day_by_day": "a daily record of flow, to be walked day by day,",
    "money": "what a kWh is worth, or what the plant costs,",
    "bracket": "a sheet of gaugings, or a described plant,",
    "accounts": "what the plant costs, or what a kWh is worth,",
    "debt_cover": "a loan",
}


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
            view.text(site["catchment"], "catchment") if "catchment" in site else "not said",
        ),
        ("water temperature", view.text(study.water_temperature_k, "temperature", 2)),
        ("gaugings", "none" if study.gaugings is None else f"{len(study.gaugings)}"),
        (
            "daily record",
            "none"
            if study.record is None
            else f"{known_days(study):,} days, {study.record.index[0]:%Y-%m-%d} to {study.record.index[-1]:%Y-%m-%d}",
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


def _sizes(study: Study, view: View) -> list[tuple[str, str]]:
    """The plan of which every page speaks, and the recommended size where it is another."""
    if study.plan is None:
        return []

    def told(which: str) -> str:
        flow, pipe, jets = (
            view.shown(study.answer(f"{which}.{name}")) for name in ("flow", "pipe", "jets")
        )
        return f"{flow} through {pipe}; jets, units or machines: {jets}"

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


_CAUTIONS = {
    "water": "Do not wade in water that is both fast and above the knee, or alone, or in spate. Cold water takes the strength from hands and legs within minutes.",
    "salt": "Throw no more salt than the gauging needs; keep it from fish pools and from anybody's drinking water, and ask whoever uses the creek below.",
    "ice": "Ice over running water is never safe by its looks. Do not work alone on it, nor below a pond whose ice may break.",
    "pressure": "A full pipe holds enough pressure to throw a cap or a hose. Close valves slowly, stand aside of joints, drain before opening anything.",
    "electric": "Electrical work follows the local code and is done or checked by a licensed electrician. A machine that loses its load overspeeds within seconds.",
    "rights": "What may be taken and what must stay is decided by law and by the authority, not by this report. Ask before anything is built.",
    "dam": "A pond, however small, can do harm when it fails. Spillway and dam are designed and approved by those licensed for it.",
    "flood": "Build nothing that the flood named here can take into the creek, and keep people away from the intake when it rises.",
    "height": "Pipe bridges, ladders and steep wet banks throw people: work from firm ground, tied on where a fall could hurt, and never alone.",
    "vent": "A vent that lets out air under pressure can throw its plug; one that draws air can hold a hand. Open it by quarter turns, from the side.",
    "confined": "Tanks, pits and pipes are confined spaces: do not enter alone, nor without testing the air.",
    "estimate": "This is a feasibility study. Before money is bound, an engineer licensed where the plant stands should check it.",
}


def cautions(*names: str) -> Cautions:
    """The usual cautions for the work on a page."""
    return Cautions([_CAUTIONS[name] for name in names])


def caution_text(name: str) -> str:
    """One of the usual cautions, for a sheet that has its own box."""
    return _CAUTIONS[name]


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


def place_words(study: Study) -> str:
    """Name and place as Markdown, safe to print."""
    place = study.site.site.place
    return escape_markdown(study.name) + (f", {escape_markdown(place)}" if place else "")
