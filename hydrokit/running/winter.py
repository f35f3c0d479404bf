"""What winter asks: frazil nights, how long water may stand, what a stop until thaw costs, the heat held."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Sequence

import numpy as np
import pandas as pd

from ..energy.habits import thaws
from ..errors import Finding, HydrokitError
from ..plant.heat import difference_held
from ..plant.heat_balance import heat_balance
from ..result import Result
from ..sentences import Amount, Sentence
from ..stream.days import days_of
from ..stream.months import DAYS_OF_MONTHS
from ..units import Quantity
from ..works.exposed import Stretch, StretchFrost
from ..works.ice import frazil_nights
from ..works.snow import stefan_depth
from ..works.soil import MOIST

if TYPE_CHECKING:
    from ..units import Number

__all__ = [
    "Climate",
    "HeatHeld",
    "Standing",
    "UntilThaw",
    "climate",
    "heat_held",
    "standing_water",
    "until_thaw",
]

ZERO_K = 273.15
# Common practice, each open to be set otherwise.
HALF_SWING_K = 4.5  # from the mean of a day to the low of its night
_WATER_DAYS, _THAW_DAYS, _MELT_DAYS = 7, 5, 10
_MELT_C = 3.0  # mean of ten days from which snow melts in earnest
_MONTH_DAYS = np.array(DAYS_OF_MONTHS)


# --- the air --------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Climate(Result):
    """Air temperature through the year, January first, from a daily record.

    Parameters
    ----------
    years : float
        Length of the record.
    mean_k, cold_k, lowest_k : ndarray
        By month: mean; the daily mean that one day in ten stays below; the coldest day.
    frazil_nights, frazil_least, frazil_most : ndarray
        By month: nights with the weather for frazil, mean of the years and the range.
    first_frazil, melt : tuple of int
        Day of the year of the first such night of each winter (counted on past 365 after New
        Year), and of the snow's melting in each spring.
    freezing_index_kd : ndarray
        Degree-days below 0 °C of each winter.
    """

    years: float
    mean_k: np.ndarray
    cold_k: np.ndarray
    _: KW_ONLY
    lowest_k: np.ndarray
    frazil_nights: np.ndarray
    frazil_least: np.ndarray
    frazil_most: np.ndarray
    first_frazil: tuple[int, ...]
    melt: tuple[int, ...]
    freezing_index_kd: np.ndarray

    @property
    def frost_months(self) -> tuple[int, ...]:
        """Months, 1 to 12, whose mean is below 0 °C."""
        return tuple((np.flatnonzero(self.mean_k < ZERO_K) + 1).tolist())

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What limits the trust in it."""
        text = Sentence(
            "only {years} of air temperature: a hard winter may not be among them",
            years=Amount(self.years, "years", 2),
        )
        return (Finding("caution", "winter", text),) if self.years < 5 else ()

    @property
    def coldest_month(self) -> int:
        """1 to 12."""
        return int(np.nanargmin(self.mean_k)) + 1

    @property
    def stefan_m(self) -> float:
        """What the degree-days of the coldest winter could freeze of bare moist ground at the most
        (Stefan): the ground's own heat leaves less."""
        return float(
            stefan_depth.si(
                float(np.max(self.freezing_index_kd, initial=0.0)),
                MOIST.frozen_wmk,
                MOIST.latent_jm3,
            )
        )


def climate(temperature: pd.Series, half_swing_k: float = HALF_SWING_K) -> Climate:
    """The year's air from daily means in °C.

    Parameters
    ----------
    temperature : Series
        Daily means in °C, dated.
    half_swing_k : float
        From the mean of a day to the lowest of its night (common practice; a minimum thermometer
        knows better).

    Returns
    -------
    Climate

    Raises
    ------
    HydrokitError
        Less than a year.

    Notes
    -----
    A night counts for frazil by :func:`hydrokit.works.ice.frazil_nights`, the creek taken as warm as
    the air of the week before, and never below 0 °C (common practice for a small shaded creek; a
    spring keeps it warmer). Under a closed cover of ice or snow there is none, so this is the most.
    """
    seen = temperature.dropna()
    if len(seen) < 365:
        raise HydrokitError(
            f"climate(): needs daily air temperatures of a year at least, got {len(seen)} days"
        )
    months = seen.groupby(days_of(seen).month)
    water = seen.rolling(_WATER_DAYS, min_periods=1).mean().clip(lower=0.0)
    night = pd.Series(
        frazil_nights.si(
            seen.to_numpy() - half_swing_k + ZERO_K,
            water.to_numpy() + ZERO_K,
            ZERO_K - 6.0,
            ZERO_K + 1.0,
        ),
        seen.index,
    )
    counted = night.groupby([days_of(night).year, days_of(night).month]).agg(["sum", "size"])
    whole = counted[counted["size"] >= 25]["sum"].groupby(level=1)
    winter = days_of(seen).year + (days_of(seen).month >= 7)
    frost = seen.clip(upper=0.0).abs().groupby(winter).sum()
    days = seen.groupby(winter).size()
    frost = frost[days >= 300] if (days >= 300).any() else frost
    return Climate(
        len(seen) / 365.25,
        _twelve(months.mean()) + ZERO_K,
        _twelve(months.quantile(0.1)) + ZERO_K,
        lowest_k=_twelve(months.min()) + ZERO_K,
        frazil_nights=_twelve(whole.mean()),
        frazil_least=_twelve(whole.min()),
        frazil_most=_twelve(whole.max()),
        first_frazil=_first_frazil(night),
        melt=_melt(seen),
        freezing_index_kd=frost.to_numpy(),
    )


def _twelve(by_month: pd.Series) -> np.ndarray:
    return by_month.reindex(range(1, 13)).to_numpy(dtype=float)


def _first_frazil(night: pd.Series) -> tuple[int, ...]:
    """Day of the year of each winter's first night of frazil; July opens the count."""
    cold = days_of(night)[night]
    winter = cold.year + (cold.month >= 7)
    first = pd.Series(cold, index=winter).groupby(level=0).min()
    return tuple(
        int((day - pd.Timestamp(year - 1, 1, 1)).days + 1)
        for year, day in zip(first.index.tolist(), first)
        if pd.Timestamp(year - 1, 9, 1) >= days_of(night)[0]
    )


def _melt(seen: pd.Series) -> tuple[int, ...]:
    """First day of each spring from which ten days are as warm on average as melts snow in earnest."""
    ahead = seen[::-1].rolling(_MELT_DAYS).mean()[::-1]
    warm = days_of(ahead)[
        (ahead >= _MELT_C) & (days_of(ahead).month >= 2) & (days_of(ahead).month <= 7)
    ]
    first = pd.Series(warm, index=warm.year).groupby(level=0).min()
    return tuple(
        int(day.day_of_year)
        for year, day in zip(first.index.tolist(), first)
        if pd.Timestamp(year, 2, 1) >= days_of(seen)[0] and day.month < 8
    )


# --- the line -------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Standing(Result):
    """How long still water may be left in the stretches of a line, from the days of the record.

    Parameters
    ----------
    month : int
        The coldest.
    stretches : tuple of Stretch
        Those first that freeze first.
    blocked_s : ndarray
        Time until a quarter of the bore is ice, for a stop in the coldest month: half of its days
        leave less, then one in ten, then the worst of all days of all months; shape ``(3, stretches)``.
        Infinite where it is not blocked.
    by_month_s : ndarray
        What one day in ten of each month leaves less than, January first; shape ``(12, stretches)``.
    keep_open_m3s : ndarray
        Flow whose friction alone keeps the full pipe open on nine days in ten of the coldest month.
    """

    month: int
    stretches: tuple[Stretch, ...]
    blocked_s: np.ndarray
    _: KW_ONLY
    by_month_s: np.ndarray
    keep_open_m3s: np.ndarray

    @property
    def worst(self) -> Stretch:
        """The stretch that decides for its line."""
        return self.stretches[0]


def standing_water(frost: Sequence[StretchFrost], month: np.ndarray, coldest: int) -> Standing:
    """How long still water may be left in each stretch, by the month in which the flow stops.

    Parameters
    ----------
    frost : sequence of StretchFrost
        Through the days of the record, those first that freeze first.
    month : ndarray
        Of each day, 1 to 12.
    coldest : int
        The coldest month.

    Returns
    -------
    Standing
        The water being at 0 °C when it stops, as a creek brings it in frost.
    """
    cold = month == coldest

    def less(times: np.ndarray, share: float) -> float:
        # a whole day's time: halfway between a time and never there is none
        return float(np.quantile(times, share, method="inverted_cdf")) if len(times) else np.nan

    return Standing(
        coldest,
        tuple(each.stretch for each in frost),
        np.array(
            [
                *([less(each.blocked[cold], share) for each in frost] for share in (0.5, 0.1)),
                [each.blocked_s for each in frost],
            ]
        ),
        by_month_s=np.array(
            [
                [less(each.blocked[month == number], 0.1) for each in frost]
                for number in range(1, 13)
            ]
        ),
        keep_open_m3s=np.array(
            [each.open_m3s(float(np.quantile(each.lost_wm[cold], 0.9))) for each in frost]
        ),
    )


# --- a stop until thaw -------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class UntilThaw:
    """What a stop that freezes the line costs, by month in which it happens, January first.

    Parameters
    ----------
    days, days_long : ndarray
        Until the next lasting thaw: half of the stops take longer; one in ten does. NaN in months
        without frost.
    energy_j, energy_long_j : ndarray
        Not made meanwhile.
    """

    days: np.ndarray
    days_long: np.ndarray
    energy_j: np.ndarray
    _: KW_ONLY
    energy_long_j: np.ndarray

    @property
    def worst_month(self) -> int | None:
        """1 to 12, or None without frost."""
        return (
            int(np.nanargmax(self.energy_long_j)) + 1
            if np.isfinite(self.energy_long_j).any()
            else None
        )

    @property
    def energy(self) -> Quantity:
        """Half of the stops cost more, a quantity."""
        return Quantity(self.energy_j, "J").to("kWh")


def until_thaw(temperature: pd.Series, power_w: Number | Sequence[float]) -> UntilThaw:
    """How long a frozen line waits for the thaw, and what it costs, over every frosty day on record.

    Parameters
    ----------
    temperature : Series
        Daily means in °C.
    power_w : float or sequence of 12 floats
        What the plant would have made, by month.

    Returns
    -------
    UntilThaw

    Notes
    -----
    It has thawed on the first day above 0 °C on which the mean of five days, that day and those
    before it, is above 0 °C too (common practice): nobody knows the days to come. A line under snow
    or soil thaws later than the air does.
    """
    seen = temperature.dropna().asfreq("D").interpolate(limit=5)
    power = np.broadcast_to(np.asarray(power_w, dtype=float), 12)
    degc = seen.to_numpy()
    thaw = np.flatnonzero(thaws(degc, _THAW_DAYS, 0.0))
    frosty = np.flatnonzero(degc < 0)
    nearest = np.searchsorted(thaw, frosty)
    known = nearest < len(thaw)  # the record may end in frost
    frosty, ends = frosty[known], thaw[nearest[known]]
    by_day = power[days_of(seen).month.to_numpy() - 1]
    daily, unknown = (
        np.concatenate([[0.0], np.cumsum(each)])
        for each in (np.nan_to_num(by_day) * 86400.0, np.isnan(by_day))
    )
    energy = np.where(unknown[ends] > unknown[frosty], np.nan, daily[ends] - daily[frosty])
    table = pd.DataFrame(
        {"month": days_of(seen).month.to_numpy()[frosty], "days": ends - frosty, "energy": energy}
    ).groupby("month")
    middle, long = table.quantile(0.5), table.quantile(0.9)
    return UntilThaw(
        _twelve(middle["days"]),
        _twelve(long["days"]),
        _twelve(middle["energy"]),
        energy_long_j=_twelve(long["energy"]),
    )


# --- heat -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class HeatHeld:
    """What the plant's watts keep warm, January first.

    Parameters
    ----------
    power_w : ndarray
        For heat, by month.
    held_k : ndarray
        Difference to the outdoors that it holds.
    inside_cold_k : ndarray
        Indoors on the day that one in ten is colder than, with nothing else heating.
    met_share : float
        Of the heat of all the days on record.
    unmet_j : float
        Heat to be found elsewhere, in a mean year.
    needed_month_j, met_month_j : ndarray
        Heat needed and met in each mean month; NaN in months without a day on record.
    needed_month_ks, met_month_ks : ndarray
        The same as degree-time.
    joint : bool
        Whether power and temperature are of the same days.
    """

    power_w: np.ndarray
    held_k: np.ndarray
    inside_cold_k: np.ndarray
    _: KW_ONLY
    met_share: float
    unmet_j: float
    needed_month_j: np.ndarray
    met_month_j: np.ndarray
    needed_month_ks: np.ndarray
    met_month_ks: np.ndarray
    joint: bool


def heat_held(
    temperature: pd.Series,
    power_w: Number | Sequence[float] | pd.Series,
    conductance_w_k: float,
    inside_k: float = 293.15,
    base_w: Number | Sequence[float] = 0.0,
    running: Number | Sequence[float] = 1.0,
) -> HeatHeld:
    """What the plant's watts keep warm through the days on record.

    Parameters
    ----------
    temperature : Series
        Daily means in °C.
    power_w : float, sequence of 12 floats, or Series
        Made: always, by month (NaN: not known, left out), or on each day. A series is held against
        the temperature of the same days, for a cold spell is often a dry one; days that only one of
        them has are left out.
    conductance_w_k : float
        Heat loss of the rooms.
    inside_k : float
        Wanted.
    base_w : float or sequence of 12 floats
        Taken by other loads first, always or by month: what is left on each day is there for heat.
    running : float or sequence of 12 floats
        Share of the time the plant runs, where the power does not count its stops.
    """
    seen, of_days = temperature.dropna(), None
    if isinstance(power_w, pd.Series):
        power = power_w.dropna()
        both = seen.index.intersection(power.index)
        if len(both) >= 365:  # fewer do not make a year; then month by month
            seen, of_days = seen[both], power[both].to_numpy()
        power_w = _twelve(power.groupby(days_of(power).month).mean())
    month = days_of(seen).month.to_numpy() - 1
    made = (
        np.broadcast_to(np.asarray(power_w, dtype=float), 12)[month] if of_days is None else of_days
    )
    known = np.isfinite(made)  # of some months nobody may know what is made
    seen, month, made = seen[known], month[known], made[known]
    spare = np.maximum(made - np.broadcast_to(np.asarray(base_w, dtype=float), 12)[month], 0.0)
    runs = np.broadcast_to(np.asarray(running, dtype=float), 12)
    rows = np.full((4, 12), np.nan)
    total = np.zeros(2)
    for place in np.unique(month):
        here = month == place
        balance = heat_balance.si(
            spare[here], seen.to_numpy()[here] + ZERO_K, conductance_w_k, inside_k, 0.0, 86400.0
        )
        sums = np.array(
            [
                balance.needed_j,
                balance.met_j * runs[place],
                balance.needed_ks,
                balance.met_ks * runs[place],
            ]
        )
        rows[:, place] = sums / here.sum() * _MONTH_DAYS[place]
        total += sums[:2]
    power = _twelve(pd.Series(spare).groupby(month + 1).mean()) * runs
    held = np.asarray(difference_held.si(power, conductance_w_k))
    cold = _twelve(seen.groupby(days_of(seen).month).quantile(0.1)) + ZERO_K
    met_share = float(total[1] / total[0]) if total[0] > 0 else 1.0
    unmet = float(total[0] - total[1]) / (len(seen) / 365.25)
    needed, met, needed_ks, met_ks = rows
    return HeatHeld(
        power_w=power,
        held_k=held,
        inside_cold_k=np.minimum(cold + held, inside_k),
        met_share=met_share,
        unmet_j=unmet,
        needed_month_j=needed,
        met_month_j=met,
        needed_month_ks=needed_ks,
        met_month_ks=met_ks,
        joint=of_days is not None,
    )
