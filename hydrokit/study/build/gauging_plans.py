"""What the gaugings span, and how to gauge the creek next: a weir plate or a salt dose that suits
it, floats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from ...site import field_visits
from .record import flowing_days, lean_flow

if TYPE_CHECKING:
    from ...stream.salt import SaltDose
    from ...stream.weir_plate import WeirDesign
    from ..study import Study

__all__ = [
    "GaugedFlows",
    "SaltPlan",
    "WeirPlan",
    "expected_range",
    "float_coefficients",
    "gauged_flows",
    "salt_plan",
    "weir_plan",
]


# --- what was gauged ------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class GaugedFlows:
    """What the gaugings span.

    Parameters
    ----------
    lowest_m3s, highest_m3s : float
    lowest_on : datetime.date
    uncertainty : float
        Relative standard deviation of the median gauging.
    below_deciding, within_deciding : int
        Gaugings below the flows that decide the energy, and among them; nought where these are not known.
    """

    lowest_m3s: float
    highest_m3s: float
    lowest_on: date
    uncertainty: float
    below_deciding: int
    within_deciding: int


def gauged_flows(study: Study) -> GaugedFlows | None:
    """What the gaugings span, or None without any."""
    gauged, deciding = study.gaugings, study.deciding_range
    if gauged is None:
        return None
    flow = gauged.flow_m3s
    low, high = (np.nan, np.nan) if deciding is None else deciding
    return GaugedFlows(
        lowest_m3s=float(flow.min()),
        highest_m3s=float(flow.max()),
        lowest_on=np.datetime64(gauged.date[int(np.argmin(flow))], "D").item(),
        uncertainty=float(np.median(gauged.uncertainty)),
        below_deciding=int(np.sum(flow < low)),
        within_deciding=int(np.sum((flow >= low) & (flow <= high))),
    )


def float_coefficients(depths_m: Sequence[float]) -> dict[str, tuple[float | None, ...]]:
    """Mean over surface speed for each bed at each depth; None where the stones reach through."""
    from ...stream.floats import BEDS, float_coefficient

    return {
        bed: tuple(
            None if depth < rough else float(float_coefficient.si(depth, bed)) for depth in depths_m
        )
        for bed, rough in BEDS.items()
    }


# --- how to gauge it next -------------------------------------------------------------------


def expected_range(study: Study) -> tuple[float, float] | None:
    """Flows a gauging station of this creek must read: nearly all days but floods; None where
    nothing is known."""
    low, high = study.site.weir.lowest, study.site.weir.highest
    if low is not None and high is not None and low >= high:
        raise study.folder.wrong("[weir] lowest", "it must be below highest")
    seen = study.site.stream.lowest_known_flow
    lows, highs = [] if not seen else [seen], []
    flowing = flowing_days(study)
    if flowing is not None:
        lows.append(lean_flow(study))
        highs.append(float(flowing.flow_at_si(0.10)))
    else:
        known = (
            [each.flow_m3s for name, each in study.field_sheets.items() if name != "flood marks"]
            if study.gaugings is None
            else study.gaugings.flow_m3s
        )
        lows += [_LOWER * float(each) for each in known]
        highs += [_HIGHER * float(each) for each in known]
    # An end that is told is kept; the other then lies at least so far from it, as on a spring that
    # never varies.
    if (low is None and not lows) or (high is None and not highs):
        return None
    if low is None:
        low = min(lows if high is None else [*lows, _LOWER * high])
    return low, max([*highs, _HIGHER * low]) if high is None else high


_LOWER, _HIGHER = 0.7, 1.5  # of a gauged flow: what must be read too, common practice


@dataclass(frozen=True, eq=False)
class WeirPlan(Result):
    """Weir plates for the flows expected, and what the place was taken to be.

    Parameters
    ----------
    design : WeirDesign
    channel_width_m, crest_height_m, available_rise_m : float
    assumed : tuple of str
        Which of these the site file does not say.
    """

    design: WeirDesign
    channel_width_m: float
    crest_height_m: float
    _: KW_ONLY
    available_rise_m: float
    assumed: tuple[str, ...]


_PLACE = {
    "channel_width": 1.5,
    "crest_height": 0.3,
    "available_rise": 0.5,
}  # m, of a small pool, where nothing is said


def weir_plan(study: Study) -> WeirPlan | None:
    """Which weir plate to cut for the range expected here, or None."""
    if study.expected_range is None:
        return None
    from ...stream.weir_plate import design_weir

    plate, place = study.site.weir, dict(_PLACE)
    width = _reach(study)[0]
    given = ({} if width is None else {"channel_width": width}) | {
        name: plate[name] for name in _PLACE if name in plate
    }
    place |= given
    design = design_weir.si(
        *study.expected_range,
        **place,
        **({"head_uncertainty": plate["head_uncertainty"]} if "head_uncertainty" in plate else {}),
    )
    return WeirPlan(
        design,
        place["channel_width"],
        place["crest_height"],
        available_rise_m=place["available_rise"],
        assumed=tuple(name.replace("_", " ") for name in _PLACE if name not in given),
    )


def _reach(study: Study) -> tuple[float | None, float | None]:
    """Width and mean depth of the water where it is gauged, from the site file, else from the
    meter's sheet."""
    stream, sheet = study.site.stream, field_visits.last(study, "current meter")
    width, depth = stream.width, stream.depth
    if sheet is not None:
        seen = sheet.details["width_m"]
        width = seen if width is None else width
        depth = sheet.details["area_m2"] / seen if depth is None else depth
    return width or None, depth or None


@dataclass(frozen=True, eq=False)
class SaltPlan(Result):
    """Salt for the flows expected, and how far below it the probe stands.

    Parameters
    ----------
    flow_m3s : ndarray
    doses : tuple of SaltDose
    passage_s : float
        Area of the pulse over its peak that was counted with.
    from_sheet : bool
        Whether that is what the salt sheet of this creek showed.
    width_m : float or None
    middle_m, bank_m : float or None
        Length in which an even reach mixes at the highest of the flows, by where the salt goes in.
    widths_m : float or None
        So many widths as a rough creek asks for.
    """

    flow_m3s: np.ndarray
    doses: tuple[SaltDose, ...]
    passage_s: float
    _: KW_ONLY
    from_sheet: bool
    width_m: float | None
    middle_m: float | None
    bank_m: float | None
    widths_m: float | None


_USUAL_PASSAGE_S = 120.0


def salt_plan(study: Study) -> SaltPlan | None:
    """Salt for a low, a middle and a high flow, or None."""
    if study.expected_range is None:
        return None
    from ...stream.mixing import WIDTHS_TO_MIX, mixing_length
    from ...stream.salt import salt_dose

    flows, sheet = np.geomspace(*study.expected_range, 3), field_visits.last(study, "salt")
    passage = (
        _USUAL_PASSAGE_S
        if sheet is None
        else float(sheet.details.get("passage_s", _USUAL_PASSAGE_S))
    )
    width, depth = _reach(study)
    slope = study.site.stream.slope
    middle: float | None = None
    bank: float | None = None
    if None not in (width, depth, slope):
        middle, bank = (
            float(mixing_length.si(flows[-1], width, depth, slope, where))
            for where in ("middle", "bank")
        )
    return SaltPlan(
        flows,
        tuple(salt_dose.si(flow, passage=passage) for flow in flows),
        passage,
        from_sheet=sheet is not None and "passage_s" in sheet.details,
        width_m=width,
        middle_m=middle,
        bank_m=bank,
        widths_m=None if width is None else WIDTHS_TO_MIX * width,
    )
