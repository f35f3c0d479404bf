"""Page 07, the card: what the gauge should read, and what each fault would look like on this plant."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...errors import counted
from ...running.card import order_closing, order_opening
from ...running.faults import FAULTS, Condition, forward
from ...running.faults import Table as Readings
from ..display import Picture, Table, View, Words, escape_markdown, plain_number, series_text
from ..machines_site import groups, opened
from ..metering import card_at
from ..style import BAND, CREEK, GROUND, ICE, INK, LEAF, RUST, SUN, WARNING, figure, thousands
from .common import needs, sources

__all__ = [
    "card_sheet",
    "card_words",
    "fault_table",
    "fault_words",
    "headline",
    "pressure_figure",
    "references",
    "weekly_table",
]

_US, _METRIC = View("us"), View("metric")
# One size of each fault to show: share of flow, head, jet, watts or static pressure; and the jet.
_SHOWN = {
    "starved": (0.15, 0), "air": (0.12, 0), "friction": (0.15, 0), "blocked": (1.0, 1), "worn": (0.5, 1), "leak": (0.2, 0), "machine": (0.25, 0),
    "gauge": (-0.1, 0), "stuck": (0.85, 0),
}  # fmt: skip
_STROKES = {
    "starved": (RUST, "-"), "air": (ICE, "-"), "friction": (GROUND, (0, (5, 2))), "blocked": (SUN, "-"), "worn": (LEAF, (0, (5, 2))),
    "leak": (WARNING, (0, (1, 1.5))), "machine": (INK, (0, (1, 1.5))), "gauge": (INK, (0, (5, 2, 1, 2))),
}  # fmt: skip
_SHORT = {
    "starved": "starved", "air": "air", "friction": "valve or mouth", "blocked": "jet blocked", "worn": "jet worn", "leak": "leak", "machine": "machine",
    "gauge": "gauge wrong", "stuck": "gauge stuck",
}  # fmt: skip


def _opened(study: Any, count: int) -> str:
    """``2 jets``, as plain text."""
    return counted(count, opened(study))


def _running(study: Any, row: Any) -> str:
    """What is open in a row of the card: so many jets, or machines by name."""
    return escape_markdown(row.name) if row.name else _opened(study, row.jets)


def _every(study: Any) -> str:
    """Whatever shuts the water off at the machine."""
    return (
        "each jet's valve"
        if opened(study) == "jet" and study.plant.jets.count > 1
        else "the jet's valve"
        if opened(study) == "jet"
        else "the gates of a machine"
    )


@needs("card", headline=True)
def headline(study: Any, view: View) -> Words:
    """What the gauge should read, what to do when it does not, what the last visit showed."""
    card = study.card
    row = card.rows[-1]
    fixed = study.signatures is not None
    text = f"With {_running(study, row)} open the gauge should read **{view.text(row.pressure_pa, 'pressure')}** ({view.range(row.pressure_low_pa, row.pressure_high_pa, 'pressure', 3)})"
    if np.isfinite(row.power_w):
        healthy = study.answer("plant.healthy_power")
        same = healthy is not None and np.isclose(healthy.value, row.power_w, rtol=1e-9)
        text += f" and the meters {view.shown(healthy) if same else view.text(row.power_w, 'power')} at the {card_at(study)}"
    text += f", and {view.text(card.shut_off_pa, 'pressure')} with everything shut"
    text += ". " if card.commissioned else ": that is the plan, not a reading. "
    if fixed:
        closing = (
            f" (under {view.text(row.close_pa, 'pressure')} close a jet first: that gives more)"
            if np.isfinite(row.close_pa)
            else ""
        )
        text += f"**Below {view.text(row.alarm_pa, 'pressure')} and not spilling: walk up{closing}. Below it and spilling: air or a valve.**"
    last = _last(study)
    return Words(text + (f" {last}" if last else ""))


def _last(study: Any) -> str:
    """What the last visit showed, in a sentence; empty where there was none."""
    found = study.diagnose() if study.visits else None
    if found is None:
        return ""
    first, when = found.first, study.visits[-1].when
    named = "that all was well" if first.key == "well" else f"**{first.name}**"
    return f"The last visit, on {when.astype('datetime64[D]')}, showed {'' if first.probability > 0.9 else 'most likely '}{named}, with a posterior probability of {chance(first.probability)}."


def chance(probability: float) -> str:
    """A chance in per cent; no reading makes certain."""
    return "over 99 %" if probability > 0.995 else f"{100 * probability:.0f} %"


# --- the card -------------------------------------------------------------------------------


def _both(pascals: float, low: float = np.nan, high: float = np.nan) -> tuple[str, str]:
    """The same pressure in psi and in bar, with its band."""
    told = []
    for view, digits in ((_US, 1), (_METRIC, 2)):
        middle, *band = (
            f"{float(view.number(each, 'pressure')):.{digits}f}" for each in (pascals, low, high)
        )
        told.append(middle if not np.isfinite(low) else _banded(middle, *band))
    return told[0], told[1]


def _banded(middle: str, low: str, high: str) -> str:
    """Value and band, which breaks only between the two."""
    return f"{middle} ({low}\u00a0to\u00a0{high})"


@needs("card")
def card_sheet(study: Any, view: View) -> Table:
    """The card to print and hang beside the gauge; pressures in psi and in bar, whatever the reader's units."""
    card = study.card
    watts, amps = (
        any(np.isfinite(getattr(row, name)) for row in card.rows) for name in ("power_w", "amps")
    )
    columns = [
        f"{opened(study)}s {'open' if opened(study) == 'jet' else 'running'}",
        "gauge, psi",
        "gauge, bar",
        "walk up below, psi",
        "bar",
        view.header("flow", "flow"),
    ]
    shut = [
        "shut",
        *_both(card.shut_off_pa, card.shut_off_low_pa, card.shut_off_high_pa),
        "",
        "",
        "",
    ]
    rows = [shut]
    for row in card.rows:
        rows.append(
            [
                row.name or str(row.jets),
                *_both(row.pressure_pa, row.pressure_low_pa, row.pressure_high_pa),
                *_both(row.alarm_pa),
                plain_number(float(view.number(row.flow_m3s, "flow"))),
            ]
        )
    for known, title, name in (
        (watts, f"watts at the {card_at(study)}", "power_w"),
        (amps, f"amps at {card.volts:.0f} volts", "amps"),
    ):
        if known:
            columns.append(title)
            shut.append("0")
            stem = name.removesuffix("_w")
            ends = ("_low_w", "_high_w") if name.endswith("_w") else ("_low", "_high")
            for line, row in zip(rows[1:], card.rows):
                low, high = (plain_number(getattr(row, stem + end)) for end in ends)
                line.append(_banded(plain_number(getattr(row, name)), low, high))
    return Table(
        columns,
        rows,
        f"Gauge card of {study.name}, {'as commissioned' if card.commissioned else 'as planned, not yet read'}; the pond spilling",
        below=_lines(study, view),
    )


def _lines(study: Any, view: View) -> tuple[str, ...]:
    card = study.card
    lines = [
        "In brackets: where 90 % of healthy readings lie. Lower than 'walk up below': something is wrong."
    ]
    if study.signatures is not None:
        few = [row for row in card.rows if np.isfinite(row.close_pa)]
        if few:
            told = ", ".join(
                "{} open {} / {}".format(row.jets, *_both(row.close_pa)) for row in few
            )
            lines.append(
                f"Not spilling, and lower than this (psi / bar): close a jet, it gives more watts. {told[0].upper() + told[1:]}."
            )
    how = (max(row.jets for row in card.rows), opened(study))
    lines += [f"Opening {number}. {step}" for number, step in enumerate(order_opening(*how), 1)]
    lines += [f"Closing {number}. {step}" for number, step in enumerate(order_closing(*how), 1)]
    lines.append(_closing(study, view))
    height, zero = card.gauge_height_m, card.zero_error_pa
    where = "jets" if opened(study) == "jet" else "machine"
    hung = (
        f"The gauge hangs level with the {where}"
        if abs(height) < 0.05
        else f"The gauge hangs {view.text(abs(height), 'length', 2)} {'above' if height > 0 else 'below'} the {where}"
    )
    shown = (
        "shows zero with no pressure on it"
        if abs(zero) < 1
        else "with no pressure on it shows (psi / bar) {} / {}".format(*_both(zero))
    )
    lines.append(f"{hung} and {shown}; both are counted above.")
    return tuple(lines)


def _closing(study: Any, view: View) -> str:
    """How fast a valve may be closed."""
    card = study.card
    if np.isinf(card.closing_s):
        return "The pipe bears its pressure at rest badly: do not close anything quickly, and have the pipe looked at."
    told = study.answer("closing_time")
    if told is None:
        return "How fast a valve may close is not known for this pipe: take half a minute for each, and longer for the main valve."
    return f"Take {view.shown(told)} or more over the whole travel of {_every(study)}, and of the valve at the foot; a valve does most of its closing in the last quarter of its travel."


@needs("card")
def card_words(study: Any, view: View) -> Words:
    """What the card rests on, and how far it can be trusted."""
    card, noise = study.card, study.noise
    row = card.rows[-1]
    half = 50 * (row.pressure_high_pa - row.pressure_low_pa) / row.pressure_pa
    if card.commissioned:
        text = f"The card rests on {_readings(study)} readings of the healthy plant. "
    else:
        text = (
            "Nothing was read on this plant yet: the card shows what head, pipe, jets and machine should give, with the uncertainty of each. "
            "Read the gauge with everything shut and with each number of jets open while the pond spills, volts and amps each time: then this card is made again and its bands close. "
        )
    told = "as the log shows" if study.history is not None else "as is usual"
    text += (
        f"The repeatability of one reading is {100 * noise.pressure:.1f} % for the gauge and {100 * noise.power:.1f} % for the meters (one standard deviation, {told}); with the uncertainty of the plant itself "
        f"90 % of healthy readings lie within {half:.0f} % of the pressure above. The alarm is set where a healthy plant reads lower once in 740 times. "
    )
    if np.isfinite(row.close_pa) and study.signatures is not None:
        text += (
            f"Under-fed jets lose power with the cube of the flow, so {_opened(study, row.jets - 1)}, fed, overtake{'s' if row.jets == 2 else ''} {_opened(study, row.jets)} once the gauge is below "
            f"{view.text(row.close_pa, 'pressure')}. "
        )
    shared = groups(study)
    if shared:
        text += f"Jets are counted in the order in which they are opened: {series_text([f'the {escape_markdown(each.name)} has {each.jets}' for each in shared])}. "
    return Words(text)


def _readings(study: Any) -> int:
    return len({name for name, *_ in study.baseline.residuals} - {"jets"})


# --- what each fault looks like -------------------------------------------------------------


def _shown(study: Any, key: str) -> tuple[float, Readings]:
    """The size shown of a fault, and its readings by number of jets."""
    plant = study.signatures.plant
    size, which = _SHOWN[key]
    fault = next(each for each in FAULTS if each.key == key)
    scaled = size * {"head": plant.head_m, "pressure": plant.static_pa}.get(fault.kind, 1.0)
    return scaled, forward(plant, fault.condition(scaled, which))


def _gauge(study: Any, seen: Readings) -> np.ndarray:
    """What the gauge shows then, by number of jets: its zero error included, as on the card."""
    return seen.pressure_pa + study.card.zero_error_pa


@needs("signatures")
def pressure_figure(study: Any, view: View) -> Picture:
    """Pressure and watts by jets open: healthy with its band, and a line for each fault."""
    card, plant = study.card, study.signatures.plant
    well = forward(plant, Condition())
    jets = np.arange(plant.jets + 1)
    low, high = (
        [
            getattr(card, f"shut_off_{end}_pa"),
            *(getattr(row, f"pressure_{end}_pa") for row in card.rows),
        ]
        for end in ("low", "high")
    )
    with figure(7.4, 4.3, 1, 2) as (made, (left, right)):
        left.fill_between(
            jets,
            view.number(low, "pressure"),
            view.number(high, "pressure"),
            color=CREEK,
            alpha=BAND,
            linewidth=0,
        )
        left.plot(
            jets,
            view.number(_gauge(study, well), "pressure"),
            color=CREEK,
            linewidth=2.4,
            label="well, 90 %",
        )
        watts = np.isfinite(plant.baseline.efficiency)
        if watts:
            band = [
                [0.0, *(getattr(row, f"power_{end}_w") for row in card.rows)]
                for end in ("low", "high")
            ]
            right.fill_between(jets, *band, color=CREEK, alpha=BAND, linewidth=0)
            right.plot(jets, well.power_w, color=CREEK, linewidth=2.4)
        for key, (colour, dashes) in _STROKES.items():
            seen = _shown(study, key)[1]
            if key != "machine":
                left.plot(
                    jets,
                    view.number(_gauge(study, seen), "pressure"),
                    color=colour,
                    linestyle=dashes,
                    linewidth=1.5,
                    label=_SHORT[key],
                )
            if watts and key != "gauge":
                right.plot(
                    jets,
                    seen.power_w,
                    color=colour,
                    linestyle=dashes,
                    linewidth=1.5,
                    label=_SHORT[key] if key == "machine" else None,
                )
        left.set(xlabel="jets open", ylabel=view.header("gauge pressure", "pressure"), xticks=jets)
        left.set_ylim(bottom=0.8 * left.dataLim.y0)
        thousands(right.yaxis)
        right.set(
            xlabel="jets open",
            ylabel=view.header("power", "power"),
            xticks=jets,
            visible=bool(watts),
        )
        right.set_ylim(bottom=0)
        handles, labels = (
            first + second
            for first, second in zip(
                left.get_legend_handles_labels(), right.get_legend_handles_labels()
            )
        )
        made.legend(
            handles,
            labels,
            loc="outside upper left",
            ncols=5,
            frameon=False,
            fontsize=8.5,
            columnspacing=1.4,
        )
    starved = _shown(study, "starved")[1]
    return Picture(
        made,
        f"Gauge pressure and power by jets open, healthy and with each fault; with all open {view.text(_gauge(study, well)[-1], 'pressure')} when well, "
        f"{view.text(_gauge(study, starved)[-1], 'pressure')} when starved of {100 * _SHOWN['starved'][0]:.0f} % of the flow.",
    )


@needs("signatures", quiet=True)
def fault_table(study: Any, view: View) -> Table:
    """What each fault would look like, jet by jet, at one size."""
    plant = study.signatures.plant
    counts = range(plant.jets + 1)
    well = forward(plant, Condition())
    rows = [
        (
            "well",
            "",
            *(float(view.number(each, "pressure")) for each in _gauge(study, well)),
            float(well.power_w[-1]),
            "yes",
            "steady",
        )
    ]
    for fault in FAULTS[1:]:
        size, seen = _shown(study, fault.key)
        starved = fault.key == "starved"
        rows.append(
            (
                fault.name,
                sized(fault, size, view),
                *(float(view.number(each, "pressure")) for each in _gauge(study, seen)),
                float(seen.power_w[-1]),
                "no" if starved else "mostly" if fault.spills < 0.9 else "yes",
                "hunts" if starved else "may hunt" if fault.hunts > 0.2 else "steady",
            )
        )
    unit = view.label("pressure")
    columns = (
        "state",
        "size shown",
        *(f"{'shut' if count == 0 else count} [{unit}]" for count in counts),
        "watts, all open",
        "pond spills",
        "needle",
    )
    return Table(columns, rows, "What the gauge would show, by jets open")


def sized(
    fault: Any, size: float, view: View, low: float | None = None, high: float | None = None
) -> str:
    """A fault's size in words, with its interval where there is one."""
    if fault.key == "well":
        return ""
    if fault.kind == "share":
        amount = (
            f"{100 * size:.0f} %"
            if low is None
            else f"{100 * size:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"
        )
        return f"{amount} {fault.size_is}"
    turned = fault.key == "gauge" and size < 0
    told = [abs(each) for each in (size, low, high) if each is not None]
    amount = view.text(told[0], fault.kind, 2)
    if low is not None:
        amount += (
            f" ({view.range(*sorted(told[1:]), fault.kind)})"
            if low * high > 0 or fault.key != "gauge"
            else " (either way)"
        )
    return f"{amount} {'read too little' if turned else fault.size_is}"


@needs("signatures", quiet=True)
def fault_words(study: Any, view: View) -> Words:
    """The signatures that tell faults apart, with this plant's own numbers."""
    plant = study.signatures.plant
    well = forward(plant, Condition())
    most = plant.jets

    def drop(key: str, count: int) -> str:
        lost = well.pressure_pa[count] - _shown(study, key)[1].pressure_pa[count]
        return view.text(max(lost, 0.0), "pressure", 2)

    starved, blocked, worn = (_shown(study, key)[1] for key in ("starved", "blocked", "worn"))
    fed = [count for count in range(1, most) if starved.spare[count] > 0]
    friction, air = (
        f" and {drop(key, 1)} with one" if most > 1 else "" for key in ("friction", "air")
    )
    text = [
        f"- **Friction grows with the square of the flow.** At the size shown it takes {drop('friction', most)} with {_opened(study, most)} open{friction}; shut off, nothing.",
        f"- **Air takes much the same whatever runs**: {drop('air', most)} with {_opened(study, most)} open{air}, {drop('air', 0)} with everything shut.",
    ]
    if fed:
        text.append(
            f"- **Starvation goes when a jet is closed.** With {100 * _SHOWN['starved'][0]:.0f} % of the flow missing {_opened(study, most)} read {view.text(_gauge(study, starved)[most], 'pressure')}, "
            f"but {_opened(study, fed[-1])} {view.text(_gauge(study, starved)[fed[-1]], 'pressure')}, as they should."
        )
    raised, fallen = (
        view.text(sign * (each.pressure_pa[most] - well.pressure_pa[most]), "pressure", 2)
        for sign, each in ((1, blocked), (-1, worn))
    )
    dropped, gained = (
        well.power_w[most] - blocked.power_w[most],
        worn.power_w[most] - well.power_w[most],
    )
    if dropped < 0 or gained < 0:  # a pipe that loses more than a third of the head
        text.append(
            f"- **A blocked jet raises the pressure, a worn one lowers it**: by {raised} and {fallen} with {_opened(study, most)} open. The watts hardly tell here, "
            f"for the pipe takes so much: {_more(dropped, view, 'less', 'more')} with the one, {_more(gained, view, 'more', 'less')} with the other."
        )
    else:
        text.append(
            f"- **A blocked jet raises the pressure and drops the watts**: by {raised} and {view.text(dropped, 'power', 2)} with {_opened(study, most)} open. "
            f"A worn jet does the opposite: {fallen} less, {view.text(gained, 'power', 2)} more."
        )
    text += [
        "- **Pressure right and watts low**: the machine or its wiring. **Pressure wrong and watts right**: the gauge.",
    ]
    return Words("\n".join(text))


def _more(watts: float, view: View, above: str, below: str) -> str:
    return f"{view.text(abs(watts), 'power', 2)} {above if watts >= 0 else below}"


def weekly_table(study: Any, view: View) -> Table:
    """What to write down, how often, and what it is for."""
    card = study.card
    row = None if card is None else card.rows[-1]
    usual = "" if row is None else view.text(row.pressure_pa, "pressure")
    watts = "" if row is None or not np.isfinite(row.power_w) else view.text(row.power_w, "power")
    shut = "" if card is None else view.text(card.shut_off_pa, "pressure")
    thing, fixed = (
        opened(study),
        study.plant is not None and hasattr(study.plant.jets, "diameters_m"),
    )
    several = study.plant is None or study.plant.jets.count > 1
    state = f"{thing}s {'open' if thing == 'jet' else 'running'}" if several else "what is open"
    high = "; high: a jet blocked" if fixed else ""
    rows = [
        (
            "every visit",
            f"time, {state}",
            "",
            f"the same pressure means one thing with one {thing} and another with more"
            if several
            else "the pressure means nothing without it",
        ),
        (
            "every visit",
            "gauge, when the needle stands",
            usual,
            f"low: under-fed, air, a valve, a leak{high}" if fixed else "low: air, a valve, a leak",
        ),
        (
            "every visit",
            "volts and amps",
            watts,
            "tells the machine from the water, and a gauge that lies",
        ),
        (
            "every visit",
            "does the needle fluctuate",
            "no",
            "a pipe that draws air makes it fluctuate",
        ),
        (
            "every week",
            "does the pond spill",
            "yes",
            "the walk that parts an under-fed pipe from a faulty one",
        ),
        ("every week", "air; ice on the screen", "", "frazil comes on clear cold nights"),
        (
            "every month",
            "gauge with everything shut",
            shut,
            "it must not change: air, a leak or the gauge itself",
        ),
        (
            "every year",
            f"gauge and meters {'at each number of ' + thing + 's' if several else 'with everything open'}, the pond spilling",
            "",
            "commissioning: the card is made again",
        ),
    ]
    return Table(
        ("when", "what", "with all open, when well" if card is not None else "", "why"),
        rows,
        "What to write down",
    )


def references() -> Words:
    """What the pages on card and diagnosis rest on."""
    return sources(
        "Jets: Q = C·A·√(2gH), K. Subramanya, 1000 Solved Problems in Fluid Mechanics, ch. 16; pipe: Colebrook and Darcy, as on the page of the water's way.",
        "Evidence: R. E. Kass, A. E. Raftery, Bayes factors, J. Am. Stat. Assoc. 90:773-795, 1995: odds above 20 to 1 are strong.",
        "Closing of valves: J. Michaud, 1878; four times by hand is common practice.",
        "Common practice, no source: how often each fault is met; what is seen while jets are starved; with jets unchanged, a running pressure below its usual value means that the pipe is not full.",
    )
