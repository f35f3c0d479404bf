"""The verification page: every published check, run on the reader's own machine."""

from __future__ import annotations

import ast
import inspect
import platform
import sys
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Sequence

import numpy as np

from ...files import shown_path
from ...published import KINDS, STANDINGS, Outcome, published_folder, read_calibration, run_checks
from ...sentences import plain_number, series_text
from ...units import Q_, Quantity
from ..display import Picture, Table, Words
from ..style import CREEK, GROUND, ICE, INK, LEAF, RUST, SUN, WARNING, figure, legend_above
from .common import versions

if TYPE_CHECKING:
    from ...published import Calibrated, Check

__all__ = [
    "ROOMS",
    "Tables",
    "calibration",
    "calibration_table",
    "checks_of",
    "counts_table",
    "deviation_figure",
    "failures",
    "headline",
    "kinds_table",
    "machine",
    "run",
]

# Along the water, with what each room is about.
ROOMS = {
    "ground": "water and its properties",
    "stream": "what the creek gives",
    "works": "what the water passes on its way",
    "plant": "water into useful power",
    "energy": "what a year adds up to",
    "running": "keeping it going",
}
_MEANING = {
    "printed": "a result printed in a standard, a manual, a textbook or a paper, and read there",
    "analytic": "a case that can be solved exactly with pen and paper",
    "other program": "what another program or library that shares no code with this one gives or lists",
    "published formula": (
        "worked for this check from a formula that is published, or from code that carries it: "
        "shows that ours is the same formula"
    ),
    "worked apart": "worked for this check with general libraries or by hand, by another way than ours",
    "table copied": (
        "hydrokit's own table read again in its source: shows that it was copied rightly, and "
        "nothing of a computation"
    ),
    "common practice": "a rule of thumb of the trade; says that ours is usual, not that it is true",
    "from memory": "a value remembered and not read again; never the only evidence for a function",
    "regression": "our own earlier result; guards against errors, proves nothing",
}
_HOW = {
    "read": "read in the source",
    "computed": "calculated apart from hydrokit",
    "read+computed": "read and calculated again",
    "code": "by running the other program",
    "copied": "a table read in the source",
    "from memory": "remembered",
}
_COLOURS = dict(
    zip(KINDS, ((CREEK, "o"), (LEAF, "s"), (RUST, "D"), (SUN, "^"), (GROUND, "v"), (ICE, "x")))
)
_MOST_SHOWN = 8  # numbers of a long list
_LEAST_SHARE = 1e-4  # of the tolerance, left end of the figure


def run(folder: str = "") -> tuple[Outcome, ...]:
    """Run every check of a folder; of the checkout's own where none is named."""
    return run_checks(folder or published_folder())


def headline(outcomes: Sequence[Outcome]) -> Words:
    """Whether this machine gets what is published."""
    agree, every = sum(each.passed for each in outcomes), len(outcomes)
    counts = Counter(each.check.standing for each in outcomes)
    outside = series_text(
        [f"{counts[name]} {_COUNTED[name]}" for name in STANDINGS if counts[name]]
    )
    if agree == every:
        first = (
            f"On this machine **all {every} checks agree** with what was expected, each within "
            "its stated tolerance."
        )
    else:
        first = (
            f"On this machine **{every - agree} of {every} checks fail**: do not rely on the "
            "functions named below until that is corrected."
        )
    alone = only_remembered(outcomes)
    last = (
        " No function rests on memory alone."
        if not alone
        else f" Only memory stands behind {series_text(alone)}."
    )
    return Words(f"{first} They are compared with {outside}.{last}")


_COUNTED = {
    "printed": "printed values that were read",
    "analytic": "exact cases",
    "other program": "results of other programs",
    "published formula": "values worked from a published formula or the code of one",
    "worked apart": "values worked apart from hydrokit",
    "table copied": "tables held against the source they were copied from",
    "common practice": "rules of thumb",
    "from memory": "remembered values",
    "regression": "earlier results of our own",
}


def only_remembered(outcomes: Sequence[Outcome]) -> list[str]:
    """Functions whose every check is from memory."""
    firm = {
        each.check.call
        for each in outcomes
        if "from memory" not in (each.check.kind, each.check.how)
    }
    return sorted({each.check.call for each in outcomes} - firm)


def failures(outcomes: Sequence[Outcome]) -> Table | Words:
    """The checks that fail, first of all."""
    failed = [each for each in outcomes if not each.passed]
    return _table(failed, "Checks that fail") if failed else Words("No check fails.")


def counts_table(outcomes: Sequence[Outcome]) -> Table:
    """Checks of each topic by kind of evidence."""
    found = Counter(each.check.standing for each in outcomes)
    kinds = [each for each in STANDINGS if found[each]]
    rows: list[list[object]] = []
    mark: list[int] = []
    for room, topics in topics_by_room(outcomes).items():
        for topic in topics:
            inside = [each for each in outcomes if each.check.topic == topic]
            counted = Counter(each.check.standing for each in inside)
            failed = sum(not each.passed for each in inside)
            if failed:
                mark.append(len(rows))
            rows.append(
                [
                    "ground floor" if room == "ground" else room,
                    topic,
                    len(inside),
                    *(counted[kind] or "" for kind in kinds),
                    f"{failed} FAIL" if failed else "all agree",
                ]
            )
    rows.append(["all", "", len(outcomes), *(found[kind] for kind in kinds), ""])
    return Table(
        ["room", "topic", "checks", *kinds, "today"],
        rows,
        "Checks by room, topic and kind of evidence",
        mark=(*mark, len(rows) - 1),
    )


def kinds_table(outcomes: Sequence[Outcome]) -> Table:
    """What the kinds of evidence mean."""
    present = Counter(each.check.standing for each in outcomes)
    return Table(
        ("kind", "what it is", "checks"),
        [(each, _MEANING[each], present[each]) for each in STANDINGS if present[each]],
        "Kinds of evidence",
    )


def deviation_figure(outcomes: Sequence[Outcome]) -> Picture:
    """How much of its tolerance each check uses, topic by topic."""
    topics = [topic for inside in topics_by_room(outcomes).values() for topic in inside]
    with figure(7.4, 1.2 + 0.27 * len(topics)) as (made, axes):
        for kind in KINDS:
            inside = [each for each in outcomes if each.check.kind == kind]
            colour, marker = _COLOURS[kind]
            used = np.clip(
                np.nan_to_num([each.used for each in inside], nan=10, posinf=10), _LEAST_SHARE, 10
            )
            if inside:
                axes.scatter(
                    used,
                    [topics.index(each.check.topic) for each in inside],
                    s=22,
                    c=colour,
                    marker=marker,
                    alpha=0.75,
                    linewidths=0.8,
                    label=kind,
                )
        axes.axvline(1.0, color=WARNING, linewidth=1.4)
        axes.annotate(
            "fails",
            (1.0, -0.9),
            xytext=(4, 0),
            textcoords="offset points",
            color=WARNING,
            fontsize=8.5,
            va="center",
        )
        axes.set_xscale("log")
        axes.set(
            xlabel="deviation as a share of the tolerance [%]",
            xlim=(_LEAST_SHARE / 1.6, 16),
            ylim=(len(topics) - 0.4, -1.4),
        )
        ticks = [1e-4, 1e-3, 1e-2, 1e-1, 1]
        axes.set_xticks(ticks, ["≤ 0.01", "0.1", "1", "10", "100"])
        axes.set_yticks(range(len(topics)), topics)
        axes.tick_params(axis="y", length=0, labelcolor=INK)
        legend_above(axes)
    return Picture(
        made,
        (
            f"For each of {len(outcomes)} checks the deviation as a share of its tolerance, by "
            f"topic; {sum(not each.passed for each in outcomes)} lie beyond it."
        ),
    )


@dataclass(frozen=True, eq=False)
class Tables:
    """Several tables under each other."""

    tables: Sequence[Table]

    def _repr_html_(self) -> str:
        return "\n".join(each._repr_html_() for each in self.tables)

    def __repr__(self) -> str:
        return "\n\n".join(repr(each) for each in self.tables)


def checks_of(outcomes: Sequence[Outcome], room: str) -> Tables | Words:
    """Every check of a room, a table for each topic."""
    tables = []
    for topic in topics_by_room(outcomes).get(room, ()):
        inside = [each for each in outcomes if each.check.topic == topic]
        kinds = Counter(each.check.kind for each in inside)
        tables.append(
            _table(
                inside,
                (
                    f"{topic}: {len(inside)} checks "
                    f"({', '.join(f'{kinds[kind]} {kind}' for kind in KINDS if kinds[kind])})"
                ),
            )
        )
    return Tables(tables) if tables else Words("No check stands here yet.")


def calibration(folder: str = "") -> Words:
    """Which 90 % intervals held the truth of invented creeks, and which did not."""
    found = read_calibration(folder or published_folder())
    if not found:
        return Words("No calibration stands beside these checks.")
    held = sum(each.holds for each in found)
    text = (
        f"Tried on {found[0].date}: **{held} of {len(found)} hold the truth in 85 to 95 % of "
        "cases**, as a 90 % interval claims."
    )
    for which, told in (
        (lambda each: each.misses, "These miss, more than chance explains"),
        (
            lambda each: not each.holds and not each.misses,
            "Of these the cases are too few to say: what they leave open reaches into 85 to 95 %",
        ),
    ):
        some = [f"{each.answer} ({100 * each.share:.0f} %)" for each in found if which(each)]
        text += f" {told}: {series_text(some)}." if some else ""
    return Words(text + (_REAL_YEARS if any(_REAL in each.answer for each in found) else ""))


_REAL = "of a real record"
_REAL_YEARS = (
    " Years of real records are fewer cases than they count: all years foretold from the same "
    "years share one P90, of which six from each creek stand behind a row, and years come in "
    "spells; the column of independent cases says how many they are worth. One of the two creeks "
    "that stand alone, fed by groundwater, rises by a tenth of its flow each decade, so that its "
    "late years promise more than its early ones brought: no interval from a few years foresees "
    "that. The rows with the trend taken out show what is left of it; those of four creeks have "
    "Sitter and Ngaruroro beside them, whose records may not be handed on."
)


def calibration_table(folder: str = "") -> Any:
    """Every answer that was tried: in how many worlds its interval held the truth."""
    found = read_calibration(folder or published_folder())
    if not found:
        return Words("There is no table of a calibration.")
    return Table(
        (
            "answer",
            "cases",
            "independent",
            "held",
            "share",
            "90 % interval of it",
            "truth below",
            "truth above",
            "85 to 95 %",
            "date",
        ),
        [
            (
                each.answer,
                each.worlds,
                f"{each.worth:.0f}",
                each.held,
                f"{100 * each.share:.1f} %",
                f"{100 * each.interval[0]:.0f} to {100 * each.interval[1]:.0f} %",
                each.below,
                each.above,
                _verdict(each),
                each.date,
            )
            for each in found
        ],
        "Stated 90 % intervals against the truth",
        mark=tuple(number for number, each in enumerate(found) if each.misses),
    )


def _verdict(each: Calibrated) -> str:
    """Whether the share lies within 85 to 95 %; where it does not, whether the cases are enough to say so."""
    if each.holds:
        return "yes"
    if not each.misses:
        return "too few cases to say"
    return "NO: too narrow" if each.share < 0.9 else "NO: too wide"


def machine(folder: str = "") -> Table:
    """Where and with what the checks were run."""
    rows = [
        *versions(),
        ("machine", f"{platform.system()} {platform.machine()}"),
        ("checks read from", shown_path(folder or published_folder())),
    ]
    return Table(
        ("what", "which"),
        [*rows, ("made", f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC")],
        "Provenance",
    )


# --- which room a topic belongs to ----------------------------------------------------------


def topics_by_room(outcomes: Sequence[Outcome]) -> dict[str, list[str]]:
    """The topics of each room, rooms along the water."""
    found: dict[str, list[str]] = {room: [] for room in ROOMS}
    for topic in sorted({each.check.topic for each in outcomes}):
        modules = {
            each.check.call.partition(":")[0] for each in outcomes if each.check.topic == topic
        }
        direct = {_room(name) for name in modules if name.startswith("hydrokit.")}
        rooms = direct or {_room(name) for worked in modules for name in _imports(worked)}
        # what stands farthest down the water is what the topic is about
        found[max(rooms, key=[*ROOMS].index, default="ground")].append(topic)
    return {room: topics for room, topics in found.items() if topics}


def _room(module: str) -> str:
    room = module.split(".")[1]
    return room if room in ROOMS else "ground"


def _imports(module: str) -> set[str]:
    """The modules of hydrokit that a module of worked examples imports."""
    loaded = sys.modules.get(module)
    tree = ast.parse(inspect.getsource(loaded) if loaded else "")
    return {
        node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        and node.module is not None
        and node.module.startswith("hydrokit.")
    }


# --- one row --------------------------------------------------------------------------------


def _table(outcomes: Sequence[Outcome], caption: str) -> Table:
    columns = (
        "check",
        "what is computed, from what",
        "expected",
        "ours",
        "off by",
        "allowed, and why",
        "evidence",
    )
    mark = tuple(number for number, each in enumerate(outcomes) if not each.passed)
    return Table(columns, [_row(each) for each in outcomes], caption, mark=mark)


def _row(outcome: Outcome) -> list[str]:
    check = outcome.check
    function = check.call.rpartition(":")[2].rpartition(".")[2].replace("_", " ")
    inputs = "; ".join(
        f"{name.replace('_', ' ')} {_listed(value)}" for name, value in check.inputs.items()
    )
    picked = f" → {check.pick.strip('.')}" if check.pick else ""
    kind = (
        check.kind if check.how == check.kind else f"{check.kind}, {_HOW.get(check.how, check.how)}"
    )
    return [
        check.id if outcome.passed else f"FAILS: {check.id}",
        f"{function}{picked}: {inputs}" if inputs else f"{function}{picked}",
        _listed(check.expected),
        outcome.error or _listed(_as_expected(outcome.found, check.expected)),
        _deviation(outcome),
        check.why if check.why.startswith(_allowed(check)) else f"{_allowed(check)}: {check.why}",
        f"{kind}: {check.source}",
    ]


def _listed(value: Any) -> str:
    """A value, or a list of them that does not run away; a unit that all share is said once."""
    if isinstance(value, dict):
        return ", ".join(f"{name} = {_listed(each)}" for name, each in value.items())
    if not isinstance(value, (list, tuple)):
        return f"{value:.6g}" if isinstance(value, float) else str(value)
    texts, more = [_listed(each) for each in value[:_MOST_SHOWN]], len(value) > _MOST_SHOWN
    parts = [text.partition(" ") for text in texts]
    if len({unit for _, _, unit in parts}) == 1:
        texts = [number for number, _, _ in parts]
    unit = f" {parts[0][2]}" if texts and parts[0][2] and texts[0] == parts[0][0] else ""
    return ", ".join(texts) + (f", … ({len(value)} in all)" if more else "") + unit


def _as_expected(found: Any, expected: Any) -> Any:
    """What came out, as text in the unit of what was expected."""
    unit = ""
    if isinstance(found, Quantity):
        first = expected[0] if isinstance(expected, list) else expected
        found, unit = found.m_as(Q_(first).units), " " + first.partition(" ")[2]
    texts = [
        f"{each:.6g}{unit}".rstrip()
        for each in np.atleast_1d(np.asarray(found, dtype=float)).ravel()
    ]
    return texts if isinstance(expected, list) or len(texts) > 1 else texts[0]


def _deviation(outcome: Outcome) -> str:
    if not np.isfinite(outcome.deviation):
        return "no result"
    if outcome.deviation < 1e-9:
        return "nothing"
    expected = (
        outcome.check.expected
        if isinstance(outcome.check.expected, list)
        else [outcome.check.expected]
    )
    if any(float(Q_(each).magnitude if isinstance(each, str) else each) == 0 for each in expected):
        return f"{100 * outcome.used:.2g} % of what is allowed"
    return (
        f"{plain_number(100 * outcome.deviation, 2)} %"
        if outcome.deviation > 1e-5
        else "under 0.001 %"
    )


def _allowed(check: Check) -> str:
    parts = [f"{100 * check.rtol:.3g} %"] if check.rtol else []
    if check.atol:
        parts.append(check.atol if isinstance(check.atol, str) else f"{check.atol:.3g}")
    return " and ".join(parts) or "nothing"
