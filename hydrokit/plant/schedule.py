"""The jet schedule: which jets should stand open at which flow, and where to change up and down.

>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
>>> for band in jet_schedule(plant).bands[1:]:
...     print(f"{band.jets} jets from {1000 * band.from_m3s:.1f} L/s; one fewer when the gauge falls below {band.close_pa / 1e5:.1f} bar")
2 jets from 5.3 L/s; one fewer when the gauge falls below 3.0 bar
3 jets from 8.6 L/s; one fewer when the gauge falls below 3.5 bar
4 jets from 11.5 L/s; one fewer when the gauge falls below 3.6 bar
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..water import GRAVITY
from ..works.solve import bracketed_root

if TYPE_CHECKING:
    from ..units import Number
    from .chain import Chain
    from .curve import PlantCurve

__all__ = ["LEAST_GAIN", "JetBand", "Schedule", "jet_schedule"]

LEAST_GAIN = (
    0.05  # of power, below which nobody walks to the valves; sets the dead band; a judgement
)


@dataclass(frozen=True, eq=False)
class JetBand:
    """The flows at which one number of jets gives most power. SI; flows are those the creek offers.

    Parameters
    ----------
    jets : int
        Jets or units open.
    from_m3s, to_m3s : float
        Best from here to there; the last reaches to infinity.
    down_m3s : float
        Below it the fewer jets give more by the least gain: change down there. NaN for the first.
    up_m3s : float
        Above it the next give more by the least gain, or are fed: change up there. NaN for the last.
    fed_m3s : float
        Flow at which these jets are fed; NaN where the way to them never lets that much through.
    used_m3s, power_w, head_m : float
        Through the jets, at the loads and at the jets with water to spare.
    pressure_pa : float
        At the jets then, which a gauge there shows.
    close_pa : float
        At the jets at the lower end of the band, where they are under-fed: below it fewer give more.
        NaN for the first, and for machines that keep their head.
    """

    jets: int
    from_m3s: float
    to_m3s: float
    _: KW_ONLY
    down_m3s: float
    up_m3s: float
    fed_m3s: float
    used_m3s: float
    power_w: float
    head_m: float
    pressure_pa: float
    close_pa: float


@dataclass(frozen=True, eq=False)
class Schedule:
    """Bands of flow from low to high, with the curve of power they rest on.

    Parameters
    ----------
    bands : tuple of JetBand
    curve : PlantCurve
        With the best opening at every flow.
    fixed : bool
        Whether the jets have one fixed bore. Needles and guide vanes follow the water by themselves:
        their bands tell how many units to run.
    gain : float
        Share of power below which a change is not worth the walk.
    """

    bands: tuple[JetBand, ...]
    curve: PlantCurve
    fixed: bool
    _: KW_ONLY
    gain: float

    def jets_si(self, flow_m3s: Number) -> Number:
        """Jets to open at flows the creek offers; 0 where nothing runs."""
        return self.curve.jets_si(flow_m3s)

    def band_of(self, jets: int) -> JetBand | None:
        """The band of a number of jets; None where that number is never best."""
        return next((band for band in self.bands if band.jets == jets), None)


def jet_schedule(chain: Chain, month: int | None = None, gain: float = LEAST_GAIN) -> Schedule:
    """Which jets give most power at each flow, and where to change.

    Parameters
    ----------
    chain : Chain
        Its habit for the jets is put aside.
    month : int, optional
        State of the parts; none: all clean.
    gain : float
        Least share of power for which the jets are changed. It makes the dead band between
        changing up and changing down.

    Returns
    -------
    Schedule

    Raises
    ------
    HydrokitError
        Fixed jets of several bores (their numbers alone do not say which), a negative gain.

    Notes
    -----
    Jets that are fed keep their power however much more comes; one more, under-fed, gives power with
    the cube of the flow, and less where the speed of the runner is held. They are equal at the end
    of a band. Changing down is read off the gauge, since under-fed jets lower it; changing up
    cannot be, since fed jets hold it still: there the creek's stage tells, or the pond's spill.
    """
    if gain < 0:
        raise HydrokitError(f"jet_schedule(): gain must be 0 or more, got {gain:g}")
    bores = getattr(chain.jets, "diameters_m", ())
    if len(set(bores)) > 1:
        raise HydrokitError(
            f"{chain.jets.name}: a schedule by number needs jets of one bore, these have {len(set(bores))}"
        )
    free = chain.replace(schedule=())
    curve, fixed = free.curve(month), bool(bores)
    jets = curve.jets_open
    starts = np.flatnonzero(np.diff(jets, prepend=-1))
    starts = starts[jets[starts] > 0]
    ends = np.append(curve.flow_m3s[starts[1:]], np.inf)
    weight = chain.density_kgm3 * GRAVITY
    bands = []
    for place, (start, end) in enumerate(zip(starts, ends)):
        count, low = int(jets[start]), float(curve.flow_m3s[start])
        running = free.running(month, count)
        full = running.at_si(np.inf)
        fed = float(running.passage.needs_si(np.max(running.full_m3s)))
        enough = np.max(running.full_m3s) <= running.capacity_m3s * (1 + 1e-12)
        before = int(jets[starts[place - 1]]) if place else 0
        after = int(jets[starts[place + 1]]) if place + 1 < len(starts) else 0
        bands.append(
            JetBand(
                count,
                low,
                float(end),
                down_m3s=_down(free, month, before, count, low, gain),
                up_m3s=_up(free, month, count, after, float(end), gain),
                fed_m3s=fed if enough else np.nan,
                used_m3s=float(full.used_m3s),
                power_w=float(full.power_w),
                head_m=float(full.net_head_m),
                pressure_pa=weight * float(full.net_head_m),
                close_pa=weight * float(curve.net_head_m[start]) if fixed and before else np.nan,
            )
        )
    return Schedule(tuple(bands), curve, fixed, gain=gain)


def _down(
    chain: Chain, month: int | None, fewer: int, count: int, at_m3s: float, gain: float
) -> float:
    """Flow below which the fewer give so much more; the end of the band where they never do."""
    if not fewer:
        return np.nan
    less, more = chain.running(month, fewer), chain.running(month, count)
    found = float(
        bracketed_root(
            lambda flow: less.at_si(flow).power_w - (1 + gain) * more.at_si(flow).power_w,
            0.5 * at_m3s,
            at_m3s,
            steps=60,
        )
    )
    return found if np.isfinite(found) else at_m3s


def _up(
    chain: Chain, month: int | None, count: int, more: int, at_m3s: float, gain: float
) -> float:
    """Flow above which the next give so much more; where they are fed, if they never do."""
    if not more:
        return np.nan
    less, next_up = chain.running(month, count), chain.running(month, more)
    fed = float(
        next_up.passage.needs_si(min(float(np.max(next_up.full_m3s)), float(next_up.capacity_m3s)))
    )
    if fed <= at_m3s:
        return at_m3s
    found = float(
        bracketed_root(
            lambda flow: next_up.at_si(flow).power_w - (1 + gain) * less.at_si(flow).power_w,
            at_m3s,
            fed,
            steps=60,
        )
    )
    return found if np.isfinite(found) else fed
