"""The gauge card: what gauge and meters should show, jet by jet, and from where on to walk up.

From the commissioned baseline, or, where nothing was read yet, from the plant as planned with its
wider uncertainties.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission
>>> from hydrokit.running.reading import reading
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> whole = card(commission(seen, FixedJets((0.01905,) * 4, 0.95)))
>>> all_open = whole.rows[-1]
>>> print(f"four jets: {all_open.pressure.to('psi'):.0f~P}; walk up below {all_open.alarm.to('psi'):.0f~P}")
four jets: 46 psi; walk up below 43 psi
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any, Callable

import numpy as np

from ..errors import Finding, HydrokitError
from ..plant.chain import Chain
from ..result import Result
from ..units import Q_, Quantity
from ..water import GRAVITY
from ..works.solve import bracketed_root
from .baseline import Baseline
from .epochs import Change
from .observation import Noise
from .visits import alarm_pressure

if TYPE_CHECKING:
    from ..plant.operation import Running

__all__ = ["Card", "Row", "card", "expected", "order_closing", "order_opening"]


def order_opening(
    count: int = 2, thing: str = "jet", spills: str = "the forebay spills"
) -> tuple[str, ...]:
    """How to open: so many jets, or machines, while there is water to spare.

    >>> order_opening(1)[2]
    'Open the jet slowly; load first, so that the runner cannot race.'
    """
    first = (
        f"Open the {thing} slowly"
        if count == 1
        else f"Open the first {thing} slowly, then the next, each only when the needle is steady"
    )
    return (
        f"See that {spills}; {'the ' + thing if count == 1 else f'all {thing}s'} shut; nobody "
        "near the runner.",
        (
            "Open the valve at the foot a crack; wait until pipe and gauge have settled, then "
            "open it to its stop."
        ),
        f"{first}; load first, so that the runner cannot race.",
        f"After each see whether {spills} still; when not, shut the last again.",
    )


def order_closing(count: int = 2, thing: str = "jet") -> tuple[str, ...]:
    """How to close."""
    first = (
        f"Close the {thing}"
        if count == 1
        else f"Close the {thing}s one by one, the last opened first"
    )
    return (
        f"{first}, no faster than stated below.",
        "Take the load off when the runner has slowed; then close the valve at the foot, as slowly.",
        "Never shut a valve or cap against a running pipe: the whole column of water must be stopped.",
    )


@dataclass(frozen=True, eq=False)
class Row:
    """What should be seen with so many jets open. SI; bands hold one healthy reading with the card's chance.

    Parameters
    ----------
    jets : int
    name : str
        Of the machines that run, where they differ; else empty.
    pressure_pa, pressure_low_pa, pressure_high_pa : float
        On the gauge as it hangs, its zero error included.
    flow_m3s, flow_low_m3s, flow_high_m3s : float
    power_w, power_low_w, power_high_w : float
    amps, amps_low, amps_high : float
        NaN where the voltage is not known.
    alarm_pa : float
        Below it: walk up, see :func:`~hydrokit.running.visits.alarm_pressure`.
    close_pa : float
        Below it one jet less gives more watts; NaN where there is none less.
    """

    jets: int
    name: str
    pressure_pa: float
    _: KW_ONLY
    pressure_low_pa: float
    pressure_high_pa: float
    flow_m3s: float
    flow_low_m3s: float
    flow_high_m3s: float
    power_w: float
    power_low_w: float
    power_high_w: float
    amps: float
    amps_low: float
    amps_high: float
    alarm_pa: float
    close_pa: float

    @property
    def half_band(self) -> float:
        """Half the band of the pressure, as a share of it."""
        return (self.pressure_high_pa - self.pressure_low_pa) / (2 * self.pressure_pa)

    @property
    def pressure(self) -> Quantity:
        return Q_(self.pressure_pa, "Pa")

    @property
    def alarm(self) -> Quantity:
        return Q_(self.alarm_pa, "Pa")

    @property
    def flow(self) -> Quantity:
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def power(self) -> Quantity:
        return Q_(self.power_w, "W")


@dataclass(frozen=True, eq=False)
class Card(Result):
    """The gauge card. SI.

    Parameters
    ----------
    shut_off_pa, shut_off_low_pa, shut_off_high_pa : float
        With everything shut.
    shut_alarm_pa : float
        Below it, with everything shut: a leak above the gauge, the water above too low, or the gauge.
    rows : tuple of Row
        By jets open, one to all.
    volts : float
        NaN where not known.
    level : float
        Of the bands.
    commissioned : bool
        Whether it rests on readings of the healthy plant.
    days : tuple of str
        On which those were made; empty where that is not known.
    changes : tuple of Change
        What was changed at the plant since.
    gauge_height_m, zero_error_pa : float
        As counted in the pressures.
    closing_s : float
        Time to take over the whole travel of a valve or needle; NaN where not known.
    findings : tuple of Finding
    """

    shut_off_pa: float
    shut_off_low_pa: float
    shut_off_high_pa: float
    _: KW_ONLY
    shut_alarm_pa: float
    rows: tuple[Row, ...]
    volts: float
    level: float
    commissioned: bool
    gauge_height_m: float
    zero_error_pa: float
    closing_s: float
    findings: tuple[Finding, ...]
    days: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def on(self) -> str:
        """The day of commissioning, or the first and last, behind a verb; empty where none is known."""
        if not self.days:
            return ""
        first, last = self.days[0], self.days[-1]
        return f" on {first}" if first == last else f" from {first} to {last}"

    @property
    def rests(self) -> str:
        """What the card rests on, with its date."""
        return f"as commissioned{self.on}" if self.commissioned else "as planned, not yet read"

    @property
    def changed(self) -> str:
        """What was changed since, as sentences; empty where nothing was."""
        told = ", ".join(f"the {each.what} on {each.day}" for each in self.changes)
        return (
            f"Changed since then: {told}. The bands are wider by what such a change usually "
            "does; commission the plant again and mark the day."
            if told
            else ""
        )


def card(
    baseline: Baseline,
    noise: Noise = Noise(),
    level: float = 0.9,
    volts: float = np.nan,
    amps_per_va: float = 1.0,
    gauge_height_m: float | None = None,
    zero_error_pa: float = 0.0,
    closing_s: float = np.nan,
    sent: Callable | None = None,
    sent_w: np.ndarray | None = None,
) -> Card:
    """Make the card of a plant.

    Parameters
    ----------
    baseline : Baseline
        From :func:`~hydrokit.running.commission.commission`, or :func:`expected`.
    noise : Noise
        Of one reading; with the baseline's own uncertainty it makes the bands.
    level : float
    volts : float, optional
        At which the plant is kept.
    amps_per_va : float
        Amperes for each watt at one volt: 1/power factor, over √3 for three phases.
    gauge_height_m : float, optional
        Of the gauge over the jets where it now hangs; as at commissioning when not given.
    zero_error_pa : float
        What it shows with no pressure on it.
    closing_s : float, optional
        Time to take over the whole travel of a valve, see :func:`hydrokit.works.pressures.valve_time`.
    sent : callable, optional
        From the plant's watts to those where the volts are; the same watts when not given.
    sent_w : ndarray, optional
        Watts where the volts are, by jets open, of a plant known by its parts: more than those at the
        loads tell where something behind passes no more than its rating.

    Returns
    -------
    Card

    Raises
    ------
    HydrokitError
        A level that is no chance between 0 and 1.
    """
    from scipy.special import ndtri, stdtrit

    if not 0 < level < 1:
        raise HydrokitError(
            f"card(): level is the chance that a reading falls in the band, between 0 and 1; got {level:g}"
        )
    weight = baseline.plant.density_kgm3 * GRAVITY
    commissioned_m = baseline.estimate["head"] - baseline.shut_off_pa / weight
    height = commissioned_m if gauge_height_m is None else gauge_height_m
    moved = zero_error_pa - weight * (height - commissioned_m)
    few = np.isfinite(noise.degrees)  # scatter that is uncertain itself makes wider bands
    reach = float(stdtrit(noise.degrees, 0.5 + level / 2) if few else ndtri(0.5 + level / 2))
    scatter = noise.pressure * baseline.shut_off_pa
    close = _close_below(baseline, weight)
    rows = []
    for place in np.flatnonzero(np.isfinite(baseline.pressure_pa)):
        pressure, spread = (
            baseline.pressure_pa[place] + moved,
            float(np.hypot(baseline.pressure_sd_pa[place], scatter)),
        )
        flow, flow_sd = baseline.flow_m3s[place], baseline.flow_sd_m3s[place]
        power, power_sd = (
            baseline.power_w[place],
            float(np.hypot(baseline.power_sd_w[place], noise.power * baseline.power_w[place])),
        )
        # no meter shows less than nothing
        watts = np.maximum([power, power - reach * power_sd, power + reach * power_sd], 0.0)
        sends = watts if sent is None else sent(watts)
        if sent_w is not None:
            sends = np.maximum(sends + sent_w[place] - sends[0], 0.0)
        amps = sends / volts * amps_per_va
        rows.append(
            Row(
                jets=int(baseline.jets[place]),
                name=baseline.names[place] if baseline.names else "",
                pressure_pa=float(pressure),
                pressure_low_pa=max(float(pressure - reach * spread), 0.0),
                pressure_high_pa=float(pressure + reach * spread),
                flow_m3s=float(flow),
                flow_low_m3s=max(float(flow - reach * flow_sd), 0.0),
                flow_high_m3s=float(flow + reach * flow_sd),
                power_w=float(watts[0]),
                power_low_w=float(watts[1]),
                power_high_w=float(watts[2]),
                amps=float(amps[0]),
                amps_low=float(amps[1]),
                amps_high=float(amps[2]),
                alarm_pa=float(alarm_pressure.si(pressure, spread / pressure)),
                close_pa=float(close[place] + moved),
            )
        )
    shut, spread = baseline.shut_off_pa + moved, float(np.hypot(baseline.shut_off_sd_pa, scatter))
    return Card(
        shut,
        shut - reach * spread,
        shut + reach * spread,
        shut_alarm_pa=float(alarm_pressure.si(shut, spread / shut)),
        rows=tuple(rows),
        volts=volts,
        level=level,
        commissioned=bool(baseline.residuals),
        gauge_height_m=height,
        zero_error_pa=zero_error_pa,
        closing_s=closing_s,
        findings=tuple(_findings(baseline, closing_s)),
        days=tuple(day for day in baseline.days if day),
        changes=baseline.changes,
    )


def _close_below(baseline: Baseline, weight: float) -> np.ndarray:
    """Gauge pressure at each number of jets below which one jet less gives more.

    Where under-fed jets give what one jet less, fed, gives, by the same chain as the jet plan.
    """
    net, power = baseline.net_head_m, baseline.power_w
    plant, found = baseline.plant, np.full(len(net), np.nan)
    if baseline.names or plant.jets.openings()[0].area_m2 is None:
        return found  # machines that follow the water are not under-fed
    for place in range(1, len(net)):
        if not np.isfinite(power[place - 1 : place + 1]).all():
            continue
        more, fewer = (plant.running(jets=int(baseline.jets[at])) for at in (place, place - 1))
        full, given = float(more.full_m3s[0]), float(fewer.at_si(np.inf).power_w)
        found[place] = bracketed_root(
            lambda share: more.at_si(full * share).power_w - given, 0.0, 1.0, steps=40
        )
    drop = net - baseline.pressure_pa / weight  # gauge height and velocity head
    return weight * (net * np.square(found) - drop)


def _findings(baseline: Baseline, closing_s: float) -> Any:
    if not baseline.residuals:
        yield Finding(
            "caution",
            "gauge card",
            (
                "nothing was read on this plant yet: the card shows calculated values; "
                "commission it, from shut to all open with water to spare, and print it again"
            ),
        )
    if np.isinf(closing_s):
        yield Finding(
            "problem",
            "gauge card",
            "the pressure at rest alone exceeds what the pipe may bear: no closing is slow enough",
        )


# --- without readings -----------------------------------------------------------------------


def expected(
    plant: Chain,
    head: float = 0.01,
    loss: float = 0.15,
    jet_area: float = 0.03,
    efficiency: float = 0.05,
    few_jets: float = 0.05,
    gauge_height_m: float = 0.0,
) -> Baseline:
    """A baseline from the plant as described, where no healthy readings are there to fit.

    Parameters
    ----------
    plant : Chain
    head, loss, jet_area, efficiency : float
        Standard deviations as shares; the defaults are those of ``energy.uncertainty.Uncertainties``.
    few_jets : float
        Standard deviation of the power with which the efficiency goes with the share of jets open.
    gauge_height_m : float
        Of the gauge over the jets.

    Returns
    -------
    Baseline
        Without residuals: that tells it from a commissioned one.
    """
    sds = np.array([head, loss, jet_area, efficiency, few_jets])
    steps = np.concatenate([np.zeros((1, 5)), np.diag(sds), -np.diag(sds)])
    plant = plant.replace(supply=(), states=(), schedule=())
    scaled = plant.factors(*(np.exp(steps[:, place]) for place in (0, 1, 3, 2)))
    names = tuple(" and ".join(each) for each in getattr(plant.jets, "sets", ()))
    counts = (
        np.array([opening.count for opening in plant.jets.openings()])
        if names
        else np.arange(1, plant.jets.count + 1)
    )
    possible = {opening.count for opening in plant.jets.openings()}
    if len(set(getattr(plant.jets, "diameters_m", ()))) > 1:
        possible = {plant.jets.count}  # of unlike jets a number does not say which are open
    flow, net, power = (np.full((11, len(counts)), np.nan) for _ in range(3))
    for place, count in enumerate(counts):
        if count in possible:
            running = _only(scaled.running(), place) if names else scaled.running(jets=int(count))
            seen = running.at_si(np.full(11, np.inf))
            flow[:, place], net[:, place], power[:, place] = (
                seen.used_m3s,
                seen.net_head_m,
                seen.power_w,
            )
    power *= (counts / counts[-1]) ** steps[:, 4:]
    weight = plant.density_kgm3 * GRAVITY
    static = np.asarray(scaled.penstock.static_si()) * np.ones(11)
    columns = {
        "shut": weight * (static[:, None] - gauge_height_m),
        "pressure": weight * (net - gauge_height_m),
        "flow": flow,
        "loss": static[:, None] - net,
        "power": power,
    }
    sd = {
        name: np.sqrt(np.sum(np.square((values[1:6] - values[6:]) / 2), axis=0))
        for name, values in columns.items()
    }
    whole = power[0] / (weight * flow[0] * net[0])
    few = counts[:-1][np.isfinite(whole[:-1]) & (whole[:-1] > 0)] if not names else ()
    slope = (
        float(
            np.polyfit(
                np.log(np.append(few, counts[-1]) / counts[-1]),
                np.log(whole[np.append(few, counts[-1]) - 1]),
                1,
            )[0]
        )
        if len(few)
        else 0.0
    )
    return Baseline(
        counts,
        float(columns["shut"][0, 0]),
        float(sd["shut"][0]),
        pressure_pa=columns["pressure"][0],
        pressure_sd_pa=sd["pressure"],
        flow_m3s=flow[0],
        flow_sd_m3s=sd["flow"],
        net_head_m=net[0],
        loss_m=columns["loss"][0],
        loss_sd_m=sd["loss"],
        power_w=power[0],
        power_sd_w=sd["power"],
        estimate={
            "head": float(static[0]),
            "loss": float(np.mean(plant.penstock.loss_factor)),
            "jet_area": 1.0,
            "efficiency": float(whole[-1]),
            "few_jets": slope,
        },
        covariance=np.diag(sds**2),
        residuals=(),
        cannot_tell=("everything: nothing was read on this plant yet",),
        plant=plant,
        has_line=True,
        findings=(
            Finding(
                "note", "baseline", "nothing was read on this plant yet; it is taken as described"
            ),
        ),
        names=names,
    )


def _only(running: Running, place: int) -> Running:
    """The plant with one set of its machines."""
    return replace(
        running,
        openings=running.openings[place : place + 1],
        full_m3s=running.full_m3s[place : place + 1],
        suited_m=running.suited_m[place : place + 1],
    )
