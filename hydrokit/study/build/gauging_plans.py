"""How to gauge the creek next: a weir or a salt dose that suits it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .record import flowing_days, lean_flow

__all__ = ["SaltPlan", "WeirPlan", "expected_range", "salt_plan", "weir_plan"]


# --- how to gauge it next -------------------------------------------------------------------


def expected_range(study: Any) -> tuple[float, float] | None:
    """Flows a gauging station of this creek must read: nearly all days but floods; None where nothing is known."""
    low, high = study.site["weir"].get("lowest"), study.site["weir"].get("highest")
    if low is not None and high is not None and low >= high:
        raise study.folder.wrong("[weir] lowest", "it must be below highest")
    seen = study.site["stream"].get("lowest_known_flow")
    lows, highs = [] if not seen else [seen], []
    if study.duration is not None:
        lows.append(lean_flow(study))
        highs.append(float(flowing_days(study).flow_at_si(0.10)))
    else:
        known = (
            [each.flow_m3s for name, each in study.field_sheets.items() if name != "flood marks"]
            if study.gaugings is None
            else study.gaugings.flow_m3s
        )
        lows += [_LOWER * float(each) for each in known]
        highs += [_HIGHER * float(each) for each in known]
    # An end that is told is kept; the other then lies at least so far from it, as on a spring that never varies.
    if (low is None and not lows) or (high is None and not highs):
        return None
    if low is None:
        low = min(lows if high is None else [*lows, _LOWER * high])
    return low, max([*highs, _HIGHER * low]) if high is None else high


_LOWER, _HIGHER = 0.7, 1.5  # of a gauged flow: what must be read too, common practice


@dataclass(frozen=True, eq=False)
class WeirPlan:
    """Boards for the flows expected, and what the place was taken to be.

    Parameters
    ----------
    design : WeirDesign
    channel_width_m, crest_height_m, available_rise_m : float
    assumed : tuple of str
        Which of these the site file does not say.
    """

    design: Any
    channel_width_m: float
    crest_height_m: float
    available_rise_m: float
    assumed: tuple[str, ...]


_PLACE = {
    "channel_width": 1.5,
    "crest_height": 0.3,
    "available_rise": 0.5,
}  # m, of a small pool, where nothing is said


def weir_plan(study: Any) -> WeirPlan | None:
    """Which board to cut for the range expected here, or None."""
    if study.expected_range is None:
        return None
    from ...stream.weir_board import design_weir

    board, place = study.site["weir"], dict(_PLACE)
    width = _reach(study)[0]
    given = ({} if width is None else {"channel_width": width}) | {
        name: board[name] for name in _PLACE if name in board
    }
    place |= given
    design = design_weir.si(
        *study.expected_range,
        **place,
        **({"head_uncertainty": board["head_uncertainty"]} if "head_uncertainty" in board else {}),
    )
    return WeirPlan(
        design,
        place["channel_width"],
        place["crest_height"],
        place["available_rise"],
        tuple(name.replace("_", " ") for name in _PLACE if name not in given),
    )


def _reach(study: Any) -> tuple[float | None, float | None]:
    """Width and mean depth of the water where it is gauged, from the site file, else from the meter's sheet."""
    stream, sheet = study.site["stream"], study.field_sheets.get("current meter")
    width = stream.get("width", None if sheet is None else sheet.details["width_m"])
    depth = stream.get(
        "depth", None if sheet is None else sheet.details["area_m2"] / sheet.details["width_m"]
    )
    return width or None, depth or None


@dataclass(frozen=True, eq=False)
class SaltPlan:
    """Salt for the flows expected, and how far below it the probe stands.

    Parameters
    ----------
    flow_m3s : ndarray
    doses : tuple of SaltDose
    passage_s : float
        Area of the pulse over its peak that was reckoned with.
    from_sheet : bool
        Whether that is what the salt sheet of this creek showed.
    width_m : float or None
    middle_m, bank_m : float or None
        Length in which an even reach mixes at the highest of the flows, by where the salt goes in.
    widths_m : float or None
        So many widths as a rough creek asks for.
    """

    flow_m3s: np.ndarray
    doses: tuple[Any, ...]
    passage_s: float
    from_sheet: bool
    width_m: float | None
    middle_m: float | None
    bank_m: float | None
    widths_m: float | None


_USUAL_PASSAGE_S = 120.0


def salt_plan(study: Any) -> SaltPlan | None:
    """Salt for a low, a middle and a high flow, or None."""
    if study.expected_range is None:
        return None
    from ...stream.mixing import WIDTHS_TO_MIX, mixing_length
    from ...stream.salt import salt_dose

    flows, sheet = np.geomspace(*study.expected_range, 3), study.field_sheets.get("salt")
    passage = (
        _USUAL_PASSAGE_S
        if sheet is None
        else float(sheet.details.get("passage_s", _USUAL_PASSAGE_S))
    )
    width, depth = _reach(study)
    slope = study.site["stream"].get("slope")
    lengths = (None, None)
    if None not in (width, depth, slope):
        lengths = tuple(
            float(mixing_length.si(flows[-1], width, depth, slope, where))
            for where in ("middle", "bank")
        )
    return SaltPlan(
        flows,
        tuple(salt_dose.si(flow, passage=passage) for flow in flows),
        passage,
        sheet is not None and "passage_s" in sheet.details,
        width,
        *lengths,
        None if width is None else WIDTHS_TO_MIX * width,
    )
