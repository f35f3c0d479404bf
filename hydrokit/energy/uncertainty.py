"""How sure the energy is: one set of errors a draw, weighed over all years of the record.

Every draw is a plant and a creek that could be the true ones: the rating's error scales all the
natural flow of the record, before what must stay is taken off; the head, the loss, the jets and
the efficiency are scaled; the outages are drawn. Each draw gets all years of the record, so that no
percentile hangs on which years were drawn, and as much more as so many years leave open
(:mod:`hydrokit.energy.outlook`). The energy of a draw is read from a lattice of such plants, all of
them worked out exactly.

>>> import numpy as np, pandas as pd
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
>>> from hydrokit.stream.rights import fixed, resolve_rights
>>> plant = Chain(Penstock(MeasuredLoss(2e4), 50.0), Adjustable(0.015), Runner(steady(0.6)))
>>> dates = pd.date_range("2020-10-01", "2023-09-30")
>>> creek = pd.Series(0.012 + 0.006 * np.cos(2 * np.pi * np.arange(len(dates)) / 365.25), dates, name="flow_m3s")
>>> found = energy_uncertainty(creek, resolve_rights([fixed("4 L/s")]), plant, draws=500)
>>> table = found.percentiles()
>>> bool(table.loc["annual", "P90"] < table.loc["annual", "P50"]), found.tornado.index[0]
(True, 'rating')
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from ..errors import Finding, HydrokitError, counted
from ..plant.chain import Chain
from ..plant.curve import most_taken
from ..result import Result
from ..sentences import Amount, Sentence
from ..stream.days import days_of
from ..stream.record import WATER_YEAR, checked
from ..stream.spread_of_years import lag_one
from .draws import beta, conditioned, factors
from .intake import intake_shares, shares_of_draws
from .lattice import FURTHEST, Lattice, usable_flow
from .levels import LEVELS, MEDIAN, SECURE, level_name
from .operating import kept_of_lattice
from .outlook import FEW_YEARS, FEW_YEARS_SD, Outlook, even_points
from .uncertain_inputs import SOURCES, Metered, Uncertainties
from .uncertainty_sources import DRAWS_FOR_SPREAD, advice, by_source
from .weights import MONTHS, WINTER
from .year import Outages, Year, annual_energy

if TYPE_CHECKING:
    from ..stream.rights import Rights
    from ..units import Floats
    from .operating import Operating

__all__ = ["EnergyUncertainty", "energy_uncertainty"]


def _exceeded(outcomes: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """What so many per cent of the outcomes exceed: by rank, for between the years in which a plant
    runs and those in which it does not no year lies."""
    return np.quantile(outcomes, [1 - level / 100 for level in levels], method="inverted_cdf")


@dataclass(frozen=True, eq=False)
class EnergyUncertainty(Result):
    """Energy with its uncertainty.

    Parameters
    ----------
    base : Year
        The plant and the record as they stand.
    outlook : Outlook
        Years to come: energy of every draw in every year of the record, and what so many years leave open.
    several_years : int
        Years in the mean of several years to come.
    whole_years : tuple of int
        Years of the record that count.
    factors : pandas.DataFrame
        What each draw assumed: a column for each source, and the unplanned outage.
    tornado : pandas.DataFrame
        One row a source, largest first: standard deviation of the annual energy if it alone were
        unknown [kWh], and its share of the variance of a single year, and of the mean of endless
        years. ``weather`` is how much single years differ, ``years`` what so few of them leave open
        of their mean.
    next_measurements : tuple of Sentence
        What to measure next, in order of what it would narrow.
    statement : str
        What is correlated with what.
    effective_draws : float
        How many independent draws the result is worth after conditioning on a meter.
    seed : int
    winter : tuple of int
    findings : tuple of Finding
    """

    base: Year
    outlook: Outlook
    several_years: int
    _: KW_ONLY
    whole_years: tuple[int, ...]
    factors: pd.DataFrame
    tornado: pd.DataFrame
    next_measurements: tuple[Sentence, ...]
    statement: str
    effective_draws: float
    seed: int
    winter: tuple[int, ...]
    findings: tuple[Finding, ...]

    @property
    def years_kwh(self) -> np.ndarray:
        """Energy of the years of the record in the world of each draw, draws × years × 12."""
        return self.outlook.made

    @property
    def single_kwh(self) -> np.ndarray:
        """Energy of one year to come by month: every draw with every year."""
        return self.outlook.single_kwh

    @property
    def mean_kwh(self) -> np.ndarray:
        """Mean energy of endless years by month: every draw."""
        return self.outlook.mean_kwh

    @property
    def useful_single_kwh(self) -> np.ndarray | None:
        """What the demand takes of :attr:`single_kwh`."""
        return self.outlook.useful_single_kwh

    @property
    def useful_mean_kwh(self) -> np.ndarray | None:
        """What the demand takes of :attr:`mean_kwh`."""
        return self.outlook.useful_mean_kwh

    @cached_property
    def _found(self) -> dict[tuple, pd.DataFrame]:
        return {}

    def _outcomes(self, of: str, useful: bool) -> np.ndarray:
        kwh = self.outlook.kwh(of, useful, self.several_years)
        if kwh is None:
            raise HydrokitError("percentiles(): no demand was given, so there is no useful energy")
        return kwh

    def percentiles(
        self, of: str = "single", useful: bool = False, levels: tuple[float, ...] = LEVELS
    ) -> pd.DataFrame:
        """Energy in kWh exceeded with the chances asked for, with all that is not known of creek,
        plant and years.

        Parameters
        ----------
        of : {"single", "several", "mean"}
            One year to come, the mean of the next ``several_years`` years, or the mean of endless years.
        useful : bool
            What the demand can take instead of what is generated.
        levels : tuple of number
            Per cent: 90 is exceeded with a probability of 90 %.

        Returns
        -------
        pandas.DataFrame
            Rows ``annual``, ``winter`` and 1 to 12; a column for each level, such as P90. Months do
            not add up to the year: not all bad months come in one year.
        """
        asked = of, useful, tuple(levels)
        if asked not in self._found:
            kwh = self._outcomes(of, useful)
            columns = kwh.sum(axis=1), kwh[:, np.array(self.winter) - 1].sum(axis=1), *kwh.T
            found = [_exceeded(column, levels) for column in columns]
            self._found[asked] = pd.DataFrame(
                found,
                index=["annual", "winter", *MONTHS.tolist()],
                columns=[level_name(level) for level in levels],
            )
        return self._found[asked].copy()

    def annual_kwh(self, level: float = MEDIAN, of: str = "single") -> float:
        """Annual energy exceeded with a chance given in per cent."""
        return float(_exceeded(self._outcomes(of, False).sum(axis=1), (level,))[0])

    def steps(self, of: str = "single", level: float = SECURE) -> pd.Series:
        """From P50 down to P90, or another level, in kWh by source: each by its share of the
        variance; they add up to the whole step."""
        share = self.tornado["share_single_year" if of == "single" else "share_without_weather"]
        if of == "several":
            variance = self.tornado["sd_kwh"].to_numpy() ** 2 / np.where(
                self.tornado.index == "weather",
                self.several_years / self.outlook.spells.factor_of(self.several_years),
                1.0,
            )
            share = pd.Series(variance / max(variance.sum(), 1e-300), self.tornado.index)
        return (share * (self.annual_kwh(MEDIAN, of) - self.annual_kwh(level, of))).rename("kwh")


def energy_uncertainty(
    record: pd.Series,
    rights: Rights,
    chain: Chain,
    uncertainties: Uncertainties | None = None,
    draws: int = 10_000,
    seed: int = 1,
    outages: Outages | None = None,
    demand_w: Any = None,
    several_years: int = 10,
    metered: Metered | None = None,
    winter: tuple[int, ...] = WINTER,
    start_month: int = WATER_YEAR,
    planned: bool = False,
    operating: Operating | None = None,
) -> EnergyUncertainty:
    """Energy of the years to come, with what is not known about creek and plant.

    Parameters
    ----------
    record : pandas.Series
        Natural flow, daily. Only its whole years count.
    rights : Rights
        What may be taken; asked afresh for every size of the rating's error.
    chain : Chain
    uncertainties : Uncertainties, optional
    draws : int
    seed : int
        The same seed gives the same result.
    outages : Outages, optional
    demand_w : float, 12 floats or Series, optional
        As in :func:`annual_energy`; stays with the days it belongs to.
    several_years : int
        Years in the mean of several years to come.
    metered : Metered, optional
        Watts read on the plant.
    winter : tuple of int
    start_month : int
    planned : bool
        Nothing can be read on the plant yet: other advice on what to measure next.
    operating : energy.operating.Operating, optional
        How the plant is run: what that loses is taken off in every draw, by month and year.

    Returns
    -------
    EnergyUncertainty

    Raises
    ------
    HydrokitError
        No whole year in the record: use :func:`bracket`.

    Notes
    -----
    The lattice: sizes of the flow's error one per cent apart, through the real rights each; three
    sizes each of head, loss and efficiency and five of jet area, on one grid of some 600 flows.
    Between them the energy of each month of each year is interpolated; percentiles agree to 1e-3 of
    the annual energy and better with working every draw out by itself. An uncertainty above 0.2 is read
    along straight lines between five sizes, which never leave what is possible; percentiles then
    agree to a few per cent.

    Errors are drawn evenly, not at random, and every draw is weighed over all years, so that
    the percentiles of one year hardly hang on the seed. What so few years leave open is added as
    :mod:`hydrokit.energy.outlook` says.

    P50 is a quantile of the energies of the draws (function first, then the median), not the
    energy of the median plant.
    """
    uncertainties = Uncertainties() if uncertainties is None else uncertainties
    outages = Outages() if outages is None else outages
    record = checked(record)
    base = _base_year(record, rights, chain, outages, demand_w, winter, start_month)
    if not base.rows:
        raise HydrokitError(
            "energy_uncertainty(): the record has no whole year, so no year can stand for "
            "those to come; use bracket()"
        )
    lattice = Lattice.of(record, rights, chain, uncertainties, base, demand_w)
    kept, each_day_alone = None, base
    if operating is not None and operating.loses:
        kept = kept_of_lattice(lattice, operating, record, chain, demand_w, start_month)
        base = kept.of_year(base)

    rng = np.random.default_rng(seed)
    shares = even_points(rng, draws, len(SOURCES) + 4)
    scores = np.clip(
        ndtri(shares[:, : len(SOURCES)]) @ uncertainties.mixing().T, -FURTHEST, FURTHEST
    )
    unplanned = beta(shares[:, -4], outages.unplanned, uncertainties.outage)
    findings, effective = [*base.findings, *_few(base)], float(draws)
    if metered is not None:
        scores, effective = conditioned(scores, rng, lattice, chain, metered)
        if effective < 0.02 * draws:
            text = Sentence(
                "the {power} of the meter differ much from the power calculated from the "
                "parts; fit the parts to readings first (commissioning)",
                power=Amount(metered.power_w, "power"),
            )
            findings.append(Finding("problem", "uncertainty", text))

    running = (1 - outages.planned) * (1 - unplanned)[:, None]
    made, useful = lattice.draw(scores)
    made *= running[:, None]
    if useful is not None:
        useful *= running[:, None]
    intake = intake_shares(
        chain,
        uncertainties.intake,
        lambda other: _base_year(record, rights, other, outages, demand_w, winter, start_month),
        each_day_alone,
    )
    passes = np.clip(ndtri(shares[:, -3]), -FURTHEST, FURTHEST)
    if intake is not None:
        made *= shares_of_draws(passes, intake[0])
        if useful is not None and intake[1] is not None:
            useful *= shares_of_draws(passes, intake[1])
    if kept is not None:
        where, run = (
            kept.place(lattice.log_flow(scores), lattice.log_full(scores, chain)),
            rng.permutation(np.arange(draws) % kept.runs),
        )
        made *= kept.at(where, run)
        if useful is not None:
            useful *= kept.met_at(where, lattice.log_power(scores, chain), run)
    yearly = base.yearly_kwh.loc[list(base.rows)].to_numpy()
    alike = lag_one(np.log(np.maximum(yearly, 1e-9)), np.array(base.rows))
    outlook = Outlook(
        made,
        useful,
        lattice.most_kwh(scores) * running,
        shares=shares[:, -2:],
        yearly_kwh=yearly,
        seed=seed,
        alike=alike,
    )
    alone = (
        {}
        if intake is None
        else {
            "intake": float(
                np.std(
                    shares_of_draws(
                        passes[:DRAWS_FOR_SPREAD],
                        intake[0] * base.kwh.loc[list(base.rows)].to_numpy().ravel(),
                    )
                    .sum(axis=2)
                    .mean(axis=1)
                )
            )
        }
    )
    tornado = by_source(
        lattice, scores, unplanned, outages, base, metered, alone, kept, outlook.spells
    )
    return EnergyUncertainty(
        base,
        outlook,
        int(several_years),
        whole_years=base.rows,
        factors=factors(lattice, scores, unplanned),
        tornado=tornado,
        next_measurements=advice(tornado, planned),
        statement=uncertainties.statement,
        effective_draws=effective,
        seed=seed,
        winter=tuple(winter),
        findings=tuple(findings),
    )


def _few(base: Year) -> tuple[Finding, ...]:
    """That the record is too short to tell how much years differ."""
    if len(base.rows) >= FEW_YEARS:
        return ()
    text = Sentence(
        "the record has {years}, too few to give the year-to-year variability: a standard deviation "
        "of {sd} of a year's energy is taken (common practice)",
        years=counted(len(base.rows), "whole year"),
        sd=Amount(FEW_YEARS_SD, "share"),
    )
    return (Finding("caution", "uncertainty", text),)


def _base_year(
    record: pd.Series,
    rights: Rights,
    chain: Chain,
    outages: Outages,
    demand_w: Floats | None,
    winter: tuple[int, ...],
    start_month: int,
) -> Year:
    curves = chain.curves()
    usable = usable_flow(record.to_numpy(), days_of(record), rights, most_taken(curves))
    return annual_energy(
        pd.Series(usable, record.index), curves, outages, demand_w, winter, start_month=start_month
    )
