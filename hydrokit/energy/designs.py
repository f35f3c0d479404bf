"""The designs of a sweep: which is best, which are as good, and which to take."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..plant.chain import Chain
from ..result import Result
from ..works.pipe import Pipe
from .design import KNEE, LOSS_LIMIT, USUAL_LOSS, Design, Equal, Reason
from .money import Costs
from .valuing import Valuing, valued

__all__ = ["Sizing"]
_YEAR_H = 8766.0


@dataclass(frozen=True, eq=False)
class Sizing(Result):
    """All designs of a sweep. Arrays are jets × flows × pipes, each in rising order.

    Parameters
    ----------
    layout : Layout
    flows_m3s : ndarray
    pipes : tuple of Pipe
    jets : tuple of int
    monthly_kwh, useful_monthly_kwh : ndarray, with a last axis of 12
        Energy of a mean year, and what the demand takes of it: all of it where none was given. Every
        aim counts what is of use.
    firm_w : ndarray
        Power exceeded on 95 % of the days.
    rated_w : ndarray
        Greatest power at the loads.
    loss_share : ndarray
        Share of the head lost at the design flow.
    aim : {"cost", "winter", "worth", "knee"}
        ``cost``: lowest cost of a useful kWh. ``winter``: most winter energy among designs whose kWh
        cost no more than they are worth. ``worth``: highest net annual benefit. ``knee``: as large as a litre
        a second more still brings :data:`KNEE` of what one that always runs would bring, which is
        about the flow exceeded in that share of the time.
    within : float
        Share that counts as equal: of the cost of a kWh, of the useful winter energy, of the net
        annual benefit, of the useful energy of the best.
    winter : tuple of int
    most_m3s : float
        Greatest flow that ever comes to the jets.
    costs : Costs or None
    prices_money_per_m : ndarray or None
        Of the pipes. Without prices only the narrowest that loses at most a tenth is allowed for
        each flow: wider ones would seem free.
    cable_m : float
    energy_sd : float
        Relative standard deviation of the energy from all but the flow.
    varied_kwh : ndarray or None
        Useful energy of a year if the natural flow is one standard deviation smaller (first) and
        larger (second along the first axis).
    varied_made_kwh : ndarray or None
        The same, of all that is made.
    valuing : Valuing or None
        What a kWh earns; None: the value that the costs have, and nothing beyond the demand.
    machine_w : ndarray or None
        Power the machine is paid for, see ``sizing.machine_w``; the greatest power at the loads
        where not given.

    Money that is not known is NaN.
    """

    layout: Any
    flows_m3s: np.ndarray
    pipes: tuple[Pipe, ...]
    _: KW_ONLY
    jets: tuple[int, ...]
    monthly_kwh: np.ndarray
    useful_monthly_kwh: np.ndarray
    firm_w: np.ndarray
    rated_w: np.ndarray
    loss_share: np.ndarray
    aim: str
    within: float
    winter: tuple[int, ...]
    most_m3s: float
    costs: Costs | None = None
    prices_money_per_m: np.ndarray | None = None
    cable_m: float = 0.0
    energy_sd: float = 0.0
    varied_kwh: np.ndarray | None = None
    machine_w: np.ndarray | None = None
    varied_made_kwh: np.ndarray | None = None
    valuing: Valuing | None = None

    def __post_init__(self) -> None:
        if not self.allowed.any():
            raise HydrokitError(
                "sweep(): every design loses more than a third of the head "
                f"({100 * np.nanmin(self.loss_share):.0f} % at the least); try wider pipes or "
                "smaller flows"
            )
        if not np.any(self.useful_kwh[self.allowed] > 0):
            raise HydrokitError(
                "sweep(): no design gives any energy that is of use; look at the usable flow, "
                "the smallest flow the machine runs on, and the demand"
            )

    # --- energy and money -------------------------------------------------------------------

    @cached_property
    def kwh(self) -> np.ndarray:
        """Energy of a mean year."""
        return self.monthly_kwh.sum(axis=-1)

    @cached_property
    def useful_kwh(self) -> np.ndarray:
        """What the demand takes of it."""
        return self.useful_monthly_kwh.sum(axis=-1)

    @cached_property
    def winter_kwh(self) -> np.ndarray:
        """Energy of a mean winter."""
        return self.monthly_kwh[..., np.array(self.winter) - 1].sum(axis=-1)

    @cached_property
    def useful_winter_kwh(self) -> np.ndarray:
        """What the demand takes of it."""
        return self.useful_monthly_kwh[..., np.array(self.winter) - 1].sum(axis=-1)

    @cached_property
    def first_money(self) -> np.ndarray:
        """First cost."""
        if self.costs is None:
            return np.full(self.rated_w.shape, np.nan)
        price = 0.0 if self.prices_money_per_m is None else self.prices_money_per_m
        length = np.array([float(pipe.length_m) for pipe in self.pipes])
        machine = self.rated_w if self.machine_w is None else self.machine_w
        return self.costs.first_si(
            machine, np.array(self.jets)[:, None, None], price, length, self.cable_m
        )

    @cached_property
    def yearly_money(self) -> np.ndarray:
        """Annuity and upkeep."""
        return self.first_money if self.costs is None else self.costs.yearly_si(self.first_money)

    @cached_property
    def levelised_money_per_kwh(self) -> np.ndarray:
        """What a kWh that is of use costs."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return self.yearly_money / self.useful_kwh

    @property
    def earning(self) -> Valuing:
        """What a kWh earns."""
        if self.valuing is not None:
            return self.valuing
        return valued(None if self.costs is None else self.costs.value_money_per_kwh)

    @cached_property
    def earned_money(self) -> np.ndarray:
        """What the energy earns a year."""
        return self.earning.earns(self.useful_kwh, self.kwh)

    @cached_property
    def worth_money(self) -> np.ndarray:
        """What the energy earns a year less what the plant costs a year."""
        return self.earned_money - self.yearly_money

    # --- which may be taken -----------------------------------------------------------------

    @property
    def too_lossy(self) -> np.ndarray:
        """Past the one-third loss: never recommended."""
        return ~(self.loss_share <= LOSS_LIMIT)

    @cached_property
    def allowed(self) -> np.ndarray:
        """Designs that may be recommended."""
        allowed = ~self.too_lossy
        if self.prices_money_per_m is None:
            fits = self.loss_share <= USUAL_LOSS
            narrowest = np.where(fits.any(axis=-1), fits.argmax(axis=-1), len(self.pipes) - 1)
            allowed &= np.arange(len(self.pipes)) == narrowest[..., None]
        return allowed

    @cached_property
    def _affordable(self) -> np.ndarray:
        return self.worth_money >= 0

    @cached_property
    def score(self) -> np.ndarray:
        """What the aim counts, the more the better; minus infinity where a design may not be taken."""
        if self.aim == "cost":
            score = -self.levelised_money_per_kwh
        elif self.aim == "worth":
            score = self.worth_money
        elif self.aim == "winter":
            possible = self._affordable & self.allowed
            score = (
                np.where(self._affordable, self.useful_winter_kwh, -np.inf)
                if possible.any()
                else -self.levelised_money_per_kwh
            )
        else:
            score = self.useful_kwh - KNEE * self.always_kwh_per_m3s * self.flows_m3s[:, None]
        return np.where(self.allowed, score, -np.inf)

    @property
    def always_kwh_per_m3s(self) -> float:
        """Energy a year of each m³/s that always runs, through the best of the allowed designs."""
        return (
            float(np.max((self.rated_w / self.flows_m3s[:, None])[self.allowed])) * _YEAR_H / 1000
        )

    @cached_property
    def marginal_kwh_per_money(self) -> np.ndarray:
        """Energy a year for each unit of capital cost more than that of the cheaper design that gives most.

        Below zero where a cheaper one gives more; infinite for the cheapest of all; NaN for those
        that may not be recommended.
        """
        marginal = np.full(self.kwh.shape, np.nan)
        if self.costs is None:
            return marginal
        cost, kwh = self.first_money[self.allowed], self.useful_kwh[self.allowed]
        order = np.lexsort((-kwh, cost))
        cost, kwh = cost[order], kwh[order]
        most = np.maximum.accumulate(
            np.where(kwh >= np.maximum.accumulate(kwh), np.arange(len(kwh)), 0)
        )
        dearer = cost[1:] - cost[most[:-1]]
        dearer[dearer < 1e-9 * cost[1:]] = 0.0  # alike but for the last digit of the arithmetic
        with np.errstate(divide="ignore", invalid="ignore"):
            gain = (kwh[1:] - kwh[most[:-1]]) / dearer
        found = np.empty_like(kwh)
        found[order] = np.append(
            np.inf, np.nan_to_num(gain, nan=0.0, posinf=np.inf, neginf=-np.inf)
        )
        marginal[self.allowed] = found
        return marginal

    # --- the best and its equals ------------------------------------------------------------

    def design(self, index: Any) -> Design:
        """The design at a place in the arrays: jets, flow, pipe."""
        jets, flow, pipe = index = tuple(int(each) for each in index)
        names = (
            "kwh",
            "winter_kwh",
            "useful_kwh",
            "useful_winter_kwh",
            "firm_w",
            "rated_w",
            "loss_share",
            "first_money",
            "levelised_money_per_kwh",
            "worth_money",
            "marginal_kwh_per_money",
        )
        numbers = {name: float(getattr(self, name)[index]) for name in names}
        return Design(
            index, float(self.flows_m3s[flow]), self.pipes[pipe], jets=self.jets[jets], **numbers
        )

    def chain(self, design: Design) -> Chain:
        """The plant of a design."""
        return self.layout.chain(design.flow_m3s, design.pipe, design.jets)

    @cached_property
    def best(self) -> Design:
        """The design with the highest score."""
        return self.design(np.unravel_index(np.argmax(self.score), self.score.shape))

    def along_flows(self) -> tuple[Design | None, ...]:
        """For each design flow the best pipe and number of jets; None where none is allowed.

        Its pipe is the economic one for that flow.
        """
        by_flow = np.moveaxis(self.score, 1, 0).reshape(len(self.flows_m3s), -1)
        shape = (len(self.jets), len(self.pipes))
        found = []
        for flow, scores in enumerate(by_flow):
            jets, pipe = np.unravel_index(np.argmax(scores), shape)
            found.append(self.design((jets, flow, pipe)) if np.isfinite(scores.max()) else None)
        return tuple(found)

    def flat(self, within: float | None = None) -> Equal:
        """Designs that fall short of the best by no more than a share; see ``within``."""
        within = self.within if within is None else within
        return self._equal(self.score >= self.score.max() - within * self._scale(self.best))

    @cached_property
    def short_of_best(self) -> np.ndarray:
        """Share by which each design falls short of the best, see ``within``; NaN where it may not
        be taken."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(
                self.allowed & np.isfinite(self.score),
                (self.score.max() - self.score) / self._scale(self.best),
                np.nan,
            )

    def _scale(self, best: Design) -> float:
        """What a share of counts as equal."""
        return {
            "cost": best.levelised_money_per_kwh,
            "winter": best.useful_winter_kwh
            if self.score.max() > 0
            else best.levelised_money_per_kwh,
            "worth": abs(best.worth_money),
            "knee": best.useful_kwh,
        }[self.aim]

    @cached_property
    def within_uncertainty(self) -> Equal | None:
        """Designs whose difference from the best is no more than one standard deviation of that difference.

        Energy and costs of all designs err together, so only the energy and the cost by which two
        designs differ are uncertain: each by its relative standard deviation, and the energy by what
        more or less water does to the difference. Energy counts at its value, or at what that of the
        best design costs. None where the aim has no money in it or nothing is uncertain.
        """
        if self.aim not in ("cost", "worth") or self.costs is None:
            return None
        if not (self.energy_sd or self.costs.uncertainty or self.varied_kwh is not None):
            return None
        at = self.best.index
        price = Valuing(self.levelised_money_per_kwh[at]) if self.aim == "cost" else self.earning
        earned = price.earns(self.useful_kwh, self.kwh)
        energy = earned - earned[at]
        cost = self.yearly_money - self.yearly_money[at]
        by_water = 0.0
        if self.varied_kwh is not None:
            made = self.varied_kwh if self.varied_made_kwh is None else self.varied_made_kwh
            less, more = (
                each - each[at]
                for each in (price.earns(*both) for both in zip(self.varied_kwh, made))
            )
            by_water = (more - less) / 2
        spread = np.sqrt(
            (energy * self.energy_sd) ** 2 + by_water**2 + (cost * self.costs.uncertainty) ** 2
        )
        return self._equal(self.allowed & (cost - energy <= spread))

    def _equal(self, mask: np.ndarray) -> Equal:
        jets, flows, pipes = (np.unique(each) for each in np.nonzero(mask))
        reach = (float(self.flows_m3s[flows[0]]), float(self.flows_m3s[flows[-1]]))
        return Equal(
            mask,
            reach,
            tuple(self.pipes[each] for each in pipes),
            jets=tuple(self.jets[each] for each in jets),
        )

    @cached_property
    def choice(self) -> Design:
        """The cheapest design that counts as equal to the best; without costs the smallest."""
        return self._cheapest(self.flat().mask)

    def chosen_among(self, pipe: Pipe | None = None, jets: int | None = None) -> Design | None:
        """The choice where pipe or number of jets are settled already; None where no such design
        may be taken."""
        open_ended = self.allowed.copy()
        if pipe is not None:
            open_ended &= np.array([each.name == pipe.name for each in self.pipes])
        if jets is not None:
            open_ended &= (np.array(self.jets) == jets)[:, None, None]
        score = np.where(open_ended, self.score, -np.inf)
        if not np.isfinite(score.max()):
            return None
        best = self.design(np.unravel_index(np.argmax(score), score.shape))
        return self._cheapest(score >= score.max() - self.within * self._scale(best))

    def _cheapest(self, equal: np.ndarray) -> Design:
        candidates = np.argwhere(equal)
        jets, flows, pipes = candidates.T
        cost = (
            np.zeros(len(candidates))
            if self.costs is None
            else np.round(self.first_money[equal], 6)
        )
        return self.design(candidates[np.lexsort((jets, pipes, flows, cost))[0]])

    @property
    def reason(self) -> Reason:
        """Why that one."""
        best, choice = self.best, self.choice
        return Reason(
            self.aim,
            best,
            choice,
            flat=self.flat(),
            within_uncertainty=self.within_uncertainty,
            within=self.within,
            given_up=float(self.score[best.index] - self.score[choice.index]),
            saved_money=best.first_money - choice.first_money,
            rule="smallest of the equal" if self.costs is None else "cheapest of the equal",
        )

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader must know."""
        found, best = [], self.best
        lossy = self.too_lossy
        if lossy.any():
            found.append(
                Finding(
                    "note",
                    "sizing",
                    (
                        f"{lossy.sum():,} of {lossy.size:,} designs lose more than a third of the "
                        "head and are left out"
                    ),
                )
            )
        if self.aim == "winter" and self.score.max() <= 0:
            found.append(
                Finding(
                    "caution",
                    "sizing",
                    (
                        "every design makes its energy at a higher cost than the energy is worth; "
                        "the design with the cheapest kWh is shown"
                    ),
                )
            )
        if self.aim == "worth" and best.worth_money <= 0:
            found.append(
                Finding(
                    "caution",
                    "sizing",
                    "no design has a net annual benefit above zero; the design that loses least is shown",
                )
            )
        if self.costs is not None and self.prices_money_per_m is None:
            found.append(
                Finding(
                    "caution",
                    "sizing",
                    (
                        "pipes have no prices: each flow takes the narrowest pipe that loses at "
                        "most a tenth of the head"
                    ),
                )
            )
        if self.costs is None:
            found.append(
                Finding(
                    "note",
                    "sizing",
                    (
                        "no costs are given: the size is where more flow brings under "
                        f"{100 * KNEE:.0f} % of what it would bring if it came all year"
                    ),
                )
            )
        _, flow, pipe = best.index
        many_flows, many_pipes = (
            len(self.flows_m3s) > 1,
            len(self.pipes) > 1 and self.prices_money_per_m is not None,
        )
        edges = {
            "smallest design flow": many_flows and flow == 0,
            # beyond all the water there ever is, more would bring nothing
            "largest design flow": many_flows
            and flow == len(self.flows_m3s) - 1
            and self.flows_m3s[-1] < self.most_m3s,
            "narrowest pipe": many_pipes and pipe == 0,
            "widest pipe": many_pipes and pipe == len(self.pipes) - 1,
        }
        found += [
            Finding("caution", "sizing", f"the best has the {what} that was tried; try beyond it")
            for what, at_edge in edges.items()
            if at_edge
        ]
        return tuple(found)
