"""Several studies side by side: which creek first, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..energy.levels import MEDIAN, SECURE_NAME, level_name
from ..errors import InputError, Mistake, Told
from ..files import write_csv_text
from ..study.build.log import by_log
from ..study.view import View
from . import next_measurements
from .display import csv_number, csv_text

if TYPE_CHECKING:
    from ..energy.money import Costs
    from ..study.study import Study

__all__ = ["RANKS", "Candidate", "Order", "candidate", "named_apart", "ordered", "table_text"]

# Lacking property -> what it is called, along the water.
_LACKED = {
    "record": "a daily record",
    "head": "the head",
    "penstock": "the penstock",
    "plant": "the machine",
}
_NEXT = 2  # measurements named for each study
# What a reader may ask to be ranked by, and the number of a candidate that it is.
RANKS = {"kwh": "p50_kwh", "benefit": "benefit_money", "winter": "winter_secure_kwh"}


@dataclass(frozen=True, eq=False)
class Candidate:
    """One study in the numbers that are compared. NaN where not known.

    Parameters
    ----------
    name, place : str
    exists : bool
        The plant runs today.
    currency : str
    head_m, flow_m3s, power_w : float
        Gross head; flow and power with everything open.
    p50_kwh, secure_kwh : float
        Energy that one year exceeds with 50 % probability, and with that of the secure level (P90).
    winter_secure_kwh : float
        The same of a winter, at the secure level.
    winter_share : float
        Of the energy of a mean year.
    winter : tuple of int
        Months counted as winter.
    low_kwh, high_kwh : float
        Bracket of a study without a record.
    cost_money_per_kwh : float
        Levelised, of a kWh that earns anything.
    cost_sd : float
        Its relative standard deviation.
    limiting : tuple of (str, float)
        Parts that limit the power, with the share of the time, the most frequent first.
    limiting_of : str
        Of what time: the year, or the months whose flow is known.
    lacking : tuple of str
        What stands between it and a comparison.
    unknown : tuple of Sentence or str
        What is not known yet, and what to measure next.
    first_money : float
        Capital cost.
    costs : Costs or None
        What upkeep and life are taken from, to put studies on one basis.
    made_kwh, useful_kwh : float
        Net energy of a mean year; what the demand takes of it, NaN where no demand is stated.
    benefit_money : float
        Net annual benefit: what the energy of a mean year is worth, less annuity and upkeep.
    benefit_sd_money : float
        Its standard deviation.
    """

    name: str
    place: str
    exists: bool
    _: KW_ONLY
    currency: str
    head_m: float
    flow_m3s: float
    power_w: float
    p50_kwh: float
    secure_kwh: float
    winter_secure_kwh: float
    winter_share: float
    winter: tuple[int, ...]
    low_kwh: float
    high_kwh: float
    cost_money_per_kwh: float
    cost_sd: float
    limiting: tuple[tuple[str, float], ...]
    limiting_of: str
    lacking: tuple[str, ...]
    unknown: tuple[str | Told, ...]
    first_money: float = np.nan
    costs: Costs | None = None
    made_kwh: float = np.nan
    useful_kwh: float = np.nan
    benefit_money: float = np.nan
    benefit_sd_money: float = np.nan

    def cost_on(self, useful: bool, rate: float) -> float:
        """Levelised cost per kWh at a discount rate: of what is useful, or of all that is made."""
        if self.costs is None:
            return np.nan
        costs = replace(self.costs, discount_rate=rate)
        return float(
            costs.yearly_si(self.first_money) / (self.useful_kwh if useful else self.made_kwh)
        )

    @property
    def comparable(self) -> bool:
        """Whether its years are known."""
        return bool(np.isfinite(self.secure_kwh))


# --- one study ------------------------------------------------------------------------------


def candidate(study: Study) -> Candidate:
    """A study's numbers for the comparison."""
    full = None if study.plant is None else study.plant.running().at_si(np.inf)
    p50 = secure = winter_secure = winter = low = high = np.nan
    log = study.log_year if by_log(study) else None
    if study.energy_uncertainty is not None and study.year is not None:
        found = study.energy_uncertainty.percentiles()
        p50, secure, winter_secure = (
            float(found[level_name(MEDIAN)]["annual"]),
            float(found[SECURE_NAME]["annual"]),
            float(found[SECURE_NAME]["winter"]),
        )
        winter = study.year.winter_kwh / study.year.annual_kwh
    elif log is not None:
        p50, secure, winter = (
            log.annual_kwh,
            log.exceeded_kwh(0.9),
            float(log.monthly_kwh[np.array(study.winter) - 1].sum()) / log.annual_kwh,
        )
        winter_secure = winter * secure
    elif study.bracket is not None:
        low, high = study.bracket.low_kwh, study.bracket.high_kwh
    cost, sd = _cost(study)
    limiting, limiting_of = _limiting(study)
    first_money, costs, made_kwh, useful_kwh = _basis(study)
    benefit, benefit_sd = _benefit(study)
    return Candidate(
        study.name,
        study.place,
        study.exists,
        currency=study.site.site.currency,
        head_m=np.nan if study.head is None else study.head.value,
        flow_m3s=np.nan if full is None else float(full.used_m3s),
        power_w=np.nan if full is None else float(full.power_w),
        p50_kwh=p50,
        secure_kwh=secure,
        winter_secure_kwh=winter_secure,
        winter_share=float(winter),
        winter=tuple(study.winter),
        low_kwh=low,
        high_kwh=high,
        cost_money_per_kwh=cost,
        cost_sd=sd,
        limiting=limiting,
        limiting_of=limiting_of,
        lacking=tuple(_lacking(study)),
        unknown=_unknown(study),
        first_money=first_money,
        costs=costs,
        made_kwh=made_kwh,
        useful_kwh=useful_kwh,
        benefit_money=benefit,
        benefit_sd_money=benefit_sd,
    )


def _benefit(study: Study) -> tuple[float, float]:
    """Net annual benefit and its standard deviation; NaN where costs or prices are lacking, or the
    price of a pipe."""
    found = study.money
    if found is None or found.stands is None or found.findings or not found.valued:
        return np.nan, np.nan
    return float(found.stands.worth_money), float(np.std(found.case.drawn.worth_money))


def named_apart(candidates: Sequence[Candidate], folders: Sequence[str]) -> list[Candidate]:
    """The candidates, with the folder as the name of those that share theirs, as variants of one study do."""
    names = [each.name for each in candidates]
    return [
        replace(each, name=folder) if names.count(each.name) > 1 else each
        for each, folder in zip(candidates, folders)
    ]


def _basis(study: Study) -> tuple[float, Costs | None, float, float]:
    """Capital cost, costs, energy made and useful, by which a study is put on one basis with others."""
    found = study.money
    if found is None or not found.items:
        return np.nan, None, np.nan, np.nan
    return (
        float(found.first_money),
        found.costs,
        found.energy.made_kwh,
        found.energy.kwh if found.energy.demand_known else np.nan,
    )


def _cost(study: Study) -> tuple[float, float]:
    """Levelised cost of a kWh that earns anything, and its relative uncertainty; NaN where costs
    are lacking, or the price of a pipe."""
    found = study.money
    if found is None or found.stands is None or found.findings:
        return np.nan, np.nan
    drawn = np.ones(1) if found.energy.draws_kwh is None else found.energy.draws_kwh
    return float(found.stands.levelised_money_per_kwh), float(
        np.hypot(np.std(drawn) / np.mean(drawn), found.costs.uncertainty)
    )


def _limiting(study: Study) -> tuple[tuple[tuple[str, float], ...], str]:
    """Which part limits the power on what share of the time, as the study's own page has it, and of
    what time."""
    found = study.limiting_days
    if found is None:
        return (), ""
    return tuple(found.share.items()), "the year" if found.whole_record else "the months known"


def _unknown(study: Study) -> tuple[str | Told, ...]:
    missing: list[str | Told] = [*_lacking(study)]
    following = next_measurements.sentences(study, _NEXT)
    if not study.site.rights.residual and not any("must stay" in str(each) for each in following):
        missing.append("the residual flow")
    if not study.exists and not study.site.costs:
        missing.append("the costs")
    if study.year is not None:
        missing += [each.sentence for each in study.year.findings if each.where == "year"]
    return (*missing, *following)


def _lacking(study: Study) -> list[str]:
    """What stands between this study and a comparison."""
    return [name for each, name in _LACKED.items() if getattr(study, each) is None]


# --- the order ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Order:
    """The candidates put in order.

    Parameters
    ----------
    ranked : tuple of Candidate
        Those that can be built and compared, the first first.
    running : tuple of Candidate
        Plants that run today and have a record.
    waiting : tuple of Candidate
        Those whose years are not known: not comparable yet.
    by : {"cost", "energy", "kwh", "benefit", "winter"}
        What the order is by: the cost of a kWh, or the secure energy (P90) of a year where costs are not
        known for all or not in one currency; or what the reader asked for.
    apart : tuple of bool
        For each of `ranked` but the last, whether it stands out from the next beyond the uncertainty of
        both.
    basis : str
        What was made alike so that costs compare; empty where they are alike as they stand.
    """

    ranked: tuple[Candidate, ...]
    running: tuple[Candidate, ...]
    waiting: tuple[Candidate, ...]
    _: KW_ONLY
    by: str
    apart: tuple[bool, ...]
    basis: str = ""

    @property
    def every(self) -> tuple[Candidate, ...]:
        """All of them, in the order in which they are told."""
        return (*self.ranked, *self.running, *self.waiting)


def ordered(candidates: Sequence[Candidate], rank: str = "") -> Order:
    """Put candidates in order.

    Parameters
    ----------
    candidates : sequence of Candidate
    rank : {"", "kwh", "benefit", "winter"}
        By the energy of a median year, the net annual benefit or the secure energy (P90) of the
        winter, the most first, plants that run among them; left out, the cheapest kWh first of
        those to be built, on one basis for all, else the most energy in a dry year (P90).

    Raises
    ------
    InputError
        Net annual benefits in several currencies.
    """
    if rank:
        return _ranked(candidates, rank)
    known = [each for each in candidates if each.comparable]
    planned = [each for each in known if not each.exists]
    costed = (
        all(np.isfinite(each.cost_money_per_kwh) for each in planned)
        and len({each.currency for each in planned}) <= 1
    )
    by = "cost" if costed and planned else "energy"
    planned, basis = _on_one_basis(planned) if by == "cost" else (planned, "")
    ranked = sorted(
        planned, key=lambda each: each.cost_money_per_kwh if by == "cost" else -each.secure_kwh
    )
    apart = tuple(_apart(first, second, by) for first, second in zip(ranked, ranked[1:]))
    waiting = tuple(each for each in candidates if not each.comparable)
    return Order(
        tuple(ranked),
        tuple(each for each in known if each.exists),
        waiting,
        by=by,
        apart=apart,
        basis=basis,
    )


def _ranked(candidates: Sequence[Candidate], rank: str) -> Order:
    """All that have the number asked for, the most first."""
    numbers = {id(each): getattr(each, RANKS[rank]) for each in candidates}
    known = [each for each in candidates if np.isfinite(numbers[id(each)])]
    basis = ""
    if rank == "benefit":
        money = sorted({each.currency for each in known})
        if len(money) > 1:
            text = (
                f"net annual benefits in {' and '.join(money)} cannot be ranked; give all studies "
                "one [site] currency, or rank by kwh"
            )
            raise InputError(Mistake("--rank", "", text))
        rates = {each.costs.discount_rate for each in known if each.costs is not None}
        if len(rates) > 1:
            basis = "Each is counted at its own study's discount rate."
    waiting = tuple(each for each in candidates if each not in known)
    ordered = sorted(known, key=lambda each: -numbers[id(each)])
    # what a kWh costs stands beside the number asked for, so it too is counted alike
    costed = [each for each in ordered if np.isfinite(each.cost_money_per_kwh)]
    alike, told = _on_one_basis(costed)
    instead = {id(each): other for each, other in zip(costed, alike)}
    ranked = [instead.get(id(each), each) for each in ordered]
    basis = f"{basis} {told}".strip()
    apart = tuple(_apart(first, second, rank) for first, second in zip(ranked, ranked[1:]))
    return Order(tuple(ranked), (), waiting, by=rank, apart=apart, basis=basis)


def _on_one_basis(planned: Sequence[Candidate]) -> tuple[list[Candidate], str]:
    """The candidates with their cost per kWh on one basis, and what was made alike, as a sentence;
    as they are where they are alike already."""
    costs = [each.costs for each in planned if each.costs is not None]
    if len(costs) < len(planned) or len(planned) < 2:
        return list(planned), ""
    rates, needs = (
        {each.discount_rate for each in costs},
        {bool(np.isfinite(each.useful_kwh)) for each in planned},
    )
    if len(rates) == 1 and len(needs) == 1:
        return list(planned), ""
    useful, rate, told = needs == {True}, max(rates), []
    if len(needs) > 1:
        told.append("per kWh made, since not all of the studies state a demand")
    if len(rates) > 1:
        told.append(f"at one discount rate, {100 * rate:.3g} %, the highest among them")
    return (
        [replace(each, cost_money_per_kwh=each.cost_on(useful, rate)) for each in planned],
        f"The costs here are {' and '.join(told)}; each study's own page counts by its own demand and rate.",
    )


def _apart(first: Candidate, second: Candidate, by: str) -> bool:
    """Whether the difference is more than one standard deviation of it, both erring on their own."""
    if by == "benefit":
        return bool(
            first.benefit_money - second.benefit_money
            > np.hypot(first.benefit_sd_money, second.benefit_sd_money)
        )
    if by == "winter":
        return first.winter_secure_kwh > second.winter_share * second.p50_kwh
    if by in ("energy", "kwh"):
        # year-to-year variability alone lifts a median year above the other's dry one
        return first.secure_kwh > second.p50_kwh
    costs = np.array([first.cost_money_per_kwh, second.cost_money_per_kwh])
    return bool(costs[1] - costs[0] > np.hypot(*(costs * [first.cost_sd, second.cost_sd])))


# --- as a table -----------------------------------------------------------------------------


def limiting_text(found: Candidate) -> str:
    """``creek 61 %, jets 39 % of the year``; of the months known where there is no record."""
    shares = [f"{part} {100 * share:.0f} %" for part, share in found.limiting if share >= 0.005]
    return f"{', '.join(shares)} of {found.limiting_of}" if shares else "not known"


def table_text(order: Order, reasons: Sequence[str], view: View) -> str:
    """The comparison as CSV; a reason for each of ``order.every``."""
    kinds = {
        "head_m": ("gross head", "head"),
        "flow_m3s": ("full flow", "flow"),
        "power_w": ("full power", "large power"),
    }
    header = [
        "rank",
        "name",
        "runs today",
        *(view.header(*kind) for kind in kinds.values()),
        "median year, P50 [kWh]",
        f"dry year, {SECURE_NAME} [kWh]",
        "bracket low [kWh]",
        "bracket high [kWh]",
        "winter share [%]",
        f"winter, {SECURE_NAME} [kWh]",
        "levelised cost per kWh",
        "net annual benefit",
        "currency",
        "limiting component",
        "not known yet",
        "why",
    ]
    rows = []
    for place, (each, reason) in enumerate(zip(order.every, reasons), 1):
        numbers = [view.number(getattr(each, name), kind) for name, (_, kind) in kinds.items()]
        numbers += [
            each.p50_kwh,
            each.secure_kwh,
            each.low_kwh,
            each.high_kwh,
            100 * each.winter_share,
            each.winter_secure_kwh,
            each.cost_money_per_kwh,
            each.benefit_money,
        ]
        texts = [
            each.currency
            if np.isfinite([each.cost_money_per_kwh, each.benefit_money]).any()
            else "",
            limiting_text(each),
            "; ".join(map(view.told, each.unknown)),
            reason,
        ]
        ranked = place if place <= len(order.ranked) else ""
        rows.append(
            [
                ranked,
                csv_text(each.name),
                "yes" if each.exists else "no",
                *map(csv_number, numbers),
                *map(csv_text, texts),
            ]
        )
    return write_csv_text(header, rows)
