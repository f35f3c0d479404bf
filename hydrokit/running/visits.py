"""When to walk up: how fast the screen clogs, the interval worth the walk, the pressure that calls at once."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Callable, Mapping

import numpy as np

from ..errors import HydrokitError
from ..units import Quantity, units
from ..works.solve import require
from .history import Event, History

__all__ = [
    "BLINDING",
    "Clogging",
    "Spared",
    "alarm_pressure",
    "best_interval",
    "clogged_loss",
    "clogging",
    "self_cleaning",
    "time_left",
    "visit_interval",
]

_DAY = 86400.0
BLINDING = 6 * 3600.0  # s in which frazil shuts a clean screen: "within hours", common practice


# --- the interval -----------------------------------------------------------------------------


@units("s", visit_cost="money", price="money/J", loss_growth="W/s")
def visit_interval(visit_cost, price, loss_growth):
    r"""Time between cleanings that costs least, when the power lost grows evenly after each.

    Parameters
    ----------
    visit_cost : Quantity or str [money]
        What one walk is worth, :math:`c`.
    price : Quantity or str [money/energy]
        What the energy is worth, :math:`p`.
    loss_growth : Quantity or str [power/time]
        By how much more power is lost each day, :math:`g`; ``"30 W/d"``.

    Returns
    -------
    Quantity [time]
        :math:`T`; infinite where nothing is lost.

    Raises
    ------
    UnitsError
        A number without a unit, or a unit of another kind.
    HydrokitError
        A negative cost or growth, a price not above zero.

    Notes
    -----
    A cycle costs :math:`c + p g T^2/2`; for each unit of time it is least where the two halves are
    equal:

    .. math:: T = \sqrt{\frac{2c}{p\,g}}

    References
    ----------
    .. [1] F. W. Harris, "How many parts to make at once", Factory 10(2), 1913: the same sum for stocks.

    Examples
    --------
    >>> print(f"{visit_interval('5 money', '0.30 money/kWh', '150 W/d').to('d'):.1f~P}")
    3.0 d
    >>> print(f"{visit_interval('12 money', '0.32 money/kWh', '0.1 hp/d').to('d'):.1f~P}")
    6.5 d
    """
    require("visit_interval", "zero or more", visit_cost=visit_cost, loss_growth=loss_growth)
    require("visit_interval", "above zero", price=price)
    with np.errstate(divide="ignore"):
        return np.sqrt(
            2 * np.asarray(visit_cost) / (np.asarray(price) * np.asarray(loss_growth, dtype=float))
        )


@dataclass(frozen=True, eq=False)
class Interval:
    """The best time between two cleanings.

    Parameters
    ----------
    interval_s : float
    cost_rate : float
        Money a second: the walk and the energy lost, at that interval.
    longest : bool
        Whether it is as long as was allowed: the walk is never worth it sooner.
    """

    interval_s: float
    cost_rate: float
    longest: bool

    @property
    def interval(self) -> Any:
        """Time between cleanings, a quantity in days."""
        return Quantity(self.interval_s, "s").to("d")


def best_interval(
    lost_w: Callable[[Any], Any], visit_cost: float, price: float, longest_s: float = 120 * _DAY
) -> Interval:
    """Time between cleanings that costs least, for any growth of the loss.

    Parameters
    ----------
    lost_w : callable
        Power in W lost so many seconds after a cleaning; takes an array.
    visit_cost, price : float
        Money, and money for each joule.
    longest_s : float

    Returns
    -------
    Interval
    """
    if visit_cost < 0 or price <= 0:
        raise HydrokitError(
            "best_interval(): visit_cost is money, zero or more, and price above zero"
        )
    time = longest_s * np.linspace(0.0, 1.0, 4001)[1:] ** 2  # finest where intervals are short
    lost = np.asarray(lost_w(time), dtype=float) * np.ones_like(time)
    wasted = np.concatenate(
        [
            [0.5 * time[0] * lost[0]],
            0.5 * time[0] * lost[0] + np.cumsum(np.diff(time) * (lost[1:] + lost[:-1]) / 2),
        ]
    )
    rate = (visit_cost + price * wasted) / time
    best = int(np.argmin(rate))
    found = float(time[best])
    if 0 < best < len(time) - 1:
        # Vertex of the parabola through the three lowest, in the logarithm of the time.
        x, y = np.log(time[best - 1 : best + 2]), rate[best - 1 : best + 2]
        bend, lean, _ = np.polyfit(x - x[1], y, 2)
        found = float(time[best] * np.exp(-lean / (2 * bend))) if bend > 0 else found
    return Interval(found, float(rate[best]), best == len(time) - 1)


@units("W", time="s", healthy_power="W", clogging_rate="1/s", spare="ratio")
def clogged_loss(time, healthy_power, clogging_rate, spare=1.0):
    r"""Power lost some time after a cleaning, as a screen blocks evenly.

    Parameters
    ----------
    time : Quantity or str [time]
        Since the cleaning, :math:`t`.
    healthy_power : Quantity or str [power]
        With the jets fed, :math:`P`.
    clogging_rate : Quantity or str [1/time]
        Share of the clean screen's flow lost each day, :math:`r`; ``"0.05 1/d"``.
    spare : number
        Flow the clean screen passes over what the jets take, :math:`s`; 1 when just enough.

    Returns
    -------
    Quantity [power]

    Raises
    ------
    UnitsError
        A number without a unit, or a unit of another kind.
    HydrokitError
        A negative rate or power.

    Notes
    -----
    .. math:: P\left(1 - \min(1,\ s\,(1 - r t))^3\right)

    Starved fixed jets stand under a head that goes with the square of the flow, so their power goes
    with its cube: one per cent of the water is three of the power.

    References
    ----------
    .. [1] Orifice law of the jets.

    Examples
    --------
    >>> print(f"{clogged_loss('3 d', '3 kW', '0.05 1/d'):.0f~P}")
    1158 W
    >>> print(f"{clogged_loss('48 h', '4 hp', '0.05 1/d', 1.15):.0f~P}")
    0 W
    """
    require(
        "clogged_loss",
        "zero or more",
        time=time,
        healthy_power=healthy_power,
        clogging_rate=clogging_rate,
    )
    left = np.maximum(1 - np.asarray(clogging_rate) * np.asarray(time), 0.0) * spare
    return np.asarray(healthy_power) * (1 - np.minimum(left, 1.0) ** 3)


# --- frazil -----------------------------------------------------------------------------------


@units("Pa", pressure="Pa", spread="ratio")
def alarm_pressure(pressure, spread="1.5 %", deviations=3.0):
    r"""Pressure below which to walk up: the nearest to the healthy one that noise does not reach.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Healthy, with the jets now open, :math:`p`.
    spread : number or str
        Relative standard deviation of one reading, :math:`\sigma`.
    deviations : float
        :math:`k`; three are passed by noise alone once in 740 readings.

    Returns
    -------
    Quantity [pressure]
        :math:`p\,(1 - k\sigma)`.

    Raises
    ------
    UnitsError
        A number without a unit, or a unit of another kind.

    References
    ----------
    .. [1] Normal distribution, one tail.

    Examples
    --------
    >>> print(f"{alarm_pressure('4.2 bar').to('bar'):.2f~P}")
    4.01 bar
    >>> print(f"{alarm_pressure('61 psi', '1 %').to('psi'):.1f~P}")
    59.2 psi
    """
    require("alarm_pressure", "above zero", pressure=pressure)
    return np.asarray(pressure) * np.maximum(1 - deviations * np.asarray(spread), 0.0)


@units("s", pressure="Pa", healthy_pressure="Pa", blinding_time="s", spare="ratio")
def time_left(pressure, healthy_pressure, blinding_time="6 h", spare=1.0):
    r"""Time until a screen that ice is shutting passes nothing, from the pressure it has fallen to.

    Parameters
    ----------
    pressure, healthy_pressure : Quantity or str [pressure]
        Now, and with the same jets fed: :math:`p`, :math:`p_0`.
    blinding_time : Quantity or str [time]
        From clean to shut, :math:`T_b`. Hours; nothing more exact is known of a screen until its
        own log tells (common practice).
    spare : number
        Flow the clean screen passes over what the jets take, :math:`s`.

    Returns
    -------
    Quantity [time]

    Raises
    ------
    UnitsError
        A number without a unit, or a unit of another kind.
    HydrokitError
        A pressure below zero or above the healthy one, spare less than 1.

    Notes
    -----
    Jets pass a flow that goes with the root of the pressure; the screen closes evenly:

    .. math:: t = T_b\,\frac{\sqrt{p/p_0}}{s}

    References
    ----------
    .. [1] Orifice law of the jets.

    Examples
    --------
    >>> print(f"{time_left('4.0 bar', '4.2 bar').to('h'):.1f~P}")
    5.9 h
    >>> print(f"{time_left('20 psi', '61 psi', '6 h', 1.15).to('h'):.1f~P}")
    3.0 h
    """
    require("time_left", "zero or more", pressure=pressure)
    require(
        "time_left",
        "above zero",
        healthy_pressure=healthy_pressure,
        blinding_time=blinding_time,
        spare=spare,
    )
    share = np.asarray(pressure) / np.asarray(healthy_pressure)
    if np.any(share > 1 + 1e-9):
        raise HydrokitError(
            "time_left(): the pressure is above the healthy one, so no water is short"
        )
    return np.asarray(blinding_time) * np.sqrt(share) / spare


# --- from the log -----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Clogging:
    """How a screen clogs, from the spells that a cleaning ended.

    Parameters
    ----------
    spells : tuple of (Event, float)
        Each spell, and the share of the clean screen's flow that was lost each day in it.
    spare_by_jets : dict of int to float
        Flow of the clean screen over what the jets take.
    rate_by_month : ndarray
        Rate by calendar month, January first; NaN without spells.
    energy_by_month_j : ndarray
        Energy lost to it in a mean year.
    cleans_by_month : ndarray
        Cleanings in a mean year.
    """

    spells: tuple[tuple[Event, float], ...]
    spare_by_jets: dict[int, float]
    rate_by_month: np.ndarray
    _: KW_ONLY
    energy_by_month_j: np.ndarray
    cleans_by_month: np.ndarray

    @property
    def season(self) -> tuple[int, ...]:
        """Months, 1 to 12, that hold a tenth or more of the loss."""
        total = self.energy_by_month_j.sum()
        return (
            tuple((np.flatnonzero(self.energy_by_month_j >= 0.1 * total) + 1).tolist())
            if total > 0
            else ()
        )

    def grace_s(self, history: History) -> float:
        """Time from a cleaning until its water no longer fills the jets: median of those the log shows.

        The clean screen's spare and the creek's together; zero where no cleaning is followed by a spell.
        """
        cleans = np.array([event.start for event in history.of("clean")], dtype="datetime64[s]")
        waits = []
        for event, _ in self.spells:
            before = cleans[cleans <= event.start]
            wait = (
                float((event.start - before[-1]) / np.timedelta64(1, "s"))
                if len(before)
                else np.inf
            )
            if _month(event) + 1 in self.season and wait < 30 * _DAY:
                waits.append(wait)
        return float(np.median(waits)) if waits else 0.0

    def rate_in(self, months: Any) -> float:
        """Share of the clean screen's flow lost each day, mean over the spells of some months."""
        return _mean([(event, rate) for event, rate in self.spells if _month(event) + 1 in months])


def clogging(
    history: History, flow_m3s: Mapping[int, float] | None = None, clean_m3s: float | None = None
) -> Clogging:
    """Rate, season and cost of clogging.

    Parameters
    ----------
    history : History
    flow_m3s : mapping of jets to float, optional
        What the jets take when fed. Left out, only its ratios are known, from the pressures.
    clean_m3s : float, optional
        What the clean screen passes; left out, or less than the jets took, just what all jets take.

    Returns
    -------
    Clogging

    Notes
    -----
    While the pond spills nothing is seen of it, so only readings already short of water count: from
    the first to the last of a spell. Of a spell of one reading it is known only that it began after
    the reading before, which gives the least it can have been. So does the time since the screen was
    last seen cleaned, in which all that is blocked now must have come; the greater of the two counts.
    """
    full = flow_m3s or {
        count: count * float(np.sqrt(level[0]))
        for count, level in history.reference.levels.items()
        if level[0] > 0
    }
    most = max(full.values(), default=1.0)
    clean = most if clean_m3s is None or flow_m3s is None else max(clean_m3s, most)
    spells = tuple(
        (event, rate)
        for event in history.of("clogging")
        if (rate := _rate(history, event, full, clean)) > 0
    )
    of_month = [
        [(event, rate) for event, rate in spells if _month(event) == month] for month in range(12)
    ]
    years = max(history.years, 1 / 12)
    energy, cleans = np.zeros(12), np.zeros(12)
    for event in history.of("clogging"):
        energy[_month(event)] += event.energy_j / years
    for event in history.of("clean"):
        cleans[_month(event)] += 1 / years
    spare = {count: clean / flow for count, flow in full.items()}
    return Clogging(
        spells,
        spare,
        np.array([_mean(each) for each in of_month]),
        energy_by_month_j=energy,
        cleans_by_month=cleans,
    )


def _month(event: Event) -> int:
    """Calendar month in which the middle of a spell lies, January 0."""
    middle = event.start + (event.end - event.start) / 2
    return int(middle.astype("datetime64[M]").astype(int) % 12)


def _mean(spells: list[tuple[Event, float]]) -> float:
    """Mean rate, longer spells counting for more."""
    return (
        float(
            np.average(
                [rate for _, rate in spells], weights=[max(event.days, 0.1) for event, _ in spells]
            )
        )
        if spells
        else np.nan
    )


def _rate(history: History, event: Event, *flows: Any) -> float:
    return float(np.fmax(_within(history, event, *flows), _since_cleaned(history, event, *flows)))


def _within(history: History, event: Event, full: Mapping[int, float], clean: float) -> float:
    log = history.log
    first, last = np.searchsorted(log.line, event.lines)
    long_enough = last > first and log.seconds[last] - log.seconds[first] >= 0.5 * _DAY
    begin = first if long_enough else first - 1
    jets = int(log.jets[last])
    if begin < 0 or log.jets[begin] != jets or jets not in full:
        return np.nan
    span = (log.seconds[last] - log.seconds[begin]) / _DAY
    fall = min(float(history.flow_share[begin]), 1.0) - float(history.flow_share[last])
    return fall * full[jets] / clean / span if span > 0.1 else np.nan


def _since_cleaned(
    history: History, event: Event, full: Mapping[int, float], clean: float
) -> float:
    """Least rate that blocks, since the screen was last seen cleaned, what is blocked at the end of a spell; NaN where it never was."""
    log = history.log
    last = int(np.searchsorted(log.line, event.lines[1]))
    before = [each.end for each in history.of("clean") if each.end <= event.start]
    jets = int(log.jets[last])
    if not before or jets not in full:
        return np.nan
    days = float((log.time[last] - max(before)) / np.timedelta64(1, "s")) / _DAY
    blocked = 1 - min(float(history.flow_share[last]), 1.0) * full[jets] / clean
    return blocked / days if days > 0.5 else np.nan


@dataclass(frozen=True, eq=False)
class Spared:
    """What a screen that cleans itself would save in a mean year.

    Parameters
    ----------
    energy_j : float
    visits : float
    """

    energy_j: float
    visits: float

    @property
    def energy(self) -> Any:
        """Energy of a year, a quantity."""
        return Quantity(self.energy_j, "J").to("kWh")


def self_cleaning(history: History, still_lost: float = 0.2) -> Spared:
    """What a screen that cleans itself would save in a mean year, from what clogging did cost.

    Parameters
    ----------
    history : History
    still_lost : float
        Share of the loss and of the walks that stays: ice, grit and storms stop the best of them
        (a fifth, common practice).
    """
    if not 0 <= still_lost <= 1:
        raise HydrokitError(
            f"self_cleaning(): still_lost is a share from 0 to 1, got {still_lost:g}"
        )
    found = clogging(history)
    return Spared(
        float(found.energy_by_month_j.sum()) * (1 - still_lost),
        float(found.cleans_by_month.sum()) * (1 - still_lost),
    )
