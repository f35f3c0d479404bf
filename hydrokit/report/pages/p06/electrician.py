"""Page 06, for the electrician: breakers and conductors, and the list of what protects people, with
what is known and owed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.starts import STARTING
from ....study.study import Study
from ....study.view import View
from ...display import Rough, Table, Words, escape_markdown
from ..common import needs

if TYPE_CHECKING:
    from collections.abc import Callable

    from ....plant.conductor import Conductor
    from ....study.build.safeguards import Electrical, SafeguardState
    from ....study.build.wiring import Wires

__all__ = [
    "ballast_phase_table",
    "list_table",
    "list_words",
    "protection_table",
    "protection_words",
]

_COLUMNS = ("point", "what the study knows", "what is owed", "status")


def conductor_name(view: View, found: Conductor) -> str:
    """A conductor as the reader's trade names it: circular mils for a US reader, mm² for others."""
    name = found.trade
    if view.system == "us":
        return name if name.endswith("kcmil") else f"{name} ({plain_number(found.mils)} cmil)"
    return name if name.endswith("mm²") else f"{name} ({plain_number(found.section_m2 * 1e6)} mm²)"


# --- breakers and conductors ------------------------------------------------------------------


@needs(Study.wires, quiet=True)
def protection_table(study: Study, view: View, wires: Wires) -> Table | Words:
    """Each circuit's breaker, what its conductor bears, and the short circuit at its end."""
    rows = []
    for each in (wires.main, *wires.circuits):
        found = each.protection
        if found is None:
            continue
        main = each is wires.main
        rows.append(
            (
                each.name,
                view.shown(study.answer("breaker.main"), unit=False) if main else found.breaker_a,
                "" if each.run is None else conductor_name(view, each.run.conductor),
                view.shown(study.answer("cable.ampacity"), unit=False)
                if main and np.isfinite(found.borne_a)
                else found.borne_a,
                {True: "yes", False: "no", None: "not known"}[found.protected],
                "several side by side"
                if found.thinnest is None
                else conductor_name(view, found.thinnest),
                Rough(found.short_a),
                {True: "yes", False: "no", None: "not known"}[found.trips],
            )
        )
    if not rows:
        return Words("")
    return Table(
        (
            "circuit",
            "breaker [A]",
            "conductor",
            "it bears [A]",
            "breaker protects it",
            "thinnest the breaker protects",
            "short circuit at its end [A]",
            "trips at once at 5 × its rating (type B)",
        ),
        rows,
        "Breakers against conductors, for planning",
        mark=[row for row, each in enumerate(rows) if "no" in (each[4], each[7])],
    )


@needs(Study.electrical, Study.wires, quiet=True)
def protection_words(study: Study, view: View, found: Electrical, wires: Wires) -> Words:
    """What the table rests on."""
    from ....plant.ampacity import SOURCES

    names = {
        "AWG" if each.run.conductor.name.endswith(("AWG", "kcmil")) else "mm2"
        for each in (wires.main, *wires.circuits)
        if each.run is not None
    } or {"AWG" if view.system == "us" else "mm2"}
    text = (
        "A breaker carries the current and a quarter more, and must not exceed what its conductor bears. "
        + " ".join(f"What it bears: {SOURCES[each]}." for each in sorted(names))
        + " Heat, bundling and insulation change it: the local code decides. "
    )
    if study.answer("short_circuit.terminals") is not None:
        text += (
            f"The generator ({view.shown(study.answer('generator.apparent'))}, reactance "
            f"{plain_number(study.site.generator.reactance, 2)}) feeds "
            f"{view.shown(study.answer('short_circuit.terminals'))} into a short circuit at its "
            "terminals in the first cycles, and less after: a type B breaker trips at once at "
            "five times its rating (IEC 60898, from memory), so where the table says no, "
            "something other than the breaker's magnet must trip. A fault from one phase to earth "
            "is not in the table. "
        )
    elif found.grid:
        text += "Short circuits are fed by the grid: its operator states them. "
    return Words(text)


@needs(Study.phases, Study.wires, quiet=True)
def ballast_phase_table(study: Study, view: View, found: object, wires: Wires) -> Table | Words:
    """What ballast and set carry in each phase, with its resistors switched alike and phase by phase."""
    cases = () if study.phases is None else study.phases.with_ballast
    if not cases:
        return Words("")
    rows = [
        (
            each.loads,
            "each phase by itself" if each.each_phase else "alike",
            *(float(amps) for amps in each.ballast_a),
            *(float(amps) for amps in each.total.current_a),
            float(each.total.neutral_a),
        )
        for each in cases
    ]
    rated = study.answer("phase.rated")
    return Table(
        (
            "loads on",
            "ballast switched",
            *(f"ballast L{each} [A]" for each in (1, 2, 3)),
            *(f"set L{each} [A]" for each in (1, 2, 3)),
            "neutral [A]",
        ),
        rows,
        f"Ballast and set phase by phase at full power; the set is rated for {view.shown(rated)} in each",
    )


# --- the list -----------------------------------------------------------------------------------


@needs(Study.electrical, quiet=True)
def list_table(study: Study, view: View, found: Electrical) -> Table:
    """Every safeguard: what the study knows of it, what is owed, how far it is."""
    rows = []
    for each in found.states:
        known, owed = _TOLD[each.subject](study, view, found)
        rows.append((each.subject, known, owed, _status(each)))
    return Table(
        _COLUMNS,
        rows,
        "For a licensed electrician: what protects people and plant",
        mark=[row for row, each in enumerate(found.states) if each.status == "open"],
    )


@needs(Study.electrical, quiet=True)
def list_words(study: Study, view: View, found: Electrical) -> Words:
    """What the list is and is not."""
    told = "" if found.told else ", as far as the site file shows (say supply under [electrical])"
    return Words(
        "The plant is counted as "
        f"{'running on a grid' if found.grid else 'an island: it feeds its own loads alone'}{told}. "
        "The list hands over what this study knows; it designs nothing. Local codes, the grid's "
        "operator and a licensed electrician decide, and a row that says nothing is a question "
        "still to be asked ([[safeguard]])."
    )


def _status(state: SafeguardState) -> str:
    parts = [
        state.status,
        state.by,
        "" if state.date is None else state.date.isoformat(),
        state.note,
    ]
    return ", ".join(each for each in parts if each)


def _known(study: Study, key: str) -> bool:
    return study.answer(key) is not None


def _isolation(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    main = study.wires.main if study.wires is not None else None
    known = f"the main cable carries {view.shown(study.answer('cable.current'))}"
    if main is not None:
        known += f" at {plain_number(main.voltage_v)} V"
        if main.system == "dc":
            known += "; switches must be marked for direct current"
    return (
        known + "; a turning generator is live although every switch is open",
        (
            "a switch that locks open at the powerhouse and at the loads, all live poles; water "
            "shut and locked off before work"
        ),
    )


def _earthing(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    section, owed, known = study.site.electrical, [], []
    known.append("the system is not said" if section.earthing is None else section.earthing.upper())
    if section.earthing is None:
        owed.append("system of earthing, neutral earthed once, at the generator")
    if section.electrode is None:
        owed.append("electrode measured in the driest month")
    else:
        known.append(f"electrode {view.text(section.electrode, 'resistance')}")
    if section.residual_current is None:
        owed.append("rated residual current")
    else:
        known.append(
            f"{view.text(section.residual_current, 'small current')} asks for an electrode of "
            f"at most {view.shown(study.answer('earth.electrode'))} (50 V; IEC 60364-4-41)"
        )
    if _known(study, "earth.touch"):
        known.append(
            f"metal at a fault stays at or below {view.shown(study.answer('earth.touch'))}"
        )
    return "; ".join(known), "; ".join(
        [*owed, "penstock, tank and frame bonded to it where they are of metal"]
    )


def _overcurrent(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    known = []
    if _known(study, "breaker.main"):
        known.append(
            f"main cable: breaker {view.shown(study.answer('breaker.main'))}"
            + (
                f", conductor bears {view.shown(study.answer('cable.ampacity'))}"
                if _known(study, "cable.ampacity")
                else ", conductor not given"
            )
        )
    if _known(study, "short_circuit.terminals"):
        known.append(
            f"short circuit at the terminals {view.shown(study.answer('short_circuit.terminals'))}"
        )
        owed = "the sustained short-circuit current, from the generator's manufacturer"
    else:
        owed = "the short-circuit current at the board, from whoever feeds it"
    return "; ".join(known), f"{owed}; insulation, how each cable is laid, and the heat around it"


def _loss_of_load(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    known = (
        f"without load the voltage can reach about {view.shown(study.answer('voltage.runaway'))} "
        "(common practice)"
    )
    if not found.grid and _known(study, "ballast.power"):
        known += f"; the ballast must take {view.shown(study.answer('ballast.power'))}"
    owed = (
        "runaway speed that the generator bears, in writing: a standard one is tested at 20 to 25 "
        "% above its own (MG 1, as quoted), an impulse runner reaches 80 to 100 % above; over- "
        "and undervoltage and frequency relays (27, 59, 81)"
    )
    if study.site.ballast.power is None and not found.grid:
        owed += "; the ballast itself"
    return known, owed


def _islanding(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    if not found.grid:
        return (
            "no grid is connected",
            (
                "a changeover switch that cannot close both, wherever a grid or another generator "
                "could feed the same wires"
            ),
        )
    known = (
        "a dead grid must be left within 2 s (IEEE 1547-2018, 8.1.1, as quoted); settings are the "
        "operator's"
    )
    if _known(study, "grid.rise"):
        known += f"; the plant raises the voltage there by at most {view.shown(study.answer('grid.rise'))}"
    owed = "the operator's consent and settings; a tested relay or inverter (IEC 62116)"
    if study.site.electrical.fault_level is None:
        owed += "; the short-circuit power where it is connected"
    return known, owed


def _stop(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    safe = study.answer("closing_time.even")
    known = (
        "how fast the water may be stopped is not known"
        if safe is None
        else (
            f"the water must not be stopped by the valve in less than {view.shown(safe)}; a "
            "deflector stops the runner at once"
        )
    )
    return (
        known,
        (
            "a button by the door that takes the water off the runner and opens the breaker, and "
            "stays in; tried once a year"
        ),
    )


def _guards(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    speed = study.site.turbine.speed
    known = (
        "speed not given"
        if speed is None
        else (
            f"the runner turns at {view.text(speed, 'speed')}, about twice that without load "
            "(impulse runner, common practice)"
        )
    )
    return (
        known,
        "guards on shaft, belt and coupling that need a tool; covers on live parts; a sign on the door",
    )


def _hot_water(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    from ....plant import hot_water

    def told(kelvin: float) -> str:
        return view.text(kelvin, "temperature", 3)

    if study.site.ballast.heats == "water":
        known = (
            f"store at {told(hot_water.STORED_K)} and above, {told(hot_water.OUTLET_K)} at the "
            f"tap within a minute, cold below {told(hot_water.COLD_K)}, against legionella; "
            f"{told(hot_water.STORED_K)} burns skin in about {plain_number(hot_water.BURNS_S)} s: "
            f"mix to {told(hot_water.MIXED_K)} at a bath"
        )
        if _known(study, "ballast.tank"):
            known += (
                f"; full output heats the tank in {view.shown(study.answer('ballast.tank'))} at "
                "the soonest"
            )
        return (
            known,
            (
                "thermostat, relief valve piped to where nobody stands, mixing valve at the taps, "
                "and a second place for the power when the tank is hot"
            ),
        )
    return (
        "ballast heats the air; its resistors run hot without warning",
        (
            "distance to wood and hands, and air that can move; where water is heated as well: "
            "thermostat, relief valve, mixing valve"
        ),
    )


def _lightning(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    laid, length = study.site.cable.laid, study.site.cable.length
    how = "how it is laid is not said" if laid is None else f"laid {laid}"
    known = how if length is None else f"main cable {view.text(length, 'length')}, {how}"
    if laid == "overhead":
        return (
            known,
            (
                "surge arresters at both ends of the line, earthed beside them; a long pipe of "
                "metal earthed at the powerhouse"
            ),
        )
    return known, "whether surge arresters are needed at either end, by local lightning"


def _motor_start(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    known, weak = [], found.weakest
    if weak is not None:
        name = escape_markdown(weak.name)
        if weak.found is None:
            known.append(f"{name} draws more than {weak.source.name} gives")
        elif weak.source.reactance > 0:
            known.append(
                f"{name} draws {view.text(weak.drawn_va, 'apparent power', 2)} as it starts "
                f"and dips the voltage of {weak.source.name} by "
                f"{view.shown(study.answer('motor.dip'))}"
            )
        else:
            known.append(
                f"{name} draws {view.text(weak.drawn_va, 'apparent power', 2)} as it starts"
            )
    if _known(study, "motor.largest"):
        known.append(
            f"a dip of 15 % is {view.shown(study.answer('motor.largest'))} of locked rotor "
            "(common practice; 5 % where lamps must not blink)"
        )
    told = [each.name for each in study.site.circuit if each.locked_rotor is not None]
    owed = (
        "the transient reactance from the generator's plate"
        if not study.site.generator.given("reactance")
        else ""
    )
    lacking = (
        f"locked-rotor current from each motor's plate ({plain_number(STARTING)} times is counted)"
    )
    return "; ".join(known), "; ".join(each for each in (owed, "" if told else lacking) if each)


def _battery(study: Study, view: View, found: Electrical) -> tuple[str, str]:
    battery = study.site.battery
    size = "charge not given" if battery.charge is None else f"{plain_number(battery.charge)} Ah"
    volts = "" if battery.voltage is None else f" at {plain_number(battery.voltage)} V"
    return (
        f"{size}{volts}",
        (
            "a fuse for direct current at the terminal, a switch, air where it gasses, no "
            "charging of lithium cells below freezing point"
        ),
    )


_TOLD: dict[str, Callable[[Study, View, Electrical], tuple[str, str]]] = {
    "isolation": _isolation,
    "earthing": _earthing,
    "overcurrent protection": _overcurrent,
    "loss of load": _loss_of_load,
    "anti-islanding": _islanding,
    "emergency stop": _stop,
    "guards": _guards,
    "hot water and heaters": _hot_water,
    "surge and lightning": _lightning,
    "motor start": _motor_start,
    "battery": _battery,
}
