"""A panel on what the power does: the main cable, the demand, and the start of a motor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import HydrokitError, sure
from ..plant.cable import LARGE_DROP, USUAL_DROP, cable
from ..plant.conductor import Conductor, standard_sections
from ..plant.wire import Wire
from ..report.display import Words
from ..report.pages.common import needs
from ..report.style import CREEK, ICE, INK, MONTH_LETTERS, RUST, SMALL, SUN, figure, thousands
from ..study.build import losses
from ..study.build.starts import STARTERS, Start, start_of
from ..study.study import Study
from .knobs import DASHED, DOTTED, Knob, Panel, kwh_text, levels, like, moving, shares, shown
from .mean_year import MeanYear

if TYPE_CHECKING:
    from ..plant.cable import CableRun
    from ..report.display import Picture
    from ..study.build.circuits import CircuitOf
    from ..study.build.wiring import Wires
    from ..study.view import View
    from ..units import Number

__all__ = ["OtherCable", "OtherDemand", "OtherMotor", "panel_use"]

_MOST_LOST, _THICKEST = 0.25, 8.0  # of the power; times the copper there is
_LEAST_STARTING = 0.8  # of its voltage a motor needs to start, common practice
_MONTHS = np.arange(1, 13)


# --- what is worked out ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class OtherCable:
    """What arrives through each size of the main cable, all the water taken.

    Parameters
    ----------
    runs : tuple of CableRun
        Thin to thick.
    now : int
        Place of the one that lies there or is planned.
    """

    study: Study
    runs: tuple[CableRun, ...]
    now: int
    _: KW_ONLY
    voltage_v: float

    @classmethod
    def of(cls, study: Study, wires: Wires) -> OtherCable | None:
        """None where the main cable is not described."""
        here, section = wires.main.run, study.site.cable
        if here is None or section.size is None:
            return None
        american = here.conductor.name.endswith(("AWG", "kcmil"))
        known = standard_sections(section.material, "AWG" if american else "mm2")
        found = {
            each.name: run
            for each in known
            if (run := _run(study, wires, each)) is not None
            and (_worth_a_look(run, here) or each.name == here.conductor.name)
        }
        if here.conductor.name not in found:
            return None
        now = list(found).index(here.conductor.name)
        return cls(study, tuple(found.values()), now, voltage_v=wires.main.voltage_v)

    def arrives(self, place: int, sent_w: Number) -> Number:
        """Power at the loads of what is sent, through the cable in that place."""
        laid = Wire(self.runs[place].resistance_ohm, self.voltage_v, _factor(self.study))
        power = laid.output_si(sent_w)
        for part in losses.between(self.study.site, "loads"):
            power = part.output_si(power)
        return power


def _worth_a_look(run: CableRun, here: CableRun) -> bool:
    thicker = run.conductor.section_m2 / here.conductor.section_m2
    return bool(run.loss_ratio <= _MOST_LOST and thicker <= _THICKEST)


def _run(study: Study, wires: Wires, size: Conductor) -> CableRun | None:
    """The main cable in another size; None where it cannot bring the power to its end."""
    main = wires.main
    about = (main.power_w, main.voltage_v, main.length_m, size)
    try:
        return cable.si(*about, main.system, study.site.cable.material, _factor(study))
    except HydrokitError:
        return None


def _factor(study: Study) -> float:
    """Power factor of what the main cable carries."""
    return 1.0 if study.site.cable.phases == "dc" else study.site.readings.power_factor


@dataclass(frozen=True, eq=False)
class OtherDemand:
    """What a demand takes of the mean year, through another cable."""

    year: MeanYear
    power_w: np.ndarray
    sent_w: np.ndarray
    _: KW_ONLY
    demand_w: np.ndarray

    @classmethod
    def of(cls, study: Study) -> OtherDemand | None:
        """None where no demand or no year is known."""
        from ..study.build.metering import sending_si

        if study.year is None or not np.isfinite(study.year.annual_kwh) or study.demand_w is None:
            return None
        year = MeanYear.of(study)
        power = year.power_w(study.rights)
        return cls(year, power, np.asarray(sending_si(study)(power)), demand_w=sure(year.demand_w))

    def monthly_kwh(
        self, share: float, cable: OtherCable | None, place: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """Wanted, and met, by month."""
        power = self.power_w
        if cable is not None and place != cable.now:
            before, after = (cable.arrives(each, self.sent_w) for each in (cable.now, place))
            power = power * np.divide(after, before, out=np.ones_like(power), where=before > 0)
        wanted = share * self.demand_w
        return share * sure(self.year.needed_kwh), self.year.met_kwh(power, wanted)


@dataclass(frozen=True, eq=False)
class OtherMotor:
    """The motor whose start lowers the voltage most, in other sizes."""

    study: Study
    given: CircuitOf
    number: int
    _: KW_ONLY
    sent_w: float

    @classmethod
    def of(cls, study: Study, wires: Wires) -> OtherMotor | None:
        """None where no motor is among the circuits."""
        weakest = None if study.electrical is None else study.electrical.weakest
        if weakest is None:
            return None
        number = [each.name for each in study.circuits].index(weakest.name)
        return cls(study, study.circuits[number], number, sent_w=wires.sent_w)

    def start(self, power_w: float, starter: str, size: Conductor | None) -> Start | None:
        """Its start, where it had this power; a locked rotor that is given grows with it."""
        times = power_w / self.given.power_w
        other = replace(
            self.given,
            power_w=power_w,
            locked_rotor_va=self.given.locked_rotor_va * times,
            starter=starter,
        )
        return start_of(self.study, other, self.sent_w, size)

    def key(self, name: str) -> str:
        """A key of its circuit in the site file."""
        several = len(self.study.circuits) > 1
        return f"circuit.{self.number + 1}.{name}" if several else f"circuit.{name}"


# --- 06: the panel --------------------------------------------------------------------------


@needs(Study.wires)
def panel_use(study: Study, view: View, wires: Wires) -> Panel | Picture | Words:
    """The main cable, the demand and a motor against what arrives, what is met and the voltage."""
    cable, demand = OtherCable.of(study, wires), OtherDemand.of(study)
    motor = OtherMotor.of(study, wires)
    sides = [each for each in (cable, demand, motor) if each is not None]
    if not sides:
        return Words(
            "*Not shown: the size and length of the cable, a demand or a motor are lacking.*"
        )
    parts: list[Callable[..., list[tuple[str, str]]]] = []
    knobs: list[Knob] = []
    with figure(7.4, 3.5, 1, len(sides), squeeze=False) as (made, (row,)):
        left = list(row)
        if cable is not None:
            parts.append(_cable_side(study, view, wires, cable, left.pop(0)))
            knobs.append(_cable_knob(cable))
        if demand is not None:
            parts.append(_demand_side(study, view, demand, cable, left.pop(0)))
            knobs.append(_demand_knob(study))
        if motor is not None:
            parts.append(_motor_side(study, view, motor, cable, left.pop(0)))
            knobs += _motor_knobs(view, motor)

    def turn(**values: Any) -> list[tuple[str, str]]:
        return [number for part in parts for number in part(**values)]

    return shown(
        Panel(f"What the power of {study.name} does", tuple(knobs), made, turn=turn, study=study)
    )


def _size(run: CableRun) -> str:
    return run.conductor.trade


def _cable_knob(cable: OtherCable) -> Knob:
    return Knob(
        "cable",
        "main cable",
        range(len(cable.runs)),
        texts=[_size(each) for each in cable.runs],
        start=cable.now,
        writes=lambda place: {"cable.size": cable.runs[place].conductor.name},
    )


def _cable_side(
    study: Study, view: View, wires: Wires, cable: OtherCable, axes: Any
) -> Callable[..., list[tuple[str, str]]]:
    sent, places = wires.sent_w, np.arange(len(cable.runs))
    watts = np.array([float(cable.arrives(each, sent)) for each in range(len(places))])
    shown_w = view.number(watts, "power")
    axes.plot(places, shown_w, color=CREEK, marker="o", markersize=4)
    axes.axhline(float(view.number(sent, "power")), color=INK, linestyle=DOTTED, linewidth=1)
    (dot,) = moving(axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=9))
    axes.set(
        xlim=(-0.4, len(places) - 0.6),
        ylim=(0.95 * float(shown_w.min()), 1.02 * float(view.number(sent, "power"))),
        title=view.header("power at the loads", "power"),
        xlabel="main cable; dotted: sent",
    )
    axes.set_xticks(places, [_size(each) for each in cable.runs], rotation=90)
    thousands(axes.yaxis)

    def turn(cable_place: int, lost_w: float, run: CableRun) -> list[tuple[str, str]]:
        arrives = float(watts[cable_place])
        drop = f"{100 * run.drop_ratio:.1f} %"
        if run.drop_ratio > LARGE_DROP:
            drop += f", more than {100 * LARGE_DROP:.0f} %: choose a thicker cable"
        elif run.drop_ratio > USUAL_DROP:
            drop += f", more than the usual {100 * USUAL_DROP:.0f} %"
        at_answer = cable_place == cable.now
        return [
            ("power at the loads", like(study, view, "power.loads", arrives, "power", at_answer)),
            ("lost in the main cable", view.text(lost_w, "power")),
            ("voltage drop in it", drop),
        ]

    def turned(**values: Any) -> list[tuple[str, str]]:
        place = values["cable"]
        dot.set_data([place], [shown_w[place]])
        run = cable.runs[place]
        return turn(place, float(run.loss_w), run)

    return turned


def _demand_knob(study: Study) -> Knob:
    given = study.site.loads.demand

    def writes(share: float) -> dict[str, Any]:
        month = [f"{each / 3.6e6 * share:.6g} kWh" for each in sure(given)]
        return {"loads.demand": month}

    return Knob.over(
        "demand",
        "demand",
        shares(0.5, 1.5, 0.05, 1.0),
        writes=writes if given is not None else None,
    )


def _demand_side(
    study: Study, view: View, demand: OtherDemand, cable: OtherCable | None, axes: Any
) -> Callable[..., list[tuple[str, str]]]:
    wanted, met = demand.monthly_kwh(1.0, None, 0)
    bars = moving(axes.bar(_MONTHS, met, 0.7, color=CREEK, label="met").patches)
    steps = moving(
        axes.step(
            np.append(_MONTHS - 0.5, 12.5),
            np.append(wanted, wanted[-1]),
            where="post",
            color=RUST,
            label="demand",
        )
    )
    axes.set(
        xlim=(0.5, 12.5),
        ylim=(0, 1.6 * float(wanted.max())),
        xticks=_MONTHS,
        title="demand, met [kWh]",
        xlabel="month; line: demand",
    )
    axes.set_xticklabels(MONTH_LETTERS)
    axes.grid(axis="x", visible=False)
    thousands(axes.yaxis)

    def turned(**values: Any) -> list[tuple[str, str]]:
        share, place = values["demand"], values.get("cable") or 0
        wanted, met = demand.monthly_kwh(share, cable, place)
        for bar, height in zip(bars, met):
            bar.set_height(height)
        steps[0].set_ydata(np.append(wanted, wanted[-1]))
        as_it_is = share == 1.0 and (cable is None or place == cable.now)
        return [
            (
                "demand met, a mean year",
                like(study, view, "demand.met", float(met.sum()), "kWh", as_it_is),
            ),
            ("unmet demand", kwh_text(float(wanted.sum() - met.sum()))),
        ]

    return turned


def _motor_knobs(view: View, motor: OtherMotor) -> list[Knob]:
    power = motor.given.power_w
    return [
        Knob.over(
            "motor",
            f"motor ({motor.given.name})",
            levels(view, "power", 0.25 * power, 3 * power, power, 20),
            writes=lambda watts: {motor.key("power"): f"{watts:.6g} W"},
        ),
        Knob(
            "starter",
            "its starter",
            list(STARTERS),
            texts=list(STARTERS),
            start=list(STARTERS).index(motor.given.starter),
            writes=lambda name: {motor.key("starter"): name},
        ),
    ]


def _motor_side(
    study: Study, view: View, motor: OtherMotor, cable: OtherCable | None, axes: Any
) -> Callable[..., list[tuple[str, str]]]:
    watts = np.linspace(0.25, 3.0, 23) * motor.given.power_w
    power = view.number(watts, "power")
    (line,) = moving(axes.plot(power, power, color=CREEK))
    (dot,) = moving(axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=9))
    axes.axhspan(0, 100 * _LEAST_STARTING, color=SUN, alpha=0.25, linewidth=0)
    axes.axhline(100 * _LEAST_STARTING, color=ICE, linestyle=DASHED, linewidth=1)
    axes.set(
        xlim=(0, float(power[-1]) * 1.03),
        ylim=(40, 104),
        title="voltage at start [%]",
        xlabel=view.header(f"motor ({motor.given.name})", "power"),
    )
    axes.text(0.04, 0.05, "it may not start", transform=axes.transAxes, fontsize=SMALL)
    thousands(axes.xaxis)

    def left(start: Start | None) -> float:
        return np.nan if start is None or start.found is None else 100 * start.found.motor

    def turned(**values: Any) -> list[tuple[str, str]]:
        place, starter, now = values.get("cable"), values["starter"], values["motor"]
        size = None if cable is None or place is None else cable.runs[place].conductor
        line.set_ydata([left(motor.start(each, starter, size)) for each in watts])
        start = motor.start(now, starter, size)
        dot.set_data([float(view.number(now, "power"))], [left(start)])
        name = f"while {motor.given.name} starts"
        if start is None or start.found is None:
            source = "the plant" if start is None else start.source.name
            return [(name, f"the voltage collapses: more is drawn than {source} gives")]
        told = "" if left(start) >= 100 * _LEAST_STARTING else ", it may not start"
        as_it_is = (
            (cable is None or place == cable.now)
            and starter == motor.given.starter
            and now == motor.given.power_w
        )
        dip = like(study, view, "motor.dip", start.found.dip, "share", as_it_is)
        return [
            (f"voltage dip {name}", dip),
            ("voltage at the motor then", f"{left(start):.0f} % of its own{told}"),
        ]

    return turned
