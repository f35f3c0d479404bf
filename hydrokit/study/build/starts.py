"""From a study to the start of its motors: what is drawn, what bears it, and the voltage that is left."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from .phases import generator_va, on_grid, to_neutral

if TYPE_CHECKING:
    from ...plant.conductor import Conductor
    from ...plant.starting import MotorStart
    from ..study import Study
    from .circuits import CircuitOf

__all__ = ["STARTERS", "STARTING", "Source", "Start", "impedances", "source_of", "start_of"]

STARTING = 6.0  # times its running current a motor draws while it starts, common practice (5 to 7)
# Share of that current with each kind of starter, common practice; of a soft one as it is usually set.
STARTERS = {"direct": 1.0, "star-delta": 1 / 3, "soft": 0.5}
_REACTANCE = 0.08e-3  # ohm a metre of one conductor, as for the drop


@dataclass(frozen=True, eq=False)
class Source:
    """What must bear the current of a motor that starts.

    Parameters
    ----------
    name : str
    rating_va, reactance : float
        Behind which it holds its voltage; reactance 0 where it holds it by itself.
    most_va : float
        More than which it does not give at all.
    """

    name: str
    rating_va: float
    reactance: float
    _: KW_ONLY
    most_va: float


@dataclass(frozen=True, eq=False)
class Start:
    """One motor that starts.

    Parameters
    ----------
    name : str
    drawn_va : float
        Apparent power at its rated voltage, through its starter.
    times : float
        Of its power at work.
    found : plant.starting.MotorStart or None
        None where the source cannot give it.
    source : Source
    rating_va, voltage_v, standing_w : float
        Of the phases it hangs on: the source's rating, the voltage, what is on already.
    shared_ohm, own_ohm : complex
        Impedance of the cable it shares, and of its own.
    """

    name: str
    drawn_va: float
    times: float
    _: KW_ONLY
    found: MotorStart | None
    source: Source
    rating_va: float = np.nan
    voltage_v: float = np.nan
    standing_w: float = np.nan
    shared_ohm: complex = 0j
    own_ohm: complex = 0j


def source_of(study: Study, sent_w: float, direct: bool = False) -> Source:
    """What must bear a start: inverter, battery, grid or generator.

    A battery bears it for direct current; without an inverter it gives none of the alternating kind.
    """
    site = study.site
    if site.inverter:
        rating = np.inf if site.inverter.rating is None else site.inverter.rating
        kept = bool(site.battery) or rating < sent_w
        return Source(
            "the inverter" if kept else "the plant", rating, 0.0, most_va=rating if kept else sent_w
        )
    if site.battery and direct:
        return Source("the battery", np.inf, 0.0, most_va=np.inf)
    if on_grid(study):
        level = site.electrical.fault_level
        return Source("the grid", level or np.inf, 0.0 if level is None else 1.0, most_va=np.inf)
    # an induction generator that excites itself loses its voltage where more is drawn than it makes
    most = sent_w if site.generator.kind == "induction" else np.inf
    return Source("the generator", generator_va(study), site.generator.reactance, most_va=most)


def start_of(
    study: Study, given: CircuitOf, sent_w: float, main: Conductor | None = None
) -> Start | None:
    """The start of a motor circuit; None for other loads, or where nothing is known of what bears it.

    Through another main cable where one is given.
    """
    from ...plant.starting import START_POWER_FACTOR, motor_start

    if given.kind != "motor" or not given.power_w > 0:
        return None
    running = given.power_w / given.power_factor
    told = np.isfinite(given.locked_rotor_va)
    drawn = (given.locked_rotor_va if told else STARTING * running) * STARTERS[given.starter]
    direct = given.system == "dc"
    source = source_of(study, sent_w, direct)
    if drawn > source.most_va:
        return Start(given.name, drawn, drawn / running, found=None, source=source)
    cable = study.site.cable
    on_three = cable.phases == "three" and given.system == "one-phase" and not study.site.inverter
    # of a set of three phases one phase has a third, and two phases between them half
    share = (1 / 3 if to_neutral(study, given) else 1 / 2) if on_three else 1.0
    rating = min(source.rating_va, 1e15) * share
    if not rating > 0:
        return None
    shared, own = impedances(study, given, main)
    standing = max(sent_w - given.power_w, 0.0) * share
    found = motor_start.si(
        drawn,
        rating,
        given.voltage_v,
        0.0 if direct else source.reactance,
        0.0,
        1.0 if direct else START_POWER_FACTOR,
        standing,
        1.0,
        *shared,
        *own,
    )
    return Start(
        given.name,
        drawn,
        drawn / running,
        found=found,
        source=source,
        rating_va=rating,
        voltage_v=given.voltage_v,
        standing_w=standing,
        shared_ohm=complex(*shared),
        own_ohm=complex(*own),
    )


def impedances(
    study: Study, given: CircuitOf, main: Conductor | None = None
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Resistance and reactance in ohms of what a circuit shares with others, and of its own cable;
    nought where not described.

    Out and back for direct current and one phase, of one conductor for three; through another main
    cable than the site file's where one is given.
    """
    cable, wires = study.site.cable, 1.0 if given.system == "three-phase" else 2.0
    crosswise = 0.0 if given.system == "dc" else _REACTANCE
    shared = (0.0, 0.0)
    if given.after_cable and not study.site.inverter:
        shared = _impedance(cable.length, _main_ohm_m(study, main), crosswise, wires)
    if any(each.at == "loads" for each in study.site.transformer) and cable.voltage:
        turned = (given.voltage_v / cable.voltage) ** 2
        shared = (shared[0] * turned, shared[1] * turned)
    own = np.nan if given.conductor is None else _warm_ohm_m(given.conductor.resistance_20c_ohm_m)
    return shared, _impedance(given.length_m, own, crosswise, wires)


def _main_ohm_m(study: Study, main: Conductor | None) -> float:
    from ...plant.conductor import conductor

    section = study.site.cable
    if main is None and section.size is None:
        return np.nan
    found = main or conductor(section.size, section.material)
    return _warm_ohm_m(found.resistance_20c_ohm_m)


def _warm_ohm_m(cold: float) -> float:
    from ...plant.conductor import resistance_factor

    return float(cold * resistance_factor.si(313.15))


def _impedance(
    length_m: float | None, ohm_m: float, crosswise_m: float, wires: float
) -> tuple[float, float]:
    """Resistance and reactance of a cable in ohms; none where it is not described."""
    if length_m is None or not np.isfinite(length_m * ohm_m):
        return 0.0, 0.0
    return wires * length_m * ohm_m, wires * length_m * crosswise_m
