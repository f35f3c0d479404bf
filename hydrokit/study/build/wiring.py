"""From a study to its wires: what each carries from the powerhouse to the loads, its meters,
ballast, and what stands between."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from ...errors import Finding, HydrokitError, sure
from ...result import Result
from ...sentences import Amount, Sentence
from ...stream.days import days_of
from . import losses
from . import year as build_year
from .circuits import CircuitOf
from .phases import findings as phase_findings
from .protection import Protection, protection_of
from .protection import findings as protection_findings
from .starts import Start, start_of
from .store import Store, findings_of_store, store_of
from .winter import power_by_month
from .year import MONTH_DAYS

if TYPE_CHECKING:
    from ...plant import electric
    from ...plant.cable import CableRun
    from ...plant.cable_choice import CableCost
    from ...site.schema import Site
    from ..study import Study

__all__ = ["Ballast", "Between", "Run", "Wires", "wires"]
RUNAWAY_VOLTAGE = {
    "permanent magnet": 1.8
}  # of the usual voltage, without load; goes with the runaway speed, common practice
USUAL_RISE = 1.2  # of the others
SECONDS = 86400 * MONTH_DAYS


# --- what flows in them ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Run:
    """One circuit at full load.

    Parameters
    ----------
    name, kind, system : str
    power_w, voltage_v, length_m : float
        Sent, at the beginning, one way; length NaN where not given.
    run : plant.cable.CableRun or None
        Through its own cable; None where that is not known.
    load_v : float
        At the load, all cables before it counted; NaN where not known.
    start : Start or None
        Of a motor on it.
    asks : plant.electric.Circuit or None
        Current, least rating, meters; None beyond the largest usual breaker.
    smallest : plant.cable.CableRun or None
        Thinnest cable within the drop.
    drop_ratio : float
        That may be lost on it.
    costs : tuple of plant.cable.CableCost
        Cheapest first; empty without prices.
    protection : Protection or None
        Its breaker against what its conductor bears; None beyond the largest usual breaker.
    """

    name: str
    kind: str
    system: str
    _: KW_ONLY
    power_w: float
    voltage_v: float
    length_m: float
    run: CableRun | None
    load_v: float
    start: Start | None
    asks: electric.Circuit | None
    smallest: CableRun | None
    drop_ratio: float
    costs: tuple[CableCost, ...]
    protection: Protection | None

    @property
    def starting_v(self) -> float:
        """Voltage at a motor while it starts; NaN for other loads, and where its source cannot start it."""
        found = None if self.start is None else self.start.found
        return np.nan if found is None or self.run is None else self.voltage_v * found.motor


@dataclass(frozen=True, eq=False)
class Ballast:
    """What takes the power when nobody wants it.

    Parameters
    ----------
    asked : plant.electric.Ballast
        What it must be.
    fitted : plant.electric.Ballast
        What is there, in as many stages; what it must be where the site file does not say.
    there_w : float
        What is there; NaN where the site file does not say.
    heaters_w : float
        Circuits of heaters, which could be a second place for it.
    """

    asked: electric.Ballast
    fitted: electric.Ballast
    _: KW_ONLY
    there_w: float
    heaters_w: float


@dataclass(frozen=True, eq=False)
class Between:
    """A transformer or inverter between generator and loads.

    Parameters
    ----------
    name, kind, at : str
        What it is called; what it is; at which end of the main cable.
    rated_w : float
    efficiencies : (float, float, float)
        At full load, half and a tenth of it.
    idle_j : float
        Drawn in a year with nothing switched on.
    """

    name: str
    kind: str
    at: str
    _: KW_ONLY
    rated_w: float
    efficiencies: tuple[float, float, float]
    idle_j: float


@dataclass(frozen=True, eq=False)
class Wires(Result):
    """What the wires of a plant carry.

    Parameters
    ----------
    sent_w : float
        By the generator, at the beginning of the main cable, with all the water it can take.
    main : Run
        From powerhouse to loads.
    circuits : tuple of Run
    between : tuple of Between
        Transformers and inverter.
    ballast : Ballast
    store : Store or None
    full_hours : float
        Hours a year at full power that would lose as much in the cable as the real year; NaN where
        nothing is known of the year.
    findings : tuple of Finding
    """

    sent_w: float
    main: Run
    circuits: tuple[Run, ...]
    _: KW_ONLY
    between: tuple[Between, ...]
    ballast: Ballast
    store: Store | None
    full_hours: float
    findings: tuple[Finding, ...]


def wires(study: Study) -> Wires | None:
    """Currents, drops, losses, meters and ballast; None where plant or voltage are not known."""
    known = study.powers
    if study.plant is None or known is None:
        return None
    voltage = _voltage(study)
    sent = known.sending_w
    if not np.isfinite(voltage) or not sent > 0:
        return None
    hours = _full_hours(study)
    main = _main(study, sent, voltage, hours)
    runs = tuple(_circuit(study, each, main, sent) for each in study.circuits)
    dump = _ballast(study, sent, voltage)
    standing = tuple(
        _between(name, at, part)
        for at in ("powerhouse", "loads")
        for name, part in zip(_names(study.site, at), losses.between(study.site, at))
    )
    return Wires(
        sent,
        main,
        runs,
        between=standing,
        ballast=dump,
        store=store_of(study),
        full_hours=hours,
        findings=(
            *_findings(main, runs, dump, sent),
            *protection_findings((main, *runs)),
            *phase_findings(study),
            *findings_of_store(study),
        ),
    )


def _between(name: str, at: str, part: Any) -> Between:
    def at_load(share: float) -> float:
        return float(part.efficiency_si(share))

    return Between(
        name,
        part.part,
        at,
        rated_w=float(part.rated_w),
        efficiencies=(at_load(1.0), at_load(0.5), at_load(0.1)),
        idle_j=float(part.constant * part.rated_w * SECONDS.sum()),
    )


def _names(site: Site, at: str) -> list[str]:
    """Names of what stands at one end of the cable, in the order in which it is built."""
    names = [each.name or "transformer" for each in site.transformer if each.at == at]
    return names + (["inverter"] if at == "loads" and site.inverter else [])


def _voltage(study: Study) -> float:
    """Of the main cable: the site file's, else as read at the powerhouse; NaN where neither says it."""
    if study.site.cable.voltage is not None:
        return study.site.cable.voltage
    volts = np.array([]) if study.readings is None else study.readings.volts
    return float(np.median(volts[volts > 0])) if (volts > 0).any() else np.nan


def _full_hours(study: Study) -> float:
    """Hours a year at full power with the losses of the real year: they go with the square of the power."""
    from ...energy.year_power import power_series

    if study.plant is None or not study.plant.curve().rated_w > 0:
        return np.nan
    full = study.plant.curve().rated_w
    if study.year is not None:
        share = power_series(sure(build_year.taken(study)), study.plant.curves()) / full
        squares = (share**2).groupby(days_of(share).month).mean().reindex(
            range(1, 13)
        ).to_numpy() * build_year.outages(study.site).running
    else:
        power, _ = power_by_month(study)
        squares = (np.broadcast_to(np.nan if power is None else power, 12) / full) ** 2
    return float(np.nansum(squares * SECONDS) / 3600)


def _main(study: Study, sent_w: float, voltage_v: float, hours: float) -> Run:
    from ...plant.cable import USUAL_DROP
    from ...plant.conductor import conductor

    section = study.site.cable
    system, material = losses.PHASES[section.phases], section.material
    wire = None if section.size is None else conductor(section.size, material)
    given = CircuitOf(
        "main cable",
        "other",
        system,
        material=material,
        power_w=sent_w,
        voltage_v=voltage_v,
        power_factor=study.site.readings.power_factor if system != "dc" else 1.0,
        drop_ratio=USUAL_DROP,  # of the main cable; of a circuit it is a key
        length_m=np.nan if section.length is None else section.length,
        conductor=wire,
        after_cable=False,
    )
    highest = RUNAWAY_VOLTAGE.get(study.site.generator.kind, USUAL_RISE) * voltage_v
    return _run(study, given, 0.0, None, highest, _costs(study, given, hours))


def _circuit(study: Study, given: CircuitOf, main: Run, sent_w: float) -> Run:
    # an inverter holds its own voltage, whatever the cable before it has lost
    inverted = bool(study.site.inverter) and given.system != "dc"
    before = (
        main.run.drop_ratio if given.after_cable and main.run is not None and not inverted else 0.0
    )
    return _run(study, given, before, start_of(study, given, sent_w), None, ())


def _run(
    study: Study,
    given: CircuitOf,
    before: float,
    start: Start | None,
    highest_v: float | None,
    costs: tuple[CableCost, ...],
) -> Run:
    """One circuit, from what is given of it; `before` is the share of the voltage lost ahead of it."""
    from ...plant.cable import cable
    from ...plant.cable_choice import smallest_cable
    from ...plant.electric import circuit

    us = study.site.site.display == "us"
    about = (given.power_w, given.voltage_v, given.length_m)
    run, smallest, load_v = None, None, np.nan
    if np.isfinite(given.length_m) and given.power_w > 0:
        if given.conductor is not None:
            run = _tried(
                lambda: cable.si(
                    *about, given.conductor, given.system, given.material, given.power_factor
                )
            )
        gauge = (
            "AWG"
            if (us if given.conductor is None else given.conductor.name.endswith(("AWG", "kcmil")))
            else "mm2"
        )
        smallest = _tried(
            lambda: smallest_cable.si(
                *about,
                given.drop_ratio,
                given.system,
                given.material,
                given.power_factor,
                sections=gauge,
            )
        )
    if run is not None:
        load_v = given.voltage_v * (1 - before - run.drop_ratio)
    asks = (
        _tried(
            lambda: circuit.si(
                given.power_w,
                given.voltage_v,
                given.system,
                given.power_factor,
                highest_v,
                True,
                "us" if us else "iec",
            )
        )
        if given.power_w > 0
        else None
    )
    return Run(
        given.name,
        given.kind,
        given.system,
        power_w=given.power_w,
        voltage_v=given.voltage_v,
        length_m=given.length_m,
        run=run,
        load_v=load_v,
        start=start,
        asks=asks,
        smallest=smallest,
        drop_ratio=given.drop_ratio,
        costs=costs,
        protection=None if asks is None else protection_of(study, given, asks),
    )


_Found = TypeVar("_Found")


def _tried(work: Callable[[], _Found]) -> _Found | None:
    """A result that no cable or breaker may be large enough for."""
    try:
        return work()
    except HydrokitError:
        return None


def _costs(study: Study, given: CircuitOf, hours: float) -> tuple[CableCost, ...]:
    """The priced cables by what they cost over their life, cheapest first."""
    from ...plant.cable_choice import cheapest_cable

    money = study.site.costs
    if (
        study.cable_prices is None
        or money.value is None
        or not np.isfinite(hours)
        or not np.isfinite(given.length_m)
    ):
        return ()
    found = _tried(
        lambda: cheapest_cable.si(
            given.power_w,
            given.voltage_v,
            given.length_m,
            study.cable_prices,
            money.value,
            hours * 3600.0,
            money.life,
            money.discount_rate,
            given.system,
            given.material,
            given.power_factor,
        )
    )
    return () if found is None else found


def _ballast(study: Study, sent_w: float, voltage_v: float) -> Ballast:
    from ...plant.electric import ballast

    section = study.site.ballast
    rule = section.rule or ("charge controller" if study.site.battery else "generator")
    three = study.site.cable.phases == "three"  # whose resistors hang between phase and neutral

    def made(power_w: float, margin: float | None) -> electric.Ballast:
        return ballast.si(
            power_w,
            voltage_v
            if section.voltage is None
            else section.voltage * (np.sqrt(3) if three else 1.0),
            int(section.stages),
            rule,
            margin,
            section.pattern,
            losses.PHASES[study.site.cable.phases],
        )

    asked = made(sent_w, None)
    fitted = asked if section.power is None else made(section.power, 1.0)
    heaters = sum(each.power_w for each in study.circuits if each.kind == "heater")
    there_w = np.nan if section.power is None else section.power
    return Ballast(asked, fitted, there_w=there_w, heaters_w=float(heaters))


def _findings(main: Run, runs: tuple[Run, ...], dump: Ballast, sent_w: float) -> Iterator[Finding]:
    for each in (main, *runs):
        if each.asks is None and each.power_w > 0:
            yield Finding(
                "problem",
                each.name,
                "its current is above the largest usual breaker; raise the voltage",
            )
        if each.run is None and np.isfinite(each.length_m) and each.smallest is None:
            yield Finding(
                "problem",
                each.name,
                "no standard cable keeps its drop; raise the voltage, or lay several side by side",
            )
        if np.isfinite(each.load_v) and each.load_v < 0.95 * each.voltage_v:
            yield Finding(
                "caution",
                each.name,
                Sentence(
                    "its loads get {left} of {sent}; a drop of 5 % in all is common practice",
                    left=Amount(each.load_v, "voltage"),
                    sent=Amount(each.voltage_v, "voltage"),
                ),
            )
        if np.isfinite(each.starting_v) and each.starting_v < 0.8 * each.voltage_v:
            yield Finding(
                "caution",
                each.name,
                Sentence(
                    "while its motor starts the voltage is {left} of {sent}, generator and "
                    "cable counted: it may not start, and lights dim",
                    left=Amount(each.starting_v, "voltage"),
                    sent=Amount(each.voltage_v, "voltage"),
                ),
            )
        if each.start is not None and each.start.found is None:
            yield Finding(
                "caution",
                each.name,
                Sentence(
                    "a motor draws {drawn} while it starts, {times} times its power at work; "
                    "that is more than {source} gives, so the voltage collapses: it needs a "
                    "soft start or a smaller motor",
                    drawn=Amount(each.start.drawn_va, "apparent power", 2),
                    times=Amount(each.start.times, "number", 2),
                    source=each.start.source.name,
                ),
            )
    if np.isfinite(dump.there_w) and dump.there_w < sent_w:
        yield Finding(
            "problem",
            "ballast",
            Sentence(
                "it takes {there} and the plant gives {sent}: when the loads are switched "
                "off, the rest speeds the machine up",
                there=Amount(dump.there_w, "power"),
                sent=Amount(sent_w, "power"),
            ),
        )
