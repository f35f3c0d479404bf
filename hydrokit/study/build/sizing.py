"""From the site file to a choice of size: what is tried, what it costs, what every design shares."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...columns import read_csv
from ...errors import InputError, Mistake, sure
from ...files import shown_path
from ...site.sheets import filled
from . import losses, sizing_net, year
from . import turbine as build_turbine
from .terms import borrowing_rate, yearly_lines
from .uncertain import uncertainties
from .valuing import J_PER_KWH, by_plan

if TYPE_CHECKING:
    import pandas as pd

    from ...energy.designs import Sizing
    from ...energy.money import Costs
    from ...energy.moves import Move
    from ...energy.sizing import Layout
    from ...site.schema import Site
    from ...works.pipe import Line, Pipe
    from ..study import Study

__all__ = [
    "costs",
    "lacks",
    "layout",
    "most_reaching",
    "one_pipe",
    "pipes_tried",
    "priced",
    "sizing",
]


def lacks(study: Study) -> tuple[str, ...]:
    """What keeps a study from being sized, in words; nothing where the reason is another."""
    site = study.site
    lacking = (
        ("a daily record", study.record is None),
        ("a head", study.head is None),
        ("a kind of turbine", not site.turbine),
        ("a penstock", study.penstock is None),
        (
            "one pipe all along the penstock, or a list of pipes ([costs] pipes)",
            study.penstock is not None and not study.pipes_tried[0],
        ),
    )
    return tuple(what for what, is_lacking in lacking if is_lacking)


JETS_TRIED, UNITS_TRIED = (1, 2, 3, 4, 5, 6), (1, 2, 3, 4)


def costs(site: Site) -> Costs | None:
    """The costs of the site file, or None where it gives none."""
    from ...energy.discounting import building_interest
    from ...energy.money import Costs, Replacement

    section = site.costs
    if not section:
        return None
    loan_rate = borrowing_rate(section)
    return Costs(
        fixed_money=section.fixed or 0.0,
        per_power_money_per_w=section.per_power or 0.0,
        per_jet_money=section.per_jet or 0.0,
        laying_money_per_m=section.laying or 0.0,
        cable_money_per_m=section.cable or 0.0,
        yearly_share=section.yearly or 0.0,
        life_years=section.life,
        discount_rate=section.discount_rate,
        value_money_per_kwh=None if section.value is None else section.value * J_PER_KWH,
        uncertainty=section.uncertainty or 0.0,
        replacements=tuple(
            Replacement(each.cost, each.every, each.name) for each in section.replacement
        ),
        contingency=section.contingency or 0.0,
        building_interest=float(building_interest.si(section.building_months or 0, loan_rate)),
        grant_money=section.grant or 0.0,
        yearly_lines=yearly_lines(site),
        residual_money=section.residual_value or 0.0,
        removal_money=section.removal or 0.0,
    )


def priced(study: Study) -> Costs | None:
    """The costs with the price of the cable's own size where the list of cables has it; or None."""
    found, prices, section = costs(study.site), study.cable_prices, study.site.cable
    if found is None or not prices or "size" not in section:
        return found
    from ...plant.conductor import conductor

    price = prices.get(conductor(section.size, section.material).name)
    return found if price is None else replace(found, cable_money_per_m=price)


def pipes_tried(study: Study) -> tuple[tuple[Pipe, ...], tuple[float, ...] | None]:
    """Pipes to try, each the whole penstock, and their prices where there are any."""
    from ...works.pipe_sizes import pipe_size

    site, line = study.site, study.penstock
    if line is None:
        return (), None
    name = site.costs.pipes
    if name is None:
        whole = one_pipe(line)
        return () if whole is None else (whole,), None
    path = study.folder.file(name, "[costs] pipes")
    table = read_csv(path, {"size": "text", "price": "money/m"}, notes=study.folder.notes)
    filled(path, table, "price", none_below_zero=("price",))
    first = site.penstock.pipe[0] if site.penstock.pipe else None
    fittings = sum(pipe.fittings for pipe in line.pipes)
    made, mistakes = [], []
    for line_number, size in zip(table["line"], table["size"]):
        try:
            made.append(
                pipe_size(size).pipe(
                    line.length_m, None if first is None else first.roughness, fittings
                )
            )
        except Exception as error:  # noqa: BLE001  told with its line
            mistakes.append(Mistake(shown_path(path), f"line {line_number}", str(error)))
    if mistakes:
        raise InputError(mistakes)
    return tuple(made), tuple(float(each) for each in table["price"])


def one_pipe(line: Line) -> Pipe | None:
    """A line as one pipe, or None where its stretches differ."""
    first = line.pipes[0]
    same = ("diameter_m", "roughness_m", "roughness_factor", "loss_factor")
    if any(getattr(each, name) != getattr(first, name) for each in line.pipes for name in same):
        return None
    return replace(
        first,
        length_m=sum(each.length_m for each in line.pipes),
        fittings=sum(each.fittings for each in line.pipes),
    )


def most_reaching(study: Study) -> float:
    """Greatest flow in m³/s that may ever come to the jets: by record, rights and licence, what
    leaks on the way taken off."""
    from ...plant.operation import Passage

    return float(
        functools.reduce(Passage.through, study.supply, Passage()).leaves_si(_unbound(study).max())
    )


def _unbound(study: Study) -> pd.Series:
    """Usable flow without yearly volume and ramp: days without water for these are no reason for a
    small plant."""
    return replace(study.rights, volume_m3=np.inf, ramp_m3s_per_day=np.inf).usable_series(
        sure(study.record)
    )


def _flows(study: Study) -> np.ndarray:
    """Design flows to try: those of the site file, else even steps over the usable flows; none
    above all that may ever come."""
    from ...energy.sizing import flows_to_try, no_more_than

    given = study.site.sizing.flows or ()
    return no_more_than(
        np.array(sorted(given)) if given else flows_to_try(_unbound(study)), most_reaching(study)
    )


def _jets(study: Study) -> tuple[int, ...]:
    """Numbers of jets, or of units that can be shut, to try."""
    given = study.site.sizing.jets or ()
    usual = JETS_TRIED if study.site.turbine.kind in ("pelton", "turgo") else UNITS_TRIED
    return given or tuple(sorted({*usual, study.site.turbine.jets or 1}))


def layout(study: Study, line: Line, head_m: float) -> Layout:
    """What every design shares: head, turbine, generator, cable, intake."""
    from ...energy.sizing import Layout
    from ...plant.parts import Penstock
    from ...plant.turbine import part_load
    from ...water import density, viscosity

    turbine, section = study.site.turbine, study.site.generator
    coefficient = build_turbine.jet_coefficient(turbine)
    adjustable = not build_turbine.fixed_jets(turbine)
    penstock = Penstock(
        line,
        head_m,
        viscosity_m2s=float(viscosity.si(study.water_temperature_k)),
    )
    curve = build_turbine.efficiency_curve(study, adjustable)
    electric = None
    if "water_to_wire" not in section:
        electric = losses.generator_of(section, 5000.0)
    after = losses.after_generator(study.site) if electric is not None else ()
    # a cable known by its loss grows with the design: at full load it takes that share of what the
    # generator gives
    lost = (
        study.site.cable.loss or 0.0
        if electric is not None and not losses.wire(study.site)
        else 0.0
    )
    return Layout(
        penstock,
        curve or part_load.si(turbine["kind"]),
        coefficient,
        adjustable=adjustable,
        generator=electric,
        after=after,
        supply=study.supply,
        states=study.states,
        most_m3s=year.most_licensed(study),
        cable_loss=lost,
        density_kgm3=float(density.si(study.water_temperature_k)),
    )


def sizing(study: Study) -> Sizing | None:
    """The sweep over flows, pipes and jets, or None where record, head, pipe or turbine are lacking."""
    from ...energy.sizing import sweep

    site = study.site
    natural, usable, head, line = study.record, study.usable, study.head, study.penstock
    if natural is None or usable is None or head is None or line is None or not site.turbine:
        return None
    pipes, prices = study.pipes_tried
    if not pipes or not usable.max() > 0:
        return None
    uncertainty = uncertainties(study)
    money, rights = priced(study), study.rights
    # a plant that this very sweep chooses cannot say yet what of its energy will heat the rooms
    free = study.baseline is None and study.described is None
    aim = site.sizing.aim if money is not None and not (money.silent and prices is None) else None
    found = study.folder.sentence(
        "[sizing]",
        lambda: sweep(
            usable,
            layout(study, line, head.value),
            _flows(study),
            pipes,
            _jets(study),
            money,
            prices,
            site.cable.length or 0.0,
            year.outages(site),
            study.demand_w,
            study.winter,
            aim,
            site.sizing.flat_within,
            energy_sd=float(np.hypot(study.record_uncertainty, uncertainty.efficiency)),
            shifted=None
            if rights.has_memory
            else (
                rights.usable_series(natural * (1 - study.record_uncertainty)),
                rights.usable_series(natural * (1 + study.record_uncertainty)),
            ),
            usable_for=(lambda most: rights.usable_series(natural, most))
            if rights.has_memory
            else None,
            valuing=by_plan(study, None) if free else study.valuing,
        ),
    )
    found = sizing_net.with_losses(study, found)
    return _settled(study, found) if free and site.costs.given("heat_value") else found


def _settled(study: Study, found: Sizing) -> Sizing:
    """The sweep with its kWh valued by what the design that is then chosen heats: a few rounds, for
    one leans on the other."""
    for _ in range(5):
        before = found.choice.index
        found = replace(found, valuing=by_plan(study, found.chain(found.choice)))
        if found.choice.index == before:
            break
    return found


def sizing_moves(study: Study) -> tuple[Move, ...]:
    """What would move the choice of the sizing, and what would not; nothing without a sizing."""
    from ...energy.moves import moves

    return () if study.sizing is None else moves(study.sizing)
