"""From a study to the list for its electrician: what it is connected to, each safeguard and how far
it is, the numbers it needs."""

from __future__ import annotations

import datetime
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from ...site.schema_electrical import Safeguard
from .phases import generator_va, on_grid
from .starts import source_of

if TYPE_CHECKING:
    from ..study import Study
    from .starts import Start

__all__ = ["Electrical", "SafeguardState", "electrical"]

NOT_SAID = "not said"
LARGEST_DIP = 0.15  # of the voltage while a motor starts, where lamps burn less: common practice


@dataclass(frozen=True, eq=False)
class SafeguardState:
    """One point of the electrician's list and how far it is.

    Parameters
    ----------
    subject, status, by, note : str
    date : datetime.date or None
    """

    subject: str
    status: str
    by: str = ""
    _: KW_ONLY
    date: datetime.date | None = None
    note: str = ""


@dataclass(frozen=True, eq=False)
class Electrical(Result):
    """What an electrician must know of a plant.

    Parameters
    ----------
    grid : bool
        Whether it runs on a grid.
    told : bool
        Whether the site file says so.
    apparent_w : float
        Rated apparent power of the generator in VA.
    highest_v : float
        Without load, at runaway.
    short_a : float
        Short circuit at its terminals, first cycles; NaN where something else feeds it.
    weakest : Start or None
        The motor whose start lowers the voltage most.
    largest_va : float
        Largest locked rotor that the generator starts within the dip; NaN where something else bears it.
    electrode_ohm : float
        Largest earth electrode for the residual-current device; NaN where that is not told.
    touch_v : float
        On metal at a fault that the device just does not see; NaN where electrode or device are not told.
    tank_s : float
        In which the whole output heats the ballast's tank; NaN where it heats none.
    rise : float
        Most that the plant raises the voltage of the grid where it is connected; NaN off a grid or where
        its short-circuit power is not told.
    states : tuple of SafeguardState
    """

    grid: bool
    told: bool
    apparent_w: float
    _: KW_ONLY
    highest_v: float
    short_a: float
    weakest: Start | None
    largest_va: float
    electrode_ohm: float
    touch_v: float
    tank_s: float
    rise: float
    states: tuple[SafeguardState, ...]


def electrical(study: Study) -> Electrical | None:
    """What an electrician must know; None where the wires are not known."""
    from ...plant.earth import largest_electrode
    from ...plant.hot_water import heating_time
    from ...plant.short_circuit import short_circuit_current
    from ...plant.starting import largest_start
    from .wiring import RUNAWAY_VOLTAGE, USUAL_RISE

    found, site = study.wires, study.site
    if found is None:
        return None
    section, main = site.electrical, found.main
    rating, source = generator_va(study), source_of(study, found.sent_w)
    feeds = source.name == "the generator" and main.system != "dc" and rating > 0
    starts = [each.start for each in found.circuits if each.start is not None]
    weak = min(
        starts, key=lambda each: 0.0 if each.found is None else each.found.terminals, default=None
    )
    rcd = section.residual_current
    return Electrical(
        on_grid(study),
        section.supply is not None,
        rating,
        highest_v=RUNAWAY_VOLTAGE.get(site.generator.kind, USUAL_RISE) * main.voltage_v,
        short_a=float(
            short_circuit_current.si(rating, main.voltage_v, site.generator.reactance, main.system)
        )
        if feeds and site.generator.kind != "induction"
        else np.nan,
        weakest=weak,
        largest_va=float(largest_start.si(rating, site.generator.reactance, LARGEST_DIP))
        if feeds and np.isinf(source.most_va)
        else np.nan,
        electrode_ohm=np.nan if rcd is None else float(largest_electrode.si(rcd)),
        touch_v=np.nan if rcd is None or section.electrode is None else rcd * section.electrode,
        tank_s=np.nan
        if site.ballast.tank is None or site.ballast.heats != "water"
        else float(heating_time.si(site.ballast.tank, found.sent_w, 283.15, 333.15)),
        rise=found.sent_w / section.fault_level
        if on_grid(study) and section.fault_level is not None
        else np.nan,
        states=_states(study, bool(starts)),
    )


def _states(study: Study, motors: bool) -> tuple[SafeguardState, ...]:
    """Each safeguard of the site file, and each that the plant needs and the site file does not name."""
    given = study.site.safeguard
    named = {each.subject for each in given}
    needless = set()
    if not on_grid(study):
        needless.add("anti-islanding")
    left_out = {"battery"} if not study.site.battery else set()
    if not motors:
        left_out.add("motor start")
    subjects = list(Safeguard.schema["subject"].choices)
    states = [
        SafeguardState(
            each.subject, each.status, each.of or "", date=each.date, note=each.note or ""
        )
        for each in given
    ]
    for each in subjects:
        if each not in named and each not in left_out:
            states.append(SafeguardState(each, "not needed" if each in needless else NOT_SAID))
    return tuple(sorted(states, key=lambda each: subjects.index(each.subject)))
