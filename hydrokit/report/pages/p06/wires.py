"""Page 06, the wires: what each circuit carries, what its meters must show, and where the power
goes when nobody wants it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.study import Study
from ....study.view import View
from ...display import Cautions, Table, Words, escape_markdown
from ..common import needs, sources
from .storing import ballast_table, ballast_words, between_table, store_table, store_words

if TYPE_CHECKING:
    from ....study.build.metering import Powers, RuleOfThumb
    from ....study.build.wiring import Run, Wires

__all__ = [
    "ballast_table",
    "ballast_words",
    "between_table",
    "cable_table",
    "cable_words",
    "meter_table",
    "mind",
    "references",
    "rule_words",
    "store_table",
    "store_words",
    "wire_table",
    "wire_words",
]

_KWH = 3.6e6
_SYSTEM = {"dc": "direct current", "one-phase": "one phase", "three-phase": "three phases"}


def _volts(value: float, digits: int = 3) -> str:
    return f"{plain_number(value, digits)} V"


def _amps(value: float, digits: int = 3) -> str:
    return f"{plain_number(value, digits)} A"


def _share(value: float) -> str:
    return f"{plain_number(100 * value, 2)} %"


def _current(study: Study, wires: Wires, each: Run, view: View) -> str | float:
    """Current of a circuit; that of the main cable answers a question."""
    if each.asks is None:
        return ""
    return (
        view.shown(study.answer("cable.current"), unit=False)
        if each is wires.main
        else float(each.asks.current_a)
    )


def _runs(wires: Wires) -> tuple[Run, ...]:
    return (wires.main, *wires.circuits)


@needs(Study.wires, headline=True)
def wire_table(study: Study, view: View, wires: Wires) -> Table:
    """Every circuit at full load: current, voltage at the load, drop, loss, what its conductor must
    be rated for."""
    rows = []
    for each in _runs(wires):
        run = each.run
        rows.append(
            (
                each.name,
                f"{plain_number(each.voltage_v)} V, {_SYSTEM[each.system]}",
                view.shown(study.answer("power.sending"), unit=False)
                if each is wires.main
                else float(each.power_w),
                "" if run is None else run.conductor.trade,
                "" if np.isnan(each.length_m) else float(view.number(each.length_m, "length")),
                _current(study, wires, each, view),
                "" if run is None else _share(run.drop_ratio),
                "" if np.isnan(each.load_v) else float(each.load_v),
                "" if run is None else float(run.loss_w),
                float(each.asks.rating_a) if each.asks else "",
            )
        )
    columns = (
        "circuit",
        "at",
        "power, sending end [W]",
        "conductor",
        view.header("length", "length"),
        "current [A]",
        "drop on it",
        "at the load [V]",
        "lost on it [W]",
        "rated for at least [A]",
    )
    return Table(
        columns,
        rows,
        f"What the wires carry with everything on; conductors at {view.text(313.15, 'temperature')}",
        mark=(0,),
    )


@needs(Study.wires, Study.powers, quiet=True)
def wire_words(study: Study, view: View, found: Wires, powers: Powers) -> Words:
    """What the table means and what it leaves to others."""
    main = found.main
    text = (
        "With all the water it can take the plant gives "
        f"{view.shown(study.answer('power.terminals'))} at the generator terminals"
    )
    text += (
        ", which are the sending end of the main cable"
        if powers.terminals_w == powers.sending_w
        else f" and {view.shown(study.answer('power.sending'))} at the sending end of the main cable"
    )
    text += (
        f": {view.shown(study.answer('cable.current'))} at {_volts(main.voltage_v)}. "
        if main.asks
        else f", at {_volts(main.voltage_v)}: more than any usual breaker bears. "
    )
    if main.run is not None:
        text += (
            f"The cable loses {view.text(main.run.loss_w, 'power')} "
            f"({_share(main.run.loss_ratio)}); {view.shown(study.answer('power.receiving'))} and "
            f"{_volts(main.load_v)} are left at its receiving end. "
        )
    elif study.site.cable.loss is not None:
        text += (
            f"The cable loses {_share(study.site.cable.loss)} at full load, as the site file has "
            f"it; {view.shown(study.answer('power.receiving'))} are left at its receiving end. "
        )
    elif np.isnan(main.length_m):
        text += "The cable is not described: give length and size under [cable]. "
    if powers.metered_at:
        text += (
            "The plant is known by its watts, counted at the "
            f"{powers.metered_at}{'' if study.site.readings.given('metered_at') else ' because the site file does not say where they are metered'}. "
        )
    if powers.loads_w < powers.receiving_w * (1 - 1e-6):
        text += (
            f"Behind what stands at the loads {view.shown(study.answer('power.loads'))} are left. "
        )
    if found.circuits:
        wanted = sum(each.power_w for each in found.circuits)
        left, loads = powers.loads_w, view.shown(study.answer("power.loads"))
        text += f"All circuits together take {view.text(wanted, 'power')}; " + (
            f"that is more than the {loads} at the loads, so they cannot all be on at once. "
            if wanted > left
            else f"{loads} come to the loads. "
        )
        worst = min(
            (each for each in found.circuits if np.isfinite(each.load_v)),
            key=lambda each: each.load_v / each.voltage_v,
            default=None,
        )
        if worst is not None:
            text += (
                f"The voltage drop is largest at {escape_markdown(worst.name)}: "
                f"{_volts(worst.load_v)} of {_volts(worst.voltage_v)} are left. "
            )
        motors = [each for each in found.circuits if np.isfinite(each.starting_v)]
        if motors:
            starting = series_text(
                [f"{_volts(each.starting_v)} at {escape_markdown(each.name)}" for each in motors]
            )
            source = max(
                (each.start.source for each in motors if each.start is not None),
                key=lambda each: each.reactance,
            )
            dips = (
                f"with the voltage dip of {source.name} counted"
                if source.reactance > 0
                else f"{source.name} taken to hold its voltage"
            )
            text += (
                "While a motor starts, at about six times its current (common practice) and "
                f"{dips}, the voltage is {starting}. "
            )
        broken = [
            each
            for each in found.circuits
            if each.kind == "motor"
            and np.isfinite(each.load_v)
            and not np.isfinite(each.starting_v)
        ]
        if broken:
            text += (
                f"**The start of {series_text([escape_markdown(each.name) for each in broken])} "
                "takes more power than is available: the voltage collapses.** "
            )
        text += _phase_words(study, view)
    else:
        text += (
            "No circuits are listed; with them under `[[circuit]]` (name, power, length, size) "
            "each is shown with its drop and its meters. "
        )
    return Words(
        text
        + "The last column is 125 % of the current, because a plant's current flows for weeks: "
        "the US code asks for that where a current flows three hours or longer; other "
        "countries have other rules. Current-carrying capacity, fuses and earthing are for "
        "the local code and a licensed electrician."
    )


def _phase_words(study: Study, view: View) -> str:
    """What loads of one phase do to a plant of three."""
    found = study.phases
    if found is None:
        return ""
    hung = series_text(
        [
            f"{escape_markdown(name)} on L{where.replace('-', ' and L')}"
            for name, where in found.places
        ]
    )
    text = (
        f"On the three phases: {hung}"
        + (", as the site file has it" if found.given else ", spread as evenly as possible")
        + ". "
    )
    text += (
        "With everything on, the most loaded phase carries "
        f"{view.shown(study.answer('phase.highest'))}, where the generator is rated for "
        f"{view.shown(study.answer('phase.rated'))} in each, and the neutral up to "
        f"{view.shown(study.answer('phase.neutral'))}. "
    )
    return text + (
        "With only the loads of that phase on, the set is out of balance by "
        f"{view.shown(study.answer('phase.unbalance'))} of its rated current (negative "
        "sequence; 5 % without and 10 % with a damper winding is permissible for long). "
    )


@needs(Study.rule_of_thumb, quiet=True)
def rule_words(study: Study, view: View, found: RuleOfThumb) -> Words:
    """How the plant stands against the rule of thumb for small plants."""
    whole, low, high = found.efficiency, found.low, found.high
    if view.system == "us":
        rule = f"watts = gpm × ft ÷ 10 to 13; for this plant the divisor is {plain_number(found.divisor, 2)}"
    else:
        least, most, own = (plain_number(each, 2) for each in found.factors)
        rule = f"watts = litres a second × metres × {least} to {most}; for this plant the factor is {own}"
    judged = (
        "within the rule"
        if low <= whole <= high
        else "below the rule: look for what is lost"
        if whole < low
        else "above the rule, as larger or better machines are; confirm such a promise with a meter"
    )
    return Words(
        f"From the water under the whole head to the loads {100 * whole:.0f} % of the power "
        f"is left. A rule of thumb for small plants says {rule}: {judged} (common practice)."
    )


@needs(Study.wires, quiet=True)
def meter_table(study: Study, view: View, wires: Wires) -> Table:
    """Scales of the meters of each circuit."""
    rows = []
    for each in _runs(wires):
        if each.asks is not None:
            rows.append(
                (
                    each.name,
                    view.shown(study.answer("cable.current"))
                    if each is wires.main
                    else _amps(each.asks.current_a),
                    *(
                        f"0 to {scale:,.10g} {unit}"
                        for scale, unit in (
                            (each.asks.ammeter_a, "A"),
                            (each.asks.voltmeter_v, "V"),
                            (each.asks.wattmeter_w, "W"),
                        )
                    ),
                )
            )
    caption = (
        "Meter scales: full load at 80 % of the scale or below; the voltmeter of the main cable "
        "covers the voltage of a machine that has lost its load"
    )
    return Table(
        ("circuit", "usual current", "ammeter", "voltmeter", "wattmeter"),
        rows or [("none", "", "", "", "")],
        caption,
    )


@needs(Study.wires, quiet=True)
def cable_table(study: Study, view: View, wires: Wires) -> Table | Words:
    """The smallest cable for each circuit, and for the main cable what each size costs over its life."""
    rows = []
    for each in _runs(wires):
        if np.isfinite(each.length_m) and each.power_w > 0:
            there = "" if each.run is None else each.run.conductor.trade
            fits = (
                "none is large enough" if each.smallest is None else each.smallest.conductor.trade
            )
            enough = (
                ""
                if each.run is None
                else "yes"
                if each.run.drop_ratio <= each.drop_ratio * (1 + 1e-9)
                else "no"
            )
            rows.append(
                (
                    each.name,
                    _share(each.drop_ratio),
                    fits,
                    "" if each.smallest is None else _share(each.smallest.drop_ratio),
                    there,
                    enough,
                )
            )
    if not rows:
        return Words("*Not shown: the length of the main cable is lacking.*")
    return Table(
        (
            "circuit",
            "permitted drop",
            "smallest conductor",
            "its drop",
            "there or planned",
            "large enough",
        ),
        rows,
        "The smallest conductor for the voltage drop; current-carrying capacity is not checked here",
    )


@needs(Study.wires, quiet=True)
def cable_words(study: Study, view: View, found: Wires) -> Words:
    """Which main cable is cheapest over its life."""
    costs = found.main.costs
    if not costs:
        lacking = (
            "prices of cable ([costs] cables)"
            if study.cable_prices is None
            else "what a kWh is worth ([costs] value), or the length of the cable,"
        )
        return Words(
            f"*Which main cable is cheapest over its life is not said: {lacking} "
            f"{'are' if study.cable_prices is None else 'is'} lacking.*"
        )
    best, thinnest = costs[0], min(costs, key=lambda each: each.run.conductor.section_m2)
    years = study.site.costs.life
    text = (
        f"Over {years:.0f} year{'' if years == 1 else 's'} the cheapest main cable is "
        f"**{best.run.conductor.trade}**: {view.money(best.price)} laid and "
        f"{view.money(best.lost, 2)} of lost energy. The loss of the year is that of "
        f"{found.full_hours:,.0f} hours at full power (equivalent loss hours). "
    )
    if thinnest is not best:
        text += (
            f"The smallest of the list, {thinnest.run.conductor.trade}, would cost "
            f"{view.money(thinnest.price)} and lose {view.money(thinnest.lost, 2)}. "
        )
    there = found.main.run
    if there is not None and there.conductor.name != best.run.conductor.name:
        text += f"The site file has {there.conductor.trade}. "
    if best.run.drop_ratio > found.main.drop_ratio:
        text += (
            f"**The cheapest drops {_share(best.run.drop_ratio)}, more than is usual: take a "
            "larger one where it feeds lamps or motors.** "
        )
    return Words(text)


# --- ballast, transformer, inverter, battery ------------------------------------------------


@needs(Study.wires, quiet=True)
def mind(study: Study, view: View, wires: Wires) -> Cautions:
    """Where wires hurt."""
    from ....plant.electric import CAUTIONS

    kinds = ["licensed", "shock", "loss of load", "overspeed", "ballast", "islanding"] + (
        ["battery"] if study.site.battery else []
    )
    return Cautions([CAUTIONS[each] for each in kinds])


def references() -> Words:
    """What the sections on jets, heat and wires rest on."""
    return sources(
        "Jets: fed jets keep their power; with one more, under-fed, power goes with the cube "
        "of the flow; the change lies where both are equal.",
        (
            "Resistance of conductors: IEC 60228:2004, tables 1 and 2 and annex; NEC chapter 9, "
            "tables 8 and 9. Drop of 3 % on one run, 5 % in all: informational notes of the NEC, "
            "common practice elsewhere."
        ),
        (
            "A quarter more than a current of three hours or longer: NEC 210.19 and 210.20, as an "
            "example. Ballast: manuals of makers of charge controllers; 110 % and more of the "
            "output, common practice."
        ),
        (
            "Phases: symmetrical components; limits of negative-sequence current as quoted from a "
            "table of standard limits in a protection manual. Motor start: voltage divider of "
            "generator and motor; subtransient reactance 0.16 (0.10 to 0.24) as quoted from IEEE "
            "141, transient 0.15 to 0.25 and six times the running current common practice."
        ),
        (
            "Start of a motor as a circuit: A. L. Sheldrake, Handbook of Electrical Engineering, "
            "starting study; locked rotor at a power factor of 0.35, common practice. What "
            "conductors bear: NEC table 310.16, IEC 60364-5-52 table B.52.4; breakers IEC "
            "60364-4-43, 433.1; electrode IEC 60364-4-41, 411.5.3; from memory. Gauges: ASTM "
            "B258."
        ),
        (
            "Hot water: advice of a health and safety executive and of OSHA; scald tables; mixed "
            "outlets by notes of a scheme for thermostatic valves. Grid: IEEE 1547-2018, 8.1.1, "
            "and IEC 62116, as quoted."
        ),
        "Cheapest section: W. Thomson (Lord Kelvin), 1881, with the present worth of the losses.",
        (
            "Heat through surfaces: ISO 6946; of the air, 0.335 Wh a cubic metre and kelvin. "
            "Fuels: USDA Forest Products Laboratory, TechLine on fuel values; firewood tables of "
            "US university extensions."
        ),
    )
