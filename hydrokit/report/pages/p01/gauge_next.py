"""Page 01, second part: what the field sheets come to, and how to gauge the creek next time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ....sentences import capital, plain_number, series_text
from ....study.build.gauging_plans import float_coefficients
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import CREEK, GROUND, ICE, INK, LEAF, RUST, figure, legend_above
from ..common import bold, needs

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....stream.gauging import Gauging
    from ....stream.weir_plate import WeirOption
    from ....study.build.gauging_plans import SaltPlan, WeirPlan

__all__ = [
    "plate_table",
    "float_table",
    "leak_table",
    "meter_table",
    "salt_table",
    "salt_words",
    "weir_figure",
    "weir_table",
    "weir_words",
]


@needs(Study.meter_ways, quiet=True)
def meter_table(
    study: Study, view: View, meter_ways: tuple[tuple[str, str, Gauging], ...]
) -> Table:
    """The current-meter sheet summed in both ways, and its uncertainty by rule and by how well
    neighbours agree."""
    told = {
        "ISO 748": "tables for the number of verticals and points",
        "interpolated variance": "how well neighbouring verticals predict each",
    }
    rows = [
        (
            panels,
            float(view.number(gauging.flow_m3s, "flow")),
            f"± {100 * gauging.uncertainty:.1f} %",
            told[uncertainty],
            series_text(
                [
                    f"{part} {100 * share:.1f} %"
                    for part, share in gauging.parts.items()
                    if share >= 0.0005
                ]
            ),
        )
        for panels, uncertainty, gauging in meter_ways
    ]
    return Table(
        (
            "panels",
            view.header("flow", "flow"),
            "one standard deviation",
            "uncertainty from",
            "its parts",
        ),
        rows,
        "The current-meter sheet, summed in each way, with the uncertainty of each",
    )


def leak_table(study: Study, view: View) -> Table | Words:
    """Whether a ditch leaks: two gaugings against their uncertainty."""
    if not study.leaks:
        return Words(
            "*No ditch or pipe is gauged at both ends. Two gaugings on one steady day, with "
            "the same bucket or meter, tell whether it leaks: write them under* "
            "`[[stream.reach]]` *of the site file.*"
        )
    rows = []
    for name, above, found in study.leaks:
        kind = "gain" if found.change_m3s > 0 else "loss"
        verdict = (
            f"a {kind}, beyond twice its uncertainty"
            if found.certain
            else "may be none: within twice its uncertainty"
        )
        rows.append(
            (
                name,
                float(view.number(above, "flow")),
                float(view.number(found.change_m3s, "flow")),
                f"± {view.text(found.uncertainty_m3s, 'flow', 2)}",
                f"{100 * found.share:+.0f} %",
                verdict,
            )
        )
    return Table(
        (
            "reach",
            view.header("flow above", "flow"),
            view.header("change", "flow"),
            "one standard deviation",
            "of the flow",
            "finding",
        ),
        rows,
        "Reaches gauged at both ends",
    )


# --- a weir plate ---------------------------------------------------------------------------


def _plate(option: WeirOption, view: View) -> str:
    if option.angle_rad is not None:
        return f"V-notch of {np.degrees(option.angle_rad):.0f}°"
    return (
        f"{'Cipolletti' if option.kind == 'cipolletti' else option.kind} crest of "
        f"{view.text(option.width_m, 'length', 2)}"
    )


def _remarks(option: WeirOption, view: View) -> str:
    return "; ".join(map(view.told, option.findings))


@needs(Study.expected_range, Study.weir_plan)
def weir_words(
    study: Study, view: View, expected_range: tuple[float, float], plan: WeirPlan
) -> Words:
    """Which weir plate to cut, what it costs in height, and what was assumed of the place."""
    (low, high) = expected_range
    plate = plan.design.chosen
    misfits = [each for each in plate.findings if each.level == "problem"]
    begin = (
        f"For {view.range(low, high, 'flow')} no weir plate fits this place; the nearest to it is a"
        if misfits
        else f"For {view.range(low, high, 'flow')}, cut a"
    )
    text = (
        f"{begin} {bold(_plate(plate, view))}: the water stands "
        f"{view.text(plate.head_m[0], 'diameter', 2)} above its "
        f"{'point' if plate.angle_rad is not None else 'crest'} at the least of these flows and "
        f"{view.text(plate.head_m[-1], 'diameter', 2)} at the greatest, and the pond "
        f"{view.text(plate.rise_m[-1], 'length', 2)} above the water below. A head read "
        f"{_head_error(study, view)} wrong makes {plain_number(100 * plate.head_error[0], 2)} % "
        f"of the flow at the low end and {plain_number(100 * plate.head_error[-1], 2)} % at the "
        "high end."
    )
    if misfits:
        text += (
            f" {capital('; '.join(map(view.told, misfits)))}. Give the place more room, gauge so "
            "large a creek by meter, salt or floats, or keep a weir plate for the lean weeks: "
            "write highest under [weir]."
        )
    elif plate.findings:
        clean = next((each for each in plan.design.options if not each.findings), None)
        text += f" Somewhere in this range it leaves the limits of its formula ({_remarks(plate, view)}); "
        text += (
            "no weir plate keeps them all here. "
            if clean is None
            else (
                f"a {_plate(clean, view)} keeps them, with ± {100 * clean.uncertainty[0]:.0f} % "
                "at the least flow. "
            )
        )
        text += "A deeper and wider pool mends most of that; so do two plates, one for each end."
    pool = (
        f"a pool {view.text(plan.channel_width_m, 'length', 2)} wide, the notch "
        f"{view.text(plan.crest_height_m, 'length', 2)} above its floor, and "
        f"{view.text(plan.available_rise_m, 'length', 2)} of room for the pond to rise"
    )
    text += f" Calculated for {pool}" + (
        f"; the {series_text(plan.assumed)} {'is' if len(plan.assumed) == 1 else 'are'} "
        f"assumed: measure and give {'it' if len(plan.assumed) == 1 else 'them'} under "
        "[weir]."
        if plan.assumed
        else "."
    )
    text += (
        " Bevel the edge to a blade, seal the plate at its sides, read the head well back of it "
        "(four times the head), and level the zero of the scale with the point or crest."
    )
    return Words(text)


def _head_error(study: Study, view: View) -> str:
    """How well the head over a weir plate is read: as given, or as assumed, rounded as one would say it."""
    given = study.site.weir.get("head_uncertainty")
    return view.text(0.002, "diameter", 1) if given is None else view.text(given, "diameter", 2)


@needs(Study.weir_plan, quiet=True)
def weir_table(study: Study, view: View, weir_plan: WeirPlan) -> Table:
    """The weir plates that were tried, the best first, no more than two of a kind."""
    chosen: list[Any] = []
    for option in weir_plan.design.options:
        if sum(each.kind == option.kind for each in chosen) < 2 and len(chosen) < 5:
            chosen.append(option)
    rows = []
    for option in chosen:
        heads = view.number(option.head_m[[0, -1]], "diameter")
        rows.append(
            (
                _plate(option, view),
                *(float(each) for each in heads),
                float(view.number(option.rise_m[-1], "length")),
                *(f"± {100 * option.uncertainty[at]:.0f} %" for at in (0, -1)),
                _remarks(option, view),
            )
        )
    unit = view.label("diameter")
    return Table(
        (
            "weir plate",
            f"head at the least flow [{unit}]",
            f"at the greatest [{unit}]",
            view.header("pond above the water below", "length"),
            "uncertainty at the least flow",
            "at the greatest",
            "remark",
        ),
        rows,
        "Weir plates for the flows expected, the best first",
    )


@needs(Study.weir_plan, quiet=True)
def plate_table(study: Study, view: View, weir_plan: WeirPlan) -> Table:
    """The weir plate to cut, flow by flow."""
    plate = weir_plan.design.chosen
    columns = [
        view.number(values, kind)
        for values, kind in (
            (plate.flow_m3s, "flow"),
            (plate.head_m, "diameter"),
            (plate.rise_m, "length"),
        )
    ]
    rows = [
        (
            *(float(column[at]) for column in columns),
            f"{100 * plate.head_error[at]:.1f} %",
            f"± {100 * plate.uncertainty[at]:.1f} %",
        )
        for at in range(len(plate.flow_m3s))
    ]
    error = _head_error(study, view)
    return Table(
        (
            view.header("flow", "flow"),
            view.header("head", "diameter"),
            view.header("pond above the water below", "length"),
            f"error of flow from {error} of head",
            "uncertainty with the plate's own",
        ),
        rows,
        f"The {_plate(plate, view)}, flow by flow",
    )


@needs(Study.weir_plan, quiet=True)
def weir_figure(study: Study, view: View, plan: WeirPlan) -> Picture:
    """The plate seen from upstream, to scale, and the uncertainty of the best weir plates over the flows."""
    plate = plan.design.chosen
    with figure(7.4, 3.4, 1, 2, width_ratios=(1, 1.15)) as (made, (front, uncertainty)):
        _draw_plate(front, plan, plate, view)
        shown = list(
            {each.kind: each for each in reversed(plan.design.options)}.values()
        )  # the best of each kind
        shown.sort(key=plan.design.options.index)
        for option, colour, style in zip(
            shown, (CREEK, RUST, LEAF), ("-", (0, (5, 2)), (0, (1, 1.5)))
        ):
            uncertainty.plot(
                view.number(option.flow_m3s, "flow"),
                100 * option.uncertainty,
                color=colour,
                linestyle=style,
                marker="o",
                markersize=3,
                label=_plate(option, view),
            )
        _plain(uncertainty)
        uncertainty.set(
            xlabel=view.header("flow", "flow"), ylabel="one standard deviation [%]", ylim=(0, None)
        )
        uncertainty.legend(loc="upper right")
    return Picture(
        made,
        (
            f"Left: the {_plate(plate, view)} from upstream, to scale, with the water at the "
            "least and the greatest flow expected. Right: uncertainty of the best weir plates "
            "against flow."
        ),
    )


def _draw_plate(axes: Axes, plan: WeirPlan, plate: WeirOption, view: View) -> None:
    """The plate with its opening cut out, its point or crest at height zero."""
    side = {"v-notch": np.tan((plate.angle_rad or 0.0) / 2), "cipolletti": 0.25}.get(
        plate.kind, 0.0
    )
    base, pool, drop = (plate.width_m or 0.0) / 2, plan.channel_width_m / 2, plan.crest_height_m
    top = 1.15 * float(plate.head_m[-1])
    opening = np.array([(-base - side * top, top), (-base, 0), (base, 0), (base + side * top, top)])
    outline = np.vstack([[(-pool, -drop), (-pool, top)], opening, [(pool, top), (pool, -drop)]])
    axes.fill(
        *(view.number(each, "length") for each in outline.T), color=GROUND, alpha=0.75, linewidth=0
    )
    for head, colour, name in (
        (plate.head_m[-1], ICE, "greatest flow"),
        (plate.head_m[0], CREEK, "least flow"),
    ):
        water = np.array(
            [(-base - side * head, head), (-base, 0), (base, 0), (base + side * head, head)]
        )
        axes.fill(
            *(view.number(each, "length") for each in water.T),
            color=colour,
            linewidth=0,
            label=name,
        )
    axes.set(
        xlabel=view.header("across", "length"), ylabel=view.header("above point or crest", "length")
    )
    axes.set_aspect("equal")
    legend_above(axes)


def _plain(axes: Axes) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator

    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(base=10, subs=(1, 2, 5)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.6g}"))
    axes.xaxis.set_minor_formatter(FuncFormatter(lambda value, _: ""))
    axes.tick_params(axis="x", labelcolor=INK)


# --- salt and floats ------------------------------------------------------------------------


_MANY_KG = 3.0  # above it salt is weighed in kilograms or pounds


@needs(Study.salt_plan)
def salt_table(study: Study, view: View, plan: SaltPlan) -> Table:
    """Salt for a low, a middle and a high flow."""
    rows = []
    large = plan.doses[-1].mass_kg > _MANY_KG
    unit, factor = (
        (("kg", 1.0) if large else ("g", 1000.0))
        if view.system == "metric"
        else ("lb", 1 / 0.45359237)
        if large
        else ("oz", 16 / 0.45359237)
    )
    for flow, dose in zip(plan.flow_m3s, plan.doses):
        remark = "; ".join(view.told(each) for each in dose.findings if each.level != "note")
        rows.append(
            (
                float(view.number(flow, "flow")),
                float(factor * dose.mass_kg),
                round(1000 * dose.peak_kgm3),
                round(1000 * dose.chloride_kgm3),
                remark or "below the limits for fish and for taste once it is mixed",
            )
        )
    return Table(
        (
            view.header("flow expected", "flow"),
            f"salt [{unit}]",
            "salt at the peak [mg/L]",
            "chloride [mg/L]",
            "remark",
        ),
        rows,
        "Salt that lifts the conductivity by 100 µS/cm at the probe",
    )


@needs(Study.salt_plan, quiet=True)
def salt_words(study: Study, view: View, plan: SaltPlan) -> Words:
    """Where to pour, where to stand, and whom the salt could harm."""
    source = (
        "as long as in this creek's salt sheet"
        if plan.from_sheet
        else "a usual length; a short, fast reach has less"
    )
    text = f"Calculated with a pulse of {plan.passage_s:.0f} s (area over peak), {source}. "
    if plan.widths_m is None:
        text += (
            "Give the width of the water, and it is told here how far below the salt the probe "
            "must stand; 25 widths is the rule for a rough creek (common practice). "
        )
    else:
        text += (
            "Stand the probe at least 25 widths below the salt, "
            f"**{view.text(plan.widths_m, 'length', 2)}** (common practice for a rough creek). "
        )
        if plan.middle_m is None:
            text += "With depth and slope of the reach the length of even mixing could be worked out too. "
        else:
            text += (
                "At the greatest of these flows a reach without pools mixes in about "
                f"{view.text(plan.middle_m, 'length', 2)} from salt poured in the middle and "
                f"{view.text(plan.bank_m, 'length', 2)} from a bank, good to about half as much "
                "again. "
            )
    text += (
        "Two probes, one near each bank, show whether it has mixed. Dissolve the salt first and "
        "pour it in at once, in the middle. Chloride above 860 mg/L for an hour or 230 mg/L for "
        "days harms water life, and above 250 mg/L it is tasted in drinking water (from memory; "
        "local rules come first): above the mixing length the water is saltier by far, so keep "
        "clear of spawning beds and of any intake in use."
    )
    return Words(text)


def float_table(study: Study, view: View) -> Table:
    """What to multiply the speed of a float by, for each bed and depth."""
    foot = 0.3048
    depths = (
        (0.1, 0.2, 0.3, 0.5, 1.0)
        if view.system == "metric"
        else (0.25 * foot, 0.5 * foot, 1.0 * foot, 2.0 * foot, 3.0 * foot)
    )
    shown = [f"{float(view.number(each, 'stage')):.2g}" for each in depths]
    rows = [
        (bed, *("stones reach through" if each is None else f"{each:.2f}" for each in found))
        for bed, found in float_coefficients(depths).items()
    ]
    return Table(
        ("bed", *(f"{each} {view.label('stage')} deep" for each in shown)),
        rows,
        "Floats: mean over surface speed, for floats spread over the whole width; good to about 10 %",
    )
