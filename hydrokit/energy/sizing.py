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

from dataclasses import dataclass, field, replace
from typing import Any, Callable, Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain
from ..plant.curve import place
from ..plant.jets import jet_diameter
from ..plant.losses import LossCurve
from ..plant.parts import Adjustable, Efficiency, FixedJets, Penstock, Runner
from ..stream.record import WATER_YEAR
from ..units import units
from ..water import density
from ..works.pipe import Pipe
from ..works.solve import require
from .designs import Sizing, settled_aim
from .money import Costs, capital_recovery
from .sweeping import HAIR, energy_of, exceeded, grid_of, hours_by_demand, hours_of, typical_days
from .valuing import Valuing
from .year import WINTER, Outages

__all__ = [
    "Layout",
    "SizedCable",
    "SizedGenerator",
    "economic_diameter",
    "flows_to_try",
    "generator_size_w",
    "lossless",
    "machine_w",
    "shaft_size_w",
    "sweep",
]

_ROUND = np.array([1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10])


@dataclass(frozen=True, eq=False)
class SizedGenerator:
    """A generator of the size a design needs, with the losses of a usual one in proportion.

    It has no limit of its own: it is bought to fit, and a change to the plant buys another.

    Parameters
    ----------
    losses : LossCurve
        Of a machine of any size.
    size_w : float or ndarray
        Output at which it is fully loaded.
    name : str
    """

    losses: LossCurve
    size_w: Any
    name: str = "generator"

    def output_si(self, input_w: Any) -> Any:
        """Output in W from a power going in."""
        scale = np.maximum(self.size_w, 1e-9) / self.losses.rated_w
        return scale * self.losses.output_si(input_w / scale)

    def bought_for(self, chain: Chain, most_m3s: Any = np.inf) -> Chain:
        """A plant with this kind of generator in the size it needs: see :func:`generator_size_w`."""
        after = tuple(part for part in chain.electric if not isinstance(part, SizedGenerator))
        return chain.replace(
            electric=(replace(self, size_w=generator_size_w(chain, self.losses, most_m3s)), *after)
        )


@dataclass(frozen=True, eq=False)
class SizedCable:
    """A cable known by its loss at full load alone, as long and thick as each design needs.

    Parameters
    ----------
    loss_ratio : float
        Share of the full power lost in it; at part load the loss goes with the square.
    full_w : float or ndarray
        Sent into it at full load.
    name : str
    """

    loss_ratio: float
    full_w: Any
    name: str = "cable"

    def output_si(self, input_w: Any) -> Any:
        """Power in W that arrives."""
        full = np.maximum(self.full_w, 1e-9)
        sent = np.minimum(input_w, full / (2 * self.loss_ratio))
        return sent * (1 - self.loss_ratio * sent / full)


def generator_size_w(chain: Chain, losses: LossCurve, most_m3s: Any = np.inf) -> Any:
    """Output in W for which a generator is bought: of the most water the plant can take, under the whole head.

    The head lost in the pipe is not taken off, so that a wider pipe buys no larger generator; those are
    usually bought larger than the turbine by about as much (common practice).

    Parameters
    ----------
    chain : Chain
        With its parts clean, whatever stands behind its runner.
    losses : LossCurve
        Of a generator of any size.
    most_m3s : float
        Most that may come, such as the licence.
    """
    return shaft_size_w(chain, most_m3s) * losses.efficiency_si(1.0)


def shaft_size_w(chain: Chain, most_m3s: Any = np.inf) -> Any:
    """Power in W at the shaft for which a generator is bought: of everything open under the whole head, or as much less as less water may come."""
    way = lossless(chain).running()
    full = lossless(chain).replace(supply=()).at_si(np.inf)
    reaching = (
        np.minimum(way.passage.leaves_si(most_m3s), way.capacity_m3s)
        if np.isfinite(most_m3s)
        else way.capacity_m3s
    )
    return full.power_w * np.minimum(
        reaching / np.where(full.used_m3s > 0, full.used_m3s, 1.0), 1.0
    )


def lossless(chain: Chain) -> Chain:
    """A plant up to its shaft, its parts clean, its penstock without loss."""
    return chain.replace(
        penstock=replace(chain.penstock, loss_factor=0.0), electric=(), states=(), schedule=()
    )


def machine_w(chain: Chain) -> Any:
    """Power in W that the machine is paid for: its generator's rating where it has one, else what its shaft gives
    at full flow, times the generator's best; what follows behind neither adds nor takes."""
    shaft = chain.replace(electric=()).at_si(np.inf).power_w
    if not chain.electric:
        return shaft
    first = chain.electric[0]
    if isinstance(first, SizedGenerator):
        return shaft * first.losses.efficiency_si(1.0)
    return first.rated_w if getattr(first, "part", "") == "generator" else shaft


@dataclass(frozen=True, eq=False)
class Layout:
    """What every design has in common.

    Parameters
    ----------
    penstock : Penstock
        With its head, mouth and factors; each pipe that is tried takes the place of its line.
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
    adjustable: bool = False
    valves: bool = True
    generator: LossCurve | None = None
    after: tuple[Any, ...] = ()
    supply: tuple[Any, ...] = ()
    states: Any = ()
    most_m3s: float = np.inf
    cable_loss: float = 0.0
    density_kgm3: float = field(default_factory=lambda: float(density.si()))

    def chain(self, flow_m3s: Any, pipe: Pipe, jets: int) -> Chain:
        """The plant of one design; of many at once where flow or pipe hold arrays.

        Fixed jets are bored so that all of them are just fed at the design flow.

        Raises
        ------
        HydrokitError
            A single design whose pipe uses up the head before the water reaches the jets.
        """
        penstock = replace(self.penstock, line=pipe)
        if self.adjustable:
            machine = Adjustable(flow_m3s, jets)
        else:
            machine = self._jets(flow_m3s, penstock, jets)
        bare = Chain(
            penstock,
            machine,
            Runner(self.part_load, flow_m3s),
            (),
            self.supply,
            self.states,
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

    def _jets(self, flow_m3s: Any, penstock: Penstock, jets: int) -> FixedJets:
        head = penstock.head_si(flow_m3s)
        if np.ndim(head) == 0 and not head > 0:
            raise HydrokitError(
                f"{penstock.name}: at {1000 * flow_m3s:.3g} L/s it uses up all of its head; take a wider pipe or a smaller flow"
            )
        bore = jet_diameter.si(flow_m3s, np.where(head > 0, head, np.nan), jets, self.coefficient)
        if np.ndim(bore) == 0:
            return FixedJets((float(bore),) * jets, self.coefficient, self.valves)
        # bores of one metre, scaled: a jet's bore is a plain number, its factor may be an array
        return FixedJets((1.0,) * jets, self.coefficient, self.valves, area_factor=bore**2)


def sweep(
    usable: pd.Series,
    layout: Layout,
    flows_m3s: Sequence[float],
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
    in_doubt: tuple[pd.Series, pd.Series] | None = None,
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
    in_doubt : two pandas.Series, optional
        Usable flow if the natural flow is one standard deviation smaller, and larger. A large plant
        hangs on high flows and a small one on low ones, so this doubt is not the same for both.
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
        for each in in_doubt or ()
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
    in_worlds = None if in_doubt is None else np.moveaxis(np.array(varied), 0, 2)
    return Sizing(
        layout,
        flows,
        pipes,
        jets,
        kwh,
        useful,
        firm,
        rated,
        loss,
        settled_aim(aim, costs, valuing),
        within,
        tuple(winter),
        float(first.running(months[0][0]).passage.leaves_si(usable.max())),
        costs,
        prices,
        cable_m,
        energy_sd,
        None if in_worlds is None else in_worlds[:, 1],
        machine,
        None if in_worlds is None else in_worlds[:, 0],
        valuing,
    )


@units(
    "m", flow="m^3/s", hours="h", friction_factor="ratio", efficiency="ratio", value="money/kWh",
    price="money/m", diameter="m", exponent="count", years="count", rate="ratio",
)  # fmt: skip
def economic_diameter(
    flow, hours, friction_factor, efficiency, value, price, diameter, exponent, years, rate
):
    r"""Bore at which a wider pipe costs as much more a year as its lower friction brings.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        :math:`Q`; where it changes, the cube root of the mean of its cube.
    hours : Quantity or str [time]
        For which it runs in a year, :math:`t`.
    friction_factor : number
        Darcy friction factor, :math:`f`.
    efficiency : number or str
        Water to wire, :math:`\eta`.
    value : Quantity or str [money/energy]
        Of energy, :math:`v`.
    price : Quantity or str [money/length]
        Of a pipe of a known bore, :math:`p`. What laying costs at any size does not count.
    diameter : Quantity or str [length]
        That bore, :math:`D_0`.
    exponent : number
        How the price grows with the bore, :math:`m`: 2 where a wall in proportion is paid by weight.
    years : number
        Life of the pipe.
    rate : number or str
        Discount rate.

    Returns
    -------
    Quantity [length]
        Inside diameter, whatever the length of the pipe and its head.

    Raises
    ------
    HydrokitError
        A number that must be above zero and is not.

    Notes
    -----
    With the annuity of a metre :math:`r p (D/D_0)^m` and the yearly value of the energy a metre
    takes, :math:`v \eta \rho g Q t \cdot 8 f Q^2/(\pi^2 g D^5)`, the sum is least where the second is
    :math:`m/5` of the first. Friction factor and Reynolds number are taken as settled.

    References
    ----------
    .. [1] Derivative of the yearly cost set to zero; Darcy-Weisbach.

    Examples
    --------
    >>> print(f"{economic_diameter('15 L/s', '5000 h', 0.018, '60 %', '0.21 money/kWh', '14.4 money/m', '147.6 mm', 1.9, 25, '4 %').to('mm'):.0f~P}")
    153 mm
    >>> print(f"{economic_diameter('240 gpm', '208 d', 0.018, '60 %', '0.21 money/kWh', '4.4 money/ft', '5.81 in', 1.9, 25, '4 %').to('in'):.1f~P}")
    6.0 in
    """
    require(
        "economic_diameter",
        "above zero",
        flow=flow,
        hours=hours,
        friction_factor=friction_factor,
        efficiency=efficiency,
        value=value,
        price=price,
        diameter=diameter,
        exponent=exponent,
    )
    # energy in kWh a year and metre that friction takes from a pipe of one metre's bore
    taken = (
        density.si()
        * efficiency
        * 8
        * friction_factor
        * np.asarray(flow) ** 3
        / np.pi**2
        * hours
        / 1000
    )
    yearly = price * capital_recovery.si(years, rate) / np.asarray(diameter) ** exponent
    return (5 * value * taken / (exponent * yearly)) ** (1 / (exponent + 5))


def _wanted(
    offered: Sequence[pd.Series],
    grid: np.ndarray,
    start_month: int,
    demand_w: Any,
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
    """Some 25 design flows in even, round steps, up to a little more than is usable on one day in ten, but no more than ever is.

    Raises
    ------
    HydrokitError
        Nine days in ten leave nothing to use.
    """
    top = float(np.nanquantile(usable.to_numpy(dtype=float), 0.9))
    if not top > 0:
        raise HydrokitError(
            "flows_to_try(): on nine days in ten nothing may be taken, so there is no plant to size"
        )
    decade = 10 ** np.floor(np.log10(top / 24))
    step = float(decade * _ROUND[np.searchsorted(_ROUND, top / 24 / decade - 1e-9)])
    steps = step * np.arange(1, int(1.2 * top / step + HAIR) + 2)
    return no_more_than(steps, float(np.nanmax(usable.to_numpy(dtype=float))))


def no_more_than(flows_m3s: Any, most_m3s: float) -> np.ndarray:
    """Design flows without those above a flow that is never exceeded, which takes the place of the first of them."""
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
    names = ("diameter_m", "length_m", "roughness_m", "fittings", "roughness_factor", "loss_factor")
    return Pipe(
        **{
            name: np.array([float(getattr(pipe, name)) for pipe in pipes])[:, None]
            for name in names
        },
        name="penstock",
    )
