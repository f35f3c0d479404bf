"""How sure the energy is: one set of errors a draw, whole years resampled.

Every draw is a plant and a creek that could be the true ones: the rating's error scales all the
natural flow of the record, before what must stay is taken off; the head, the loss, the jets and
the efficiency are scaled; the outages are drawn; then whole years are drawn from the record. The
energy of a draw is read from a lattice of such plants, all of them worked out exactly.

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
from typing import Any

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError
from ..plant.chain import Chain
from ..plant.curve import most_taken
from ..stream.record import WATER_YEAR, checked
from .advice import against_doubt
from .lattice import FURTHEST, PLANT, SOURCES, Lattice, usable_flow
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
    correlated: tuple[tuple[str, str, float], ...] = ()

    def __post_init__(self) -> None:
        for each in fields(self)[:-1]:
            sd = np.asarray(getattr(self, each.name), dtype=float)
            sd = sd[:, 1] if sd.ndim == 2 else sd
            if np.any(~(sd >= 0)) or np.any(sd > 1):
                raise HydrokitError(f"Uncertainties: {each.name} is a standard deviation as a share, 0 to 1; got {getattr(self, each.name)!r}")
        for first, second, _ in self.correlated:
            if first not in SOURCES or second not in SOURCES:
                raise HydrokitError(f"Uncertainties: correlated must name two of {', '.join(SOURCES)}; got {first!r} and {second!r}")

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
        tied = [f"{first} and {second} go together ({coefficient:+.2f})" for first, second, coefficient in self.correlated]
        return "; ".join(
            [
                "one error of the flow, the head, the loss, the jets, the efficiency and the outages a draw, the same in all its years",
                "errors are independent of each other and of the weather" if not tied else ", ".join(tied) + "; all other errors are independent",
                "flow, temperature and demand of a year stay together; years follow each other at random",
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
            raise HydrokitError("Uncertainties: these correlations cannot all be true together; weaken one of them") from None


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
    single_kwh, mean_kwh : ndarray, draws × 12
        By month: a single year to come, and the mean of `mean_years` years.
    useful_single_kwh, useful_mean_kwh : ndarray or None
        The same of the energy that the demand can take.
    mean_years : int
    whole_years : tuple of int
        Years drawn from.
    factors : pandas.DataFrame
        What each draw assumed: a column for each source, the unplanned outage, and the year drawn
        for the single year.
    tornado : pandas.DataFrame
        One row a source, largest first: standard deviation of the mean annual energy if it alone
        were unknown [kWh], and its share of the variance with the weather of a single year and without.
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
    single_kwh: np.ndarray
    mean_kwh: np.ndarray
    useful_single_kwh: np.ndarray | None
    useful_mean_kwh: np.ndarray | None
    mean_years: int
    whole_years: tuple[int, ...]
    factors: pd.DataFrame
    tornado: pd.DataFrame
    next_measurements: tuple[str, ...]
    statement: str
    effective_draws: float
    seed: int
    winter: tuple[int, ...]
    findings: tuple[Finding, ...]

    def percentiles(self, of: str = "single", useful: bool = False, levels: tuple[float, ...] = (50, 75, 90)) -> pd.DataFrame:
        """Energy in kWh exceeded with the chances asked for.

        Parameters
        ----------
        of : {"single", "mean"}
            A single year, or the mean of ``mean_years`` years.
        useful : bool
            What the demand can take instead of what is generated.
        levels : tuple of number
            Per cent: 90 is exceeded in nine cases of ten.

        Returns
        -------
        pandas.DataFrame
            Rows ``annual``, ``winter`` and 1 to 12; columns P50, P75, P90. Months do not add up to
            the year: not all bad months come in one year.
        """
        kwh = getattr(self, ("useful_" if useful else "") + f"{of}_kwh")
        if kwh is None:
            raise HydrokitError("percentiles(): no demand was given, so there is no useful energy")
        winter = kwh[:, np.array(self.winter) - 1].sum(axis=1)
        columns = np.column_stack([kwh.sum(axis=1), winter, kwh])
        found = np.quantile(columns, [1 - level / 100 for level in levels], axis=0).T
        return pd.DataFrame(found, index=["annual", "winter", *MONTHS.tolist()], columns=[f"P{level:g}" for level in levels])

    def annual_kwh(self, level: float = 50, of: str = "single") -> float:
        """Annual energy exceeded with a chance given in per cent."""
        return float(self.percentiles(of, levels=(level,)).iloc[0, 0])


def energy_doubt(
    record: pd.Series,
    rights: Any,
    chain: Chain,
    uncertainties: Uncertainties | None = None,
    draws: int = 10_000,
    seed: int = 1,
    outages: Outages | None = None,
    demand_w: Any = None,
    mean_years: int | None = None,
    metered: Metered | None = None,
    winter: tuple[int, ...] = WINTER,
    start_month: int = WATER_YEAR,
    planned: bool = False,
) -> Doubt:
    """Energy of the years to come, with what is not known about creek and plant.

    Parameters
    ----------
    record : pandas.Series
        Natural flow, daily. Only its whole years are drawn from.
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
    mean_years : int, optional
        Years in the mean; as many as are drawn from when not given.
    metered : Metered, optional
        Watts read on the plant.
    winter : tuple of int
    start_month : int
    planned : bool
        Nothing can be read on the plant yet: other advice on what to measure next.

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
    Between them the energy of each month of each year is
    interpolated. The single year is worked out day by day at its own flows, unless the rights have
    memory. Against working every draw out by itself, percentiles agree to 1e-3 of the annual energy
    and better. A doubt above 0.2 is read along straight lines between five sizes, which never leave
    what is possible; percentiles then agree to a few per cent.

    P50 is a quantile of the energies of the draws (function first, then the middle), not the
    energy of the middle plant.
    """
    uncertainties = Uncertainties() if uncertainties is None else uncertainties
    outages = Outages() if outages is None else outages
    record = checked(record)
    base = _base_year(record, rights, chain, outages, demand_w, winter, start_month)
    if not base.rows:
        raise HydrokitError("energy_doubt(): the record has no whole year, so its years cannot be drawn from; use bracket()")
    lattice = Lattice.of(record, rights, chain, uncertainties, base, demand_w)

    rng = np.random.default_rng(seed)
    scores = np.clip(rng.standard_normal((draws, len(SOURCES))) @ uncertainties.mixing().T, -FURTHEST, FURTHEST)
    unplanned = _beta(rng, outages.unplanned, uncertainties.outage, draws)
    findings, effective = list(base.findings), float(draws)
    if metered is not None:
        scores, effective = _conditioned(scores, rng, lattice, chain, metered)
        if effective < 0.02 * draws:
            text = f"the meter's {metered.power_w:.0f} W lie far from what the parts promise; fit the parts to readings first (commissioning)"
            findings.append(Finding("problem", "doubt", text))

    whole, mean_years = len(base.rows), len(base.rows) if mean_years is None else int(mean_years)
    one = rng.integers(whole, size=draws)
    drawn = rng.integers(whole, size=(draws, mean_years)) + whole * np.arange(draws)[:, None]
    share = np.bincount(drawn.ravel(), minlength=draws * whole).reshape(draws, whole) / mean_years
    running = (1 - outages.planned) * (1 - unplanned)[:, None]
    single, mean, useful_single, useful_mean = (
        None if each is None else each * running for each in lattice.draw(scores, one, share)
    )
    tornado = _tornado(lattice, scores, unplanned, outages, base, metered)
    return Doubt(
        base, single, mean, useful_single, useful_mean, mean_years, base.rows, _factors(lattice, scores, unplanned, np.array(base.rows)[one]), tornado,
        _advice(tornado, planned), uncertainties.statement, effective, seed, tuple(winter), tuple(findings),
    )  # fmt: skip


def _base_year(record, rights, chain, outages, demand_w, winter, start_month) -> Year:
    curves = chain.curves()
    usable = usable_flow(record.to_numpy(), record.index, rights, most_taken(curves))
    return annual_energy(pd.Series(usable, record.index), curves, outages, demand_w, winter, start_month=start_month)


# --- draws ----------------------------------------------------------------------------------


def _beta(rng: np.random.Generator, mean: float, sd: float, draws: int) -> np.ndarray:
    """Shares between 0 and 1 with a mean and a standard deviation."""
    if sd == 0 or mean in (0.0, 1.0):
        return np.full(draws, float(mean))
    if sd**2 >= mean * (1 - mean):
        raise HydrokitError(f"Uncertainties: outage {sd:g} is too wide for a share of time around {mean:g}")
    size = mean * (1 - mean) / sd**2 - 1
    return rng.beta(mean * size, (1 - mean) * size, draws)


def _conditioned(scores, rng, lattice: Lattice, chain: Chain, metered: Metered) -> tuple[np.ndarray, float]:
    """Draws taken again in proportion to how well they explain the meter, and what they are worth."""
    at_lattice = np.log(np.asarray(lattice.plants.at_si(metered.flow_m3s, metered.month, metered.jets).power_w).ravel())
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


def _factors(lattice: Lattice, scores: np.ndarray, unplanned: np.ndarray, year: np.ndarray) -> pd.DataFrame:
    flow = np.exp(lattice.middle_sd * lattice.flow_score(scores)) if len(lattice.nodes[0]) > 1 else np.ones(len(scores))
    plant = {name: lattice.factors.of(name, scores[:, SOURCES.index(name)]) for name in PLANT}
    return pd.DataFrame({"flow": flow, **plant, "unplanned": unplanned, "year": year})


# --- what it comes from ---------------------------------------------------------------------

_DRAWS_FOR_SPREAD = 4000  # a standard deviation to about one per cent

_ADVICE = {
    "rating": "gauge the creek at the flows that decide the energy (low water most of all) and refit the rating",
    "extension": "keep this creek's own gauge running: every year of its own record replaces a borrowed one",
    "weather": "only more years of record narrow this; take the mean of many years for a loan, P90 of one year for a freezer",
}


def _tornado(lattice: Lattice, scores, unplanned, outages: Outages, base: Year, metered) -> pd.DataFrame:
    """One source at a time, the others as they stand; what a meter ties together is one source."""
    scores = scores[:_DRAWS_FOR_SPREAD]
    groups = {name: [name] for name in SOURCES}
    if metered is not None:
        groups = {"rating": ["rating"], "extension": ["extension"], "plant": list(PLANT)}
    mean_year, spread = lattice.mean_year(outages.running), {}
    for name, members in groups.items():
        alone = np.zeros_like(scores)
        for member in members:
            alone[:, SOURCES.index(member)] = scores[:, SOURCES.index(member)]
        spread[name] = float(np.std(lattice.read(mean_year, alone)))
    running = max(1 - outages.unplanned, 1e-12)
    spread["outage"] = float(np.std((1 - unplanned) / running)) * float(base.annual_kwh)
    spread["weather"] = float(base.yearly_kwh.std(ddof=1)) if len(base.rows) > 1 else np.nan
    table = pd.DataFrame({"sd_kwh": spread}).sort_values("sd_kwh", ascending=False)
    table["share_single_year"] = table["sd_kwh"] ** 2 / np.nansum(table["sd_kwh"] ** 2)
    known = table["sd_kwh"].where(table.index != "weather", 0.0) ** 2
    table["share_without_weather"] = known / max(known.sum(), 1e-300)
    table.index.name = "source"
    return table


def _advice(tornado: pd.DataFrame, planned: bool) -> tuple[str, ...]:
    advice = _ADVICE | against_doubt(planned)
    shares = tornado["share_without_weather"]
    return tuple(f"{advice[name]} ({100 * share:.0f} % of what measuring can narrow)" for name, share in shares.items() if share >= 0.02)
