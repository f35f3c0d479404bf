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
>>> found = energy_doubt(creek, resolve_rights([fixed("4 L/s")]), plant, draws=500)
>>> table = found.percentiles()
>>> bool(table.loc["annual", "P90"] < table.loc["annual", "P50"]), found.tornado.index[0]
(True, 'rating')
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import betaincinv, ndtri, stdtrit

from ..errors import Finding, HydrokitError, counted
from ..plant.chain import Chain
from ..plant.curve import most_taken
from ..stream.record import WATER_YEAR, checked
from .advice import against_doubt
from .intake import intake_shares, shares_of_draws
from .lattice import FURTHEST, PLANT, SOURCES, Lattice, usable_flow
from .outlook import FEW_YEARS, FEW_YEARS_SD, Outlook, even_points, years_sd
from .year import MONTHS, WINTER, Outages, Year, annual_energy

__all__ = ["Doubt", "Metered", "Uncertainties", "energy_doubt"]


@dataclass(frozen=True, eq=False)
class Uncertainties:
    """Standard deviations of what the energy rests on, as shares of the value itself.

    The defaults are common practice for a small plant measured with care; put your own in.

    Parameters
    ----------
    rating : float, or pairs of flow [m³/s] and float
        Natural flow, one error for the whole record. 0.10: a rating from a dozen gaugings; take it
        from the rating's own band where there is one. Pairs let it grow toward floods and drought.
    extension : float
        More of the same where the record was lengthened from another creek. 0.0: not lengthened.
    head : float
        Gross head. 0.01: a levelled survey, or a tested gauge.
    loss : float
        Loss of the penstock. 0.15: twice the roughness of a plastic pipe changes its friction by
        5 to 15 %, and a fitting's coefficient is known to a fifth.
    efficiency : float
        Water to wire. 0.05: maker's promise against what small machines have been measured to do.
    jet_area : float
        Bore and discharge coefficient of the jets. 0.03: half the spread of a kind of nozzle in
        ``plant.jets.JET_KINDS``.
    intake : float
        What the intake passes, where that was measured. 0.0: taken as it is.
    outage : float
        Standard deviation of the unplanned share of time lost itself (not a share of it). 0.01.
    correlated : tuple of (source, source, coefficient)
        Sources whose errors go together, such as ``("efficiency", "jet_area", -0.9)`` after a
        commissioning with watts only. All others are independent.
    """

    rating: Any = 0.10
    extension: float = 0.0
    head: float = 0.01
    loss: float = 0.15
    efficiency: float = 0.05
    jet_area: float = 0.03
    outage: float = 0.01
    intake: float = 0.0
    correlated: tuple[tuple[str, str, float], ...] = ()

    def __post_init__(self) -> None:
        for each in fields(self)[:-1]:
            sd = np.asarray(getattr(self, each.name), dtype=float)
            sd = sd[:, 1] if sd.ndim == 2 else sd
            if np.any(~(sd >= 0)) or np.any(sd > 1):
                raise HydrokitError(
                    f"Uncertainties: {each.name} is a standard deviation as a share, 0 to 1; got {getattr(self, each.name)!r}"
                )
        for first, second, _ in self.correlated:
            if first not in SOURCES or second not in SOURCES:
                raise HydrokitError(
                    f"Uncertainties: correlated must name two of {', '.join(SOURCES)}; got {first!r} and {second!r}"
                )

    def rating_si(self, flow_m3s: Any) -> Any:
        """Standard deviation of the logarithm of a natural flow, extension included."""
        if np.ndim(self.rating) == 2:
            flow, sd = np.asarray(self.rating, dtype=float).T
            rating = np.interp(np.log(np.maximum(flow_m3s, 1e-9)), np.log(flow), sd)
        else:
            rating = float(self.rating)
        return np.hypot(rating, self.extension)

    @property
    def statement(self) -> str:
        """What goes together, in words."""
        tied = [
            f"{first} and {second} go together ({coefficient:+.2f})"
            for first, second, coefficient in self.correlated
        ]
        return "; ".join(
            [
                "one error of the flow, the head, the loss, the jets, the efficiency and the outages a draw, the same in all its years",
                "errors are independent of each other and of the weather"
                if not tied
                else ", ".join(tied) + "; all other errors are independent",
                "flow, temperature and demand of a year stay together; years follow each other at random",
                "what so few years leave open of their mean and their spread is included, by Student's t",
            ]
        )

    def mixing(self) -> np.ndarray:
        """Matrix that gives independent normal numbers the wanted correlations."""
        matrix = np.eye(len(SOURCES))
        for first, second, coefficient in self.correlated:
            i, j = SOURCES.index(first), SOURCES.index(second)
            matrix[i, j] = matrix[j, i] = coefficient
        try:
            return np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            raise HydrokitError(
                "Uncertainties: these correlations cannot all be true together; weaken one of them"
            ) from None


@dataclass(frozen=True, eq=False)
class Metered:
    """Watts measured on the running plant: they tie head, loss, jets and efficiency together.

    Parameters
    ----------
    power_w : float
        Net power read.
    sd : float
        Its standard deviation as a share, how steady the plant was included.
    jets : int or None
        Jets open meanwhile.
    flow_m3s : float
        Flow offered meanwhile; infinite when the pond was spilling.
    month : int or None
        Whose state of screens, air and ice held.
    """

    power_w: float
    sd: float = 0.03
    jets: int | None = None
    flow_m3s: float = np.inf
    month: int | None = None


@dataclass(frozen=True, eq=False)
class Doubt:
    """Energy with its doubt.

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
    next_measurements : tuple of str
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
    whole_years: tuple[int, ...]
    factors: pd.DataFrame
    tornado: pd.DataFrame
    next_measurements: tuple[str, ...]
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
        self, of: str = "single", useful: bool = False, levels: tuple[float, ...] = (50, 75, 90, 99)
    ) -> pd.DataFrame:
        """Energy in kWh exceeded with the chances asked for, with all that is not known of creek, plant and years.

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
            Rows ``annual``, ``winter`` and 1 to 12; columns P50, P75, P90, P99. Months do not add up
            to the year: not all bad months come in one year.
        """
        asked = of, useful, tuple(levels)
        if asked not in self._found:
            kwh = self._outcomes(of, useful)
            columns = kwh.sum(axis=1), kwh[:, np.array(self.winter) - 1].sum(axis=1), *kwh.T
            found = [
                np.quantile(column, [1 - level / 100 for level in levels]) for column in columns
            ]
            self._found[asked] = pd.DataFrame(
                found,
                index=["annual", "winter", *MONTHS.tolist()],
                columns=[f"P{level:g}" for level in levels],
            )
        return self._found[asked].copy()

    def annual_kwh(self, level: float = 50, of: str = "single") -> float:
        """Annual energy exceeded with a chance given in per cent."""
        return float(np.quantile(self._outcomes(of, False).sum(axis=1), 1 - level / 100))

    def steps(self, of: str = "single", level: float = 90) -> pd.Series:
        """From P50 down to P90, or another level, in kWh by source: each by its share of the variance; they add up to the whole step."""
        share = self.tornado["share_single_year" if of == "single" else "share_without_weather"]
        if of == "several":
            variance = self.tornado["sd_kwh"].to_numpy() ** 2 / np.where(
                self.tornado.index == "weather", self.several_years, 1.0
            )
            share = pd.Series(variance / max(variance.sum(), 1e-300), self.tornado.index)
        return (share * (self.annual_kwh(50, of) - self.annual_kwh(level, of))).rename("kwh")


def energy_doubt(
    record: pd.Series,
    rights: Any,
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
    operating: Any = None,
) -> Doubt:
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
    Doubt

    Raises
    ------
    HydrokitError
        No whole year in the record: use :func:`bracket`.

    Notes
    -----
    The lattice: sizes of the flow's error one per cent apart, through the real rights each; three
    sizes each of head, loss and efficiency and five of jet area, on one grid of some 600 flows.
    Between them the energy of each month of each year is interpolated; percentiles agree to 1e-3 of
    the annual energy and better with working every draw out by itself. A doubt above 0.2 is read
    along straight lines between five sizes, which never leave what is possible; percentiles then
    agree to a few per cent.

    Errors are drawn evenly, not at random, and every draw is weighed over all years, so that
    the percentiles of one year hardly hang on the seed. What so few years leave open is added as
    :mod:`hydrokit.energy.outlook` says.

    P50 is a quantile of the energies of the draws (function first, then the middle), not the
    energy of the middle plant.
    """
    uncertainties = Uncertainties() if uncertainties is None else uncertainties
    outages = Outages() if outages is None else outages
    record = checked(record)
    base = _base_year(record, rights, chain, outages, demand_w, winter, start_month)
    if not base.rows:
        raise HydrokitError(
            "energy_doubt(): the record has no whole year, so no year can stand for those to come; use bracket()"
        )
    lattice = Lattice.of(record, rights, chain, uncertainties, base, demand_w)
    kept, each_day_alone = None, base
    if operating is not None and operating.loses:
        kept = lattice.kept(operating, record, chain, demand_w, start_month)
        base = kept.of_year(base)

    rng = np.random.default_rng(seed)
    shares = even_points(rng, draws, len(SOURCES) + 4)
    scores = np.clip(
        ndtri(shares[:, : len(SOURCES)]) @ uncertainties.mixing().T, -FURTHEST, FURTHEST
    )
    unplanned = _beta(shares[:, -4], outages.unplanned, uncertainties.outage)
    findings, effective = [*base.findings, *_few(base)], float(draws)
    if metered is not None:
        scores, effective = _conditioned(scores, rng, lattice, chain, metered)
        if effective < 0.02 * draws:
            text = f"the meter's {metered.power_w:.0f} W lie far from what the parts promise; fit the parts to readings first (commissioning)"
            findings.append(Finding("problem", "doubt", text))

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
        if useful is not None:
            useful *= shares_of_draws(passes, intake[1])
    if kept is not None:
        where, run = (
            kept.place(lattice.log_flow(scores), lattice.log_full(scores, chain)),
            rng.permutation(np.arange(draws) % kept.runs),
        )
        made *= kept.at(where, run)
        if useful is not None:
            useful *= kept.met_at(where, lattice.log_power(scores, chain), run)
    outlook = Outlook(
        made,
        useful,
        lattice.most_kwh(scores) * running,
        shares[:, -2:],
        base.yearly_kwh.loc[list(base.rows)].to_numpy(),
        seed,
    )
    alone = (
        {}
        if intake is None
        else {
            "intake": float(
                np.std(
                    shares_of_draws(
                        passes[:_DRAWS_FOR_SPREAD],
                        intake[0] * base.kwh.loc[list(base.rows)].to_numpy().ravel(),
                    )
                    .sum(axis=2)
                    .mean(axis=1)
                )
            )
        }
    )
    tornado = _tornado(lattice, scores, unplanned, outages, base, metered, alone, kept)
    return Doubt(
        base,
        outlook,
        int(several_years),
        base.rows,
        _factors(lattice, scores, unplanned),
        tornado,
        _advice(tornado, planned),
        uncertainties.statement,
        effective,
        seed,
        tuple(winter),
        tuple(findings),
    )


def _few(base: Year) -> tuple[Finding, ...]:
    """That the record is too short to tell how much years differ."""
    if len(base.rows) >= FEW_YEARS:
        return ()
    text = f"the record has {counted(len(base.rows), 'whole year')}, too few to tell how much years differ: a standard deviation of {100 * FEW_YEARS_SD:.0f} % of a year's energy is taken (common practice)"
    return (Finding("caution", "doubt", text),)


def _base_year(record, rights, chain, outages, demand_w, winter, start_month) -> Year:
    curves = chain.curves()
    usable = usable_flow(record.to_numpy(), record.index, rights, most_taken(curves))
    return annual_energy(
        pd.Series(usable, record.index), curves, outages, demand_w, winter, start_month=start_month
    )


# --- draws ----------------------------------------------------------------------------------


def _beta(share: np.ndarray, mean: float, sd: float) -> np.ndarray:
    """Shares of time with a mean and a standard deviation, each as great as a share of all of them allows."""
    if sd == 0 or mean in (0.0, 1.0):
        return np.full(len(share), float(mean))
    if sd**2 >= mean * (1 - mean):
        raise HydrokitError(
            f"Uncertainties: outage {sd:g} is too wide for a share of time around {mean:g}"
        )
    size = mean * (1 - mean) / sd**2 - 1
    return betaincinv(mean * size, (1 - mean) * size, share)


def _conditioned(
    scores, rng, lattice: Lattice, chain: Chain, metered: Metered
) -> tuple[np.ndarray, float]:
    """Draws taken again in proportion to how well they explain the meter, and what they are worth."""
    at_lattice = np.log(
        np.asarray(
            lattice.plants.at_si(metered.flow_m3s, metered.month, metered.jets).power_w
        ).ravel()
    )
    if not np.all(np.isfinite(at_lattice)):
        raise HydrokitError("Metered: the plant gives no power at the flow and jets of the reading")
    at_lattice = np.broadcast_to(at_lattice, lattice.kwh.shape[1])
    miss = (lattice.plant_basis(scores) @ at_lattice - np.log(metered.power_w)) / metered.sd
    weight = np.exp(-0.5 * (miss**2 - np.min(miss**2)))
    weight /= weight.sum()
    ladder = (np.arange(len(scores)) + rng.random()) / len(scores)
    taken = np.minimum(np.searchsorted(np.cumsum(weight), ladder), len(scores) - 1)
    # flow errors know nothing of the meter and are left as they were drawn
    again = scores.copy()
    again[:, 2:] = scores[taken, 2:]
    return again, float(1 / np.sum(weight**2))


def _factors(lattice: Lattice, scores: np.ndarray, unplanned: np.ndarray) -> pd.DataFrame:
    flow = (
        np.exp(lattice.middle_sd * lattice.flow_score(scores))
        if len(lattice.nodes[0]) > 1
        else np.ones(len(scores))
    )
    plant = {name: lattice.factors.of(name, scores[:, SOURCES.index(name)]) for name in PLANT}
    return pd.DataFrame({"flow": flow, **plant, "unplanned": unplanned})


# --- what it comes from ---------------------------------------------------------------------

_DRAWS_FOR_SPREAD = 4000  # a standard deviation to about one per cent

_ADVICE = {
    "rating": "gauge the creek at the flows that decide the energy, and refit the rating",
    "extension": "keep this creek's own gauge running: every year of its own record replaces a borrowed one",
    "intake": "measure once more what the intake passes, clean: catch it below, or time how fast the forebay fills",
    "years": "keep the creek's gauge running, or find a neighbour's long record: only more years narrow what so few leave open",
}


def _tornado(
    lattice: Lattice,
    scores,
    unplanned,
    outages: Outages,
    base: Year,
    metered,
    others: dict[str, float],
    kept,
) -> pd.DataFrame:
    """One source at a time, the others as they stand; what a meter ties together is one source."""
    scores = scores[:_DRAWS_FOR_SPREAD]
    groups = {name: [name] for name in SOURCES}
    if metered is not None:
        groups = {"rating": ["rating"], "extension": ["extension"], "plant": list(PLANT)}
    mean_year, spread = lattice.mean_year(outages.running, kept), {}
    for name, members in groups.items():
        alone = np.zeros_like(scores)
        for member in members:
            alone[:, SOURCES.index(member)] = scores[:, SOURCES.index(member)]
        spread[name] = float(np.std(lattice.read(mean_year, alone)))
    running = max(1 - outages.unplanned, 1e-12)
    spread["outage"] = float(np.std((1 - unplanned) / running)) * float(base.annual_kwh)
    spread |= others
    spread["weather"] = years_sd(base.yearly_kwh.loc[list(base.rows)].to_numpy())
    spread["years"] = spread["weather"] / np.sqrt(len(base.rows)) * _width(len(base.rows))
    table = pd.DataFrame({"sd_kwh": spread}).sort_values("sd_kwh", ascending=False)
    table["share_single_year"] = table["sd_kwh"] ** 2 / max(np.sum(table["sd_kwh"] ** 2), 1e-300)
    known = table["sd_kwh"].where(table.index != "weather", 0.0) ** 2
    table["share_without_weather"] = known / max(known.sum(), 1e-300)
    table.index.name = "source"
    return table


def _width(years: int) -> float:
    """Half the interval that holds a mean with 68 %, in standard errors: beyond 1 where the years are few (Student's t)."""
    return float(stdtrit(years - 1, 0.8413447460685429)) if years >= FEW_YEARS else 1.0


def _advice(tornado: pd.DataFrame, planned: bool) -> tuple[str, ...]:
    advice = _ADVICE | against_doubt(planned)
    shares = tornado["share_without_weather"].drop("weather")
    return tuple(
        f"{advice[name]} ({100 * share:.0f} % of what measuring can narrow)"
        for name, share in shares.items()
        if share >= 0.02
    )
