"""Page 09, the diagnosis: what the last visit showed, and how far such a verdict can be trusted here."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted, sure
from ....running.diagnose import ALL_LEAST, Diagnosis
from ....sentences import capital, plain_number, series_text
from ....study.build.in_hand import brims, brims_not, parts_jets
from ....study.study import Study
from ....study.view import View
from ...display import Table, Words
from ..common import needs
from .faults import sized
from .running import chance

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ....running.diagnose import Suspect
    from ....running.faults import Fault
    from ....running.hiding import Hiding
    from ....running.observation import Observation
    from ....running.rehearsal import Rehearsal
    from ....running.signatures import Signatures
    from ....study.build.faults import Hardest, LeastSeen

__all__ = [
    "last_table",
    "last_words",
    "least_table",
    "least_words",
    "rehearsal_table",
    "rehearsal_words",
    "visits_table",
]

_HIDDEN = 0.005
_VISITS = 10
_CERTAIN = 1000.0
_ONE_LEAST = 0.02  # chance of all jets alike up to which it is one of them


def _faults(study: Study) -> tuple[Fault, ...]:
    return () if study.signatures is None else study.signatures.faults


def _names(study: Study) -> dict[str, str]:
    return {fault.key: fault.name for fault in _faults(study)}


def _short_names(study: Study) -> dict[str, str]:
    return {fault.key: fault.short_name for fault in _faults(study)}


def _odds(odds: float) -> str:
    return "more than 1,000 to 1" if odds > _CERTAIN else f"{plain_number(odds, 2)} to 1"


def seen(study: Study, looks: Iterable[Observation], view: View) -> str:
    """What was seen at a visit, in words; pressures as the gauge showed them."""
    told, zero = [], study.site.penstock.gauge_zero
    for look in looks:
        parts = ["shut" if look.jets == 0 else f"{look.jets} open"]
        if np.isfinite(look.pressure_pa):
            parts.append(view.text(look.pressure_pa + zero, "gauge pressure"))
        if np.isfinite(look.power_w):
            parts.append(view.text(look.power_w, "power"))
        if look.spilling is not None and look.jets:
            parts.append("spilling" if look.spilling else "not spilling")
        if look.fluctuates:
            parts.append("needle fluctuates")
        told.append(" ".join(parts[:1]) + ": " + ", ".join(parts[1:]))
    return "; ".join(told)


@needs(Study.signatures, headline=True)
def last_words(study: Study, view: View, signatures: Signatures) -> Words:
    """What the last visit says, and what to do."""
    if not study.visits:
        return Words(
            "Nothing was read at this plant "
            f"{'since it was commissioned' if study.baseline is not None else 'yet'}, so there is "
            "nothing to diagnose. What each fault would look like stands above; write the "
            "readings down as the sheet below asks, and this section names the likeliest fault, "
            "its size, what it costs, and the one look that would settle it."
        )
    visit, found = study.visits[-1], sure(study.diagnose())
    return Words(
        f"At the last visit, {visit.when.astype('datetime64[D]')} "
        f"({seen(study, visit.looks, view)}), {verdict(study, view, found)}"
    )


def verdict(study: Study, view: View, found: Diagnosis) -> str:
    """What readings say, in sentences that go on from where they were made: the state, what it
    costs, the next look, what to do."""
    first = found.first
    if found.two_at_once:
        text = _two(view, found)
    elif not found.clear:
        text = _unclear(view, found)
    else:
        text = (
            f"the readings say **{first.name}**, with a posterior probability of "
            f"{chance(first.probability)} among the states known here"
        )
    if first.key != "well" and not found.two_at_once:
        text += f": {sized(first.fault, first.size, view, first.low, first.high)}"
        text += f", in jet {first.which} as they are opened" if first.which else ""
        text += ", in all jets alike" if first.alike >= ALL_LEAST else ""
        if abs(first.cost_w) > 1:
            text += (
                f"; it {'takes' if first.cost_w > 0 else 'adds'} "
                f"{view.text(abs(first.cost_w), 'power', 2)}"
            )
    text += ". "
    if _ONE_LEAST < first.alike < ALL_LEAST and not found.two_at_once:
        sizes = {"one": f"{100 * first.size:.0f}", "each": f"{100 * first.each:.0f}"}
        text += parts_jets(study).format(**sizes) + " "
    others = [_names(study)[key] for key in found.inseparable]
    if found.two_at_once:
        pass  # what tells one state from another says nothing of two
    elif first.key == "well" and others:
        text += f"Small ones of these could hide behind it: {series_text(others)}. "
    elif others:
        text += f"**These readings cannot tell it from: {series_text(others)}.** "
        if first.action is not None:
            text += (
                f"What would best tell it from '{_names(study)[first.action.parts]}': "
                f"{first.action.what} ({_odds(first.action.odds)}). "
                f"{_expected(study, view, first)}"
            )
    else:
        text += "The readings tell it from all others, 20 to 1 or better. "
    if found.hiding:
        text += (
            "Behind it there could be besides, and not show in these readings: "
            f"{series_text([_hidden(each, view) for each in found.hiding])}. "
        )
    todo = (
        found.pairs[0].one.action + " " + found.pairs[0].other.action
        if found.two_at_once
        else first.fault.action
    )
    text += f"What to do: {todo}"
    for finding in found.findings:
        text += f" *{capital(view.told(finding))}.*"
    return text


def _hidden(second: Hiding, view: View) -> str:
    """A second fault, as large as it may be."""
    return f"{second.fault.name}, up to {sized(second.fault, second.size, view)}"


def _two(view: View, found: Diagnosis) -> str:
    """That two things are wrong at once, and which, the likeliest first."""
    told = []
    for each in found.pairs:
        sizes = [
            sized(fault, size, view) for fault, size in zip((each.one, each.other), each.sizes)
        ]
        names = [
            f"{fault.name}" + (f" (about {size})" if size else "")
            for fault, size in zip((each.one, each.other), sizes)
        ]
        told.append(f"{names[0]} **and** {names[1]}, {chance(each.probability)}")
    cost = found.pairs[0].cost_w
    text = (
        "no single state explains the readings; **two things are wrong at once**, the likeliest: "
        f"{'; or '.join(told)} (posterior probability)"
    )
    return text + (f"; the first two take {view.text(cost, 'power', 2)}" if cost > 1 else "")


def _unclear(view: View, found: Diagnosis) -> str:
    """That health is the likeliest, though something read lies outside the card's band."""
    what = series_text(
        [
            (
                f"the {name} with "
                f"{'everything shut' if jets == 0 else counted(jets, 'jet')}{' open' if jets else ''}"
            )
            for name, jets in found.outside
        ]
    )
    other = next(each for each in found.suspects if each.key != "well")
    return (
        f"the plant is **not clearly healthy**: {what} "
        f"lie{'s' if len(found.outside) == 1 else ''} outside the band of the gauge card, as one "
        "healthy reading in ten does. Healthy has a posterior probability of "
        f"{chance(found.first.probability)}; next comes {other.name} "
        f"({chance(other.probability)}): "
        f"{sized(other.fault, other.size, view, other.low, other.high)}. Read it again"
    )


_SEEN = {
    "fluctuates": ("the needle fluctuates", "the needle stands steady"),
    "falls": ("the needle falls", "the needle stands"),
}
_SHOWN = {
    "pressure_pa": "gauge pressure",
    "true_pa": "pressure",
    "power_w": "power",
    "flow_m3s": "flow",
}


def _expected(study: Study, view: View, suspect: Suspect) -> str:
    """What the look that is advised would show if the state is this one, and if it is the other."""
    action = suspect.action
    if action is None:
        return ""
    zero = study.site.penstock.gauge_zero
    signs = _SEEN | {"spilling": (brims(study), brims_not(study))}
    mine: list[str] = []
    others: list[str] = []
    for each in action.expect:
        for told, value in ((mine, each.mine), (others, each.other)):
            if each.what in signs:
                if max(each.mine, each.other) > _LIKELY:
                    told.append(signs[each.what][value < 0.5])
            else:
                value += zero if each.what == "pressure_pa" else 0.0
                told.append(view.text(value, _SHOWN[each.what]))
    if not mine:
        return ""
    return (
        f"Expect {', '.join(mine)} if it is this, {', '.join(others)} if it is "
        f"'{_names(study)[action.parts]}'. "
    )


_LIKELY = 0.4  # chance from which on a sign is worth naming


@needs(Study.signatures, quiet=True)
def last_table(study: Study, view: View, signatures: Signatures) -> Table | Words:
    """The states of the plant at the last visit, the likeliest first."""
    if not study.visits:
        return Words("")
    found = sure(study.diagnose())
    rows = []
    for each in found.suspects:
        if each.probability < _HIDDEN and each.key not in found.inseparable:
            continue
        action = (
            ""
            if each.action is None
            else (
                f"from '{_short_names(study)[each.action.parts]}': {each.action.what} "
                f"({_odds(each.action.odds)})"
            )
        )
        cost = round(each.cost_w) if abs(each.cost_w) >= 0.5 else 0
        rows.append(
            (
                each.name,
                chance(each.probability),
                f"{100 * each.explains:.0f} %",
                sized(each.fault, each.size, view, each.low, each.high),
                cost,
                action,
                each.fault.action,
            )
        )
    columns = (
        "state",
        "posterior probability",
        "p-value",
        "size, 90 % interval",
        "costs [W]",
        "what would tell it from the likeliest other",
        "what to do",
    )
    return Table(
        columns,
        rows,
        (
            f"The plant on {study.visits[-1].when.astype('datetime64[D]')}; states under half a "
            "per cent are left out"
        ),
    )


@needs(Study.signatures, quiet=True)
def visits_table(study: Study, view: View, signatures: Signatures) -> Table | Words:
    """What the diagnosis says of the readings that were taken, and of the last visit of the log."""
    if not study.visits:
        return Words("")
    sheet = [visit for visit in study.visits if visit.source == "readings"][-_VISITS:]
    rows = []
    for visit in sheet if study.visits[-1] in sheet else [*sheet, study.visits[-1]]:
        found = sure(study.diagnose(visit.looks, visit.when))
        first = found.first
        rows.append(
            (
                str(visit.when.astype("datetime64[D]")),
                seen(study, visit.looks, view),
                first.name,
                chance(first.probability),
                sized(first.fault, first.size, view, first.low, first.high),
                round(first.cost_w),
                _unparted(study, found),
            )
        )
    return Table(
        (
            "day",
            "seen",
            "likeliest",
            "posterior probability",
            "size, 90 % interval",
            "costs [W]",
            "not told from",
        ),
        rows,
        "What was read, and what it says",
    )


def _unparted(study: Study, found: Diagnosis) -> str:
    names = ", ".join(_short_names(study)[key] for key in found.inseparable)
    return names if found.first.key != "well" else f"small: {names}" if names else ""


# --- how far to trust it ----------------------------------------------------------------------


@needs(Study.signatures, Study.rehearsal)
def rehearsal_table(study: Study, view: View, _: Signatures, tried: Rehearsal) -> Table:
    """Faults seeded in this plant, and what the diagnosis called them."""
    rows = []
    for place, key in enumerate(tried.keys):
        shares = ["" if share == 0 else round(100 * share) for share in tried.named_first[place]]
        rows.append(
            (
                _names(study)[key],
                *shares,
                round(100 * tried.right[place]),
                float(tried.unparted[place]),
            )
        )
    columns = (
        "seeded fault",
        *(_short_names(study)[key] for key in tried.keys),
        "right, or declared inseparable",
        "states left",
    )
    return Table(
        columns,
        rows,
        f"Named first, in per cent of {tried.draws} seeded faults of each kind and all sizes",
        digits=2,
    )


@needs(Study.signatures, Study.rehearsal, Study.hardest, quiet=True)
def rehearsal_words(
    study: Study, view: View, signatures: Signatures, tried: Rehearsal, worst: Hardest
) -> Words:
    """What the rehearsal says."""
    most = signatures.plant.jets
    jets = f"{most} and {most - 1} open" if most > 1 else "the jet open"
    text = (
        f"Each row is a fault seeded {tried.draws} times in this plant, at sizes from hardly "
        "worth a walk to the worst, and read as on a careful visit: gauge, meters, forebay and "
        f"needle with {jets}, the gauge with everything shut. A healthy plant was called faulty "
        f"in {100 * tried.false_alarms:.0f} %. In {plain_number(100 * worst.right)} % of all "
        "draws the true state came first or was declared inseparable from the first. Hardest to name is "
        f"'{_names(study)[worst.key]}': it came first in {100 * worst.first:.0f} %"
    )
    text += (
        f", for small ones look like '{_names(study)[worst.taken_for]}'. "
        if worst.taken_for != worst.key
        else ". "
    )
    text += (
        "The plants are drawn from the card's own uncertainty, so this is the best that the "
        "readings can do; two faults at once are not in the list."
    )
    return Words(text)


@needs(Study.signatures, Study.least_seen, quiet=True)
def least_table(
    study: Study,
    view: View,
    signatures: Signatures,
    least: tuple[dict[str, float], dict[str, float]],
) -> Table:
    """The smallest fault a careful visit shows, commissioned and not."""
    known, promised = least
    rows = []
    for fault in signatures.faults[1:]:
        if not fault.graded:
            continue
        told = []
        for found in (known, promised):
            size = found.get(fault.key, np.nan)
            told.append(
                ("" if not found else "none is seen")
                if np.isnan(size)
                else sized(fault, size, view)
            )
        rows.append((fault.name, *told))
    titles = (
        ("as commissioned", "if it had never been commissioned")
        if study.baseline is not None
        else ("once commissioned", "as planned")
    )
    return Table(
        ("state", *titles),
        rows,
        (
            "Smallest fault that a careful visit tells from health, 20 to 1; under-fed jets show "
            "by the forebay alone"
        ),
    )


@needs(Study.least_seen_ratio, quiet=True)
def least_words(study: Study, view: View, found: LeastSeen) -> Words:
    """How much less is known without commissioning."""
    times = f"{plain_number(found.ratio, 2)} times as large to be seen"
    if study.baseline is not None:
        return Words(
            "Without commissioning, compared with the site file alone, a fault would have to "
            f"be about {times} (median of {found.faults})."
        )
    text = (
        f"Compared with the plan, a fault must be about {times} as once the healthy plant was "
        f"read (median of {found.faults})"
    )
    if found.ratio > 1.3:
        return Words(
            f"**Commissioning is worth the hour it takes.** {text}. Under-fed jets are the "
            "exception: closing one tells."
        )
    return Words(
        f"{text}: the site file states small uncertainties, so that commissioning gains "
        "little, if they are true. It is also what tests them."
    )
