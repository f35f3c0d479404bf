"""Sizing: how big the plant should be, over every pairing of flow, pipe and jets.

The record becomes hours on one grid of flows, once. All designs are one chain whose parts hold
arrays, so that a sweep is the same arithmetic as a single plant.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.money import Costs
>>> from hydrokit.energy.sizing import Layout, sweep
>>> from hydrokit.plant.parts import MeasuredLoss, Penstock, steady
>>> from hydrokit.works.pipe_sizes import pipe_size
>>> days = pd.date_range("2019-10-01", "2022-09-30")
>>> usable = pd.Series(0.012 + 0.010 * np.cos(np.arange(len(days)) / 58.1), days, name="flow_m3s")
>>> sizes = [pipe_size(f"PVC-U PN 10 {each} mm") for each in (110, 140, 160, 180, 200)]
>>> layout = Layout(Penstock(MeasuredLoss(0.0), 45.0), steady(0.65))
>>> costs = Costs(fixed_money=8000, per_power_money_per_w=1.3, laying_money_per_m=14, value_money_per_kwh=0.21)
>>> found = sweep(usable, layout, np.linspace(0.006, 0.024, 10), [each.pipe(300) for each in sizes], (1, 2, 4), costs, [7.1, 11.2, 14.4, 18.3, 22.5])
>>> for design in (found.best, found.choice):
...     print(f"{1000 * design.flow_m3s:.0f} L/s, {design.pipe.name}, {design.jets} jets: {design.kwh / 1000:.1f} MWh for {design.first_money / 1000:.1f} thousand")
20 L/s, 180 mm PVC-U PN 10, 4 jets: 25.7 MWh for 24.9 thousand
18 L/s, 160 mm PVC-U PN 10, 4 jets: 24.8 MWh for 22.9 thousand
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Callable, Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain
from ..plant.curve import place
from ..plant.jets import jet_diameter
from ..plant.losses import LossCurve
from ..plant.parts import Adjustable, Efficiency, FixedJets, Jets, Penstock, Runner
from ..sentences import Amount, Sentence
from ..stream.record import WATER_YEAR
from ..water import density
from ..works.pipe import Pipe
from .design import settled_aim
from .designs import Sizing
from .machine_size import SizedCable, SizedGenerator, machine_w
from .money import Costs
from .sweeping import HAIR, energy_of, exceeded, grid_of, hours_by_demand, hours_of, typical_days
from .valuing import Valuing
from .weights import WINTER
from .year import Outages

if TYPE_CHECKING:
    from ..plant.wire import ElectricPart
    from ..units import Floats, Number

__all__ = ["Layout", "flows_to_try", "sweep"]

_ROUND = np.array([1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10])


@dataclass(frozen=True, eq=False)
class Layout:
    """What every design has in common.

    Parameters
    ----------
    penstock : Penstock
        With its head, inlet and factors; each pipe that is tried takes the place of its line.
    part_load : Efficiency
        Of the turbine, against the share of the design flow.
    coefficient : float
        Discharge coefficient of fixed jets.
    adjustable : bool
        Spear jets, guide vanes or a gate instead of fixed jets; the number of jets is then that of
        units that can be shut.
    valves : bool
        Whether single fixed jets can be shut.
    generator : LossCurve or None
        Of any size; each design gets one of its own size with the same losses in proportion.
    after : tuple of ElectricPart
        What follows it, the same for all designs: cable, loads.
    supply : tuple of SupplyPart
    states : mapping or 12 of State
        As in a :class:`Chain`.
    most_m3s : float
        Most that may come, such as the licence: for more no generator is bought.
    cable_loss : float
        Share of the full power lost in a cable of which no more is known; it follows the generator.
    density_kgm3 : float
        Of the water.
    """

    penstock: Penstock
    part_load: Efficiency
    coefficient: float = 0.95
    _: KW_ONLY
    adjustable: bool = False
    valves: bool = True
    generator: LossCurve | None = None
    after: tuple[ElectricPart, ...] = ()
    supply: tuple[Any, ...] = ()
    states: Any = ()
    most_m3s: float = np.inf
    cable_loss: float = 0.0
    density_kgm3: float = field(default_factory=lambda: float(density.si()))

    def chain(self, flow_m3s: Number, pipe: Pipe, jets: int) -> Chain:
        """The plant of one design; of many at once where flow or pipe hold arrays.

        Fixed jets are bored so that all of them are just fed at the design flow.

        Raises
        ------
        HydrokitError
            A single design whose pipe uses up the head before the water reaches the jets.
        """
        penstock = replace(self.penstock, line=pipe)
        machine: Jets = (
            Adjustable(flow_m3s, jets) if self.adjustable else self._jets(flow_m3s, penstock, jets)
        )
        bare = Chain(
            penstock,
            machine,
            Runner(self.part_load, flow_m3s),
            electric=(),
            supply=self.supply,
            states=self.states,
            density_kgm3=self.density_kgm3,
            name="design",
        )
        if self.generator is None:
            return bare.replace(electric=self.after)
        made = SizedGenerator(self.generator, 1.0).bought_for(bare, self.most_m3s)
        cable = (
            (SizedCable(self.cable_loss, made.at_si(np.inf).power_w),)
            if self.cable_loss > 0
            else ()
        )
        return made.replace(electric=(*made.electric, *cable, *self.after))

    def _jets(self, flow_m3s: Number, penstock: Penstock, jets: int) -> FixedJets:
        head = penstock.head_si(flow_m3s)
        if np.ndim(head) == 0 and not head > 0:
            raise HydrokitError(
                Sentence(
                    "{name}: at {flow} it loses all of its head; take a wider pipe or a smaller flow",
                    name=penstock.name,
                    flow=Amount(flow_m3s, "flow"),
                )
            )
        bore = jet_diameter.si(flow_m3s, np.where(head > 0, head, np.nan), jets, self.coefficient)
        if np.ndim(bore) == 0:
            return FixedJets((float(bore),) * jets, self.coefficient, self.valves)
        # bores of one metre, scaled: a jet's bore is a plain number, its factor may be an array
        return FixedJets((1.0,) * jets, self.coefficient, self.valves, area_factor=bore**2)


def sweep(
    usable: pd.Series,
    layout: Layout,
    flows_m3s: Sequence[float] | np.ndarray,
    pipes: Sequence[Pipe],
    jets: Sequence[int] = (4,),
    costs: Costs | None = None,
    prices_money_per_m: Sequence[float] | None = None,
    cable_m: float = 0.0,
    outages: Outages | None = None,
    demand_w: Any = None,
    winter: tuple[int, ...] = WINTER,
    aim: str | None = None,
    within: float = 0.02,
    energy_sd: float = 0.0,
    shifted: tuple[pd.Series, pd.Series] | None = None,
    start_month: int = WATER_YEAR,
    usable_for: Callable[[float], pd.Series] | None = None,
    valuing: Valuing | None = None,
) -> Sizing:
    """Every design flow with every pipe and number of jets.

    Parameters
    ----------
    usable : pandas.Series
        Usable flow in m³/s, daily or finer.
    layout : Layout
    flows_m3s : sequence of float
        Design flows to try.
    pipes : sequence of Pipe
        Pipes to try, each the whole penstock.
    jets : sequence of int
        Numbers of jets (of units, for an adjustable machine) to try.
    costs : Costs, optional
        Without them designs are compared in energy alone.
    prices_money_per_m : sequence of float, optional
        Of the pipes, in their order.
    cable_m : float
        Length of cable, for its cost.
    outages : Outages, optional
    demand_w : float, 12 floats or Series, optional
        Power that can be used, always, by month or on each day; energy beyond it is then worth nothing.
    winter : tuple of int
    aim : {"cost", "winter", "worth", "knee"}, optional
        What is best; see :class:`Sizing`. Left out: the highest worth where a value is given, else
        the lowest cost, else the knee.
    within : float
        Share by which designs may fall short of the best and still count as equal.
    energy_sd : float
        Relative standard deviation of the energy of a mean year from all but the flow.
    shifted : two pandas.Series, optional
        Usable flow if the natural flow is one standard deviation smaller, and larger. A large plant
        hangs on high flows and a small one on low ones, so this uncertainty is not the same for both.
    start_month : int
        First month of a year.
    usable_for : callable, optional
        Usable flow where the plant takes no more than a flow in m³/s, where that is not `usable` for
        all: a small plant makes a licensed volume last longer. Its dates are those of `usable`.
    valuing : Valuing, optional
        What a kWh earns; left out: the value that the costs have, and nothing beyond the demand.

    Returns
    -------
    Sizing

    Raises
    ------
    HydrokitError
        Nothing to try, a record without a mean year, every design above the one-third loss.
    """
    flows, jets, pipes, prices = _tried(flows_m3s, jets, pipes, prices_money_per_m)
    outages = Outages() if outages is None else outages
    stacked = _stacked(pipes)
    first = layout.chain(flows[:, None, None], stacked, jets[0])
    months = first.alike()
    grid = grid_of(usable, layout, flows, [first.running(each[0]) for each in months])
    # along the first axis: one for all design flows, or one each
    offered = (
        [usable]
        if usable_for is None
        else [
            usable_for(float(each)) for each in first.running(months[0][0]).passage.needs_si(flows)
        ]
    )
    running = outages.running[:, None]
    hours = np.stack([hours_of(each, grid, start_month) for each in offered]) * running
    wanted = _wanted(offered, grid, start_month, demand_w, running)
    others = [
        (
            hours_of(each, grid, start_month)[None] * running,
            _wanted([each], grid, start_month, demand_w, running),
        )
        for each in shifted or ()
    ]
    typical = [
        place(grid, np.stack(days))
        for days in zip(*(typical_days(each, months) for each in offered))
    ]

    found, varied = [], []
    for count in jets:
        chain = layout.chain(flows[:, None, None], stacked, count)
        loss = chain.penstock.loss_si(flows[:, None, None]) / chain.penstock.static_si()
        powers = [chain.at_si(grid, each[0]).power_w for each in months]
        found.append(
            (
                *energy_of(powers, months, hours, wanted),
                exceeded(powers, typical),
                chain.at_si(np.inf).power_w[..., 0],
                loss[..., 0],
                machine_w(chain)[..., 0],
            )
        )
        varied.append(
            [[each.sum(axis=-1) for each in energy_of(powers, months, *other)] for other in others]
        )
    kwh, useful, firm, rated, loss, machine = (np.stack(each) for each in zip(*found))
    costs = None if costs is None or (costs.silent and prices is None) else costs
    # less or more water, all that is made or what is of use, then jets, flows, pipes
    in_worlds = None if shifted is None else np.moveaxis(np.array(varied), 0, 2)
    return Sizing(
        layout,
        flows,
        tuple(pipes),
        jets=tuple(jets),
        monthly_kwh=kwh,
        useful_monthly_kwh=useful,
        firm_w=firm,
        rated_w=rated,
        loss_share=loss,
        aim=settled_aim(aim, costs, valuing),
        within=within,
        winter=tuple(winter),
        most_m3s=float(first.running(months[0][0]).passage.leaves_si(usable.max())),
        costs=costs,
        prices_money_per_m=prices,
        cable_m=cable_m,
        energy_sd=energy_sd,
        varied_kwh=None if in_worlds is None else in_worlds[:, 1],
        machine_w=machine,
        varied_made_kwh=None if in_worlds is None else in_worlds[:, 0],
        valuing=valuing,
    )


def _wanted(
    offered: Sequence[pd.Series],
    grid: np.ndarray,
    start_month: int,
    demand_w: Floats | None,
    running: np.ndarray,
) -> Any:
    """The hours by what is wanted, one design flow or all along the first axis; None where all is of use."""
    if demand_w is None:
        return None
    each = [hours_by_demand(usable, grid, start_month, demand_w) for usable in offered]
    return tuple(
        (rows[0][0], np.stack([hours for _, hours in rows]) * running) for rows in zip(*each)
    )


# --- what is tried --------------------------------------------------------------------------


def flows_to_try(usable: pd.Series) -> np.ndarray:
    """Some 25 design flows in even, round steps, up to a little more than is usable on one day in
    ten, but no more than ever is.

    Raises
    ------
    HydrokitError
        Nine days in ten leave nothing to use.
    """
    top = float(np.nanquantile(usable.to_numpy(dtype=float), 0.9))
    if not top > 0:
        raise HydrokitError(
            "flows_to_try(): nothing may be taken on 90 % of the days, so there is no plant to size"
        )
    decade = 10 ** np.floor(np.log10(top / 24))
    step = float(decade * _ROUND[np.searchsorted(_ROUND, top / 24 / decade - 1e-9)])
    steps = step * np.arange(1, int(1.2 * top / step + HAIR) + 2)
    return no_more_than(steps, float(np.nanmax(usable.to_numpy(dtype=float))))


def no_more_than(flows_m3s: Sequence[float] | np.ndarray, most_m3s: float) -> np.ndarray:
    """Design flows without those above a flow that is never exceeded, which takes the place of the
    first of them."""
    flows = np.asarray(flows_m3s, dtype=float)
    above = flows > most_m3s * (1 + HAIR)
    near = np.any(np.abs(flows - most_m3s) <= HAIR * most_m3s)
    return np.append(flows[~above], most_m3s) if above.any() and not near else flows[~above]


def _tried(flows: Any, jets: Any, pipes: Any, prices: Any) -> tuple[Any, ...]:
    """Flows, jets and pipes in rising order, the prices with their pipes."""
    flows, jets, pipes = (
        np.unique(np.asarray(flows, dtype=float)),
        tuple(sorted({int(each) for each in jets})),
        tuple(pipes),
    )
    if not len(flows) or not jets or not pipes or flows[0] <= 0 or not np.isfinite(flows[-1]):
        raise HydrokitError(
            "sweep(): give one or more design flows above zero, pipes and numbers of jets to try"
        )
    if prices is not None and len(prices) != len(pipes):
        raise HydrokitError(
            f"sweep(): give a price for each of the {len(pipes)} pipes, or none; got {len(prices)}"
        )
    order = np.argsort([pipe.diameter_m for pipe in pipes], kind="stable")
    prices = None if prices is None else np.asarray(prices, dtype=float)[order]
    return flows, jets, tuple(pipes[each] for each in order), prices


def _stacked(pipes: Sequence[Pipe]) -> Pipe:
    """All pipes as one that holds arrays; the axis after it is left for the creek's flows."""

    def stacked(name: str) -> Any:
        return np.array([float(getattr(pipe, name)) for pipe in pipes])[:, None]

    return Pipe(
        diameter_m=stacked("diameter_m"),
        length_m=stacked("length_m"),
        roughness_m=stacked("roughness_m"),
        fittings=stacked("fittings"),
        roughness_factor=stacked("roughness_factor"),
        loss_factor=stacked("loss_factor"),
        name="penstock",
    )
