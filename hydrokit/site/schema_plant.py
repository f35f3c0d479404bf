"""Keys of the site file: the machines, their readings, and how the plant is run."""

import datetime
from typing import Literal

from . import keys as key
from .section import Section
from .values import Measured

MachineKind = Literal[
    "pelton",
    "turgo",
    "cross-flow",
    "propeller",
    "kaplan",
    "francis",
    "pump run backwards",
    "water wheel",
    "screw",
]


class Turbine(Section, page="04_design_flow"):
    """[turbine]: the machine, and its jets."""

    kind: MachineKind | None = key.choice(
        "type of machine", required=True, shared_with_neighbour=True
    )
    jets: int | None = key.number("count", "number of jets", "4", within="1 to 8", whole=True)
    jet_kind: Literal[
        "conical nozzle", "drilled plate", "sharp-edged orifice", "short tube", "spear"
    ] = key.choice(
        "how the jets are made; spear jets are adjustable",
        default='"conical nozzle"',
        shared_with_neighbour=True,
    )
    jet_diameter: tuple[float, ...] | None = key.each(
        "m",
        "bore of a fixed jet (drill size); a list where they differ, one for each jet",
        '"0.5 in"',
        within="0.5 mm to 1 m",
        usual=(
            "2 mm to 400 mm",
            "jets of small plants measure some millimetres to some centimetres",
        ),
    )
    jet_coefficient: Measured | None = key.measured(
        "share",
        "discharge coefficient where it is known",
        '"0.95 ± 0.02"',
        within="30 % to 100 %",
        shared_with_neighbour=True,
        usual=("50 % to 99 %", "polished nozzles reach 0.98"),
    )
    design_flow: float | None = key.number(
        "m^3/s",
        "flow of the whole machine at full opening; left out, the sizing decides",
        '"18 L/s"',
        within="0.01 L/s to 1000 m^3/s",
        usual=("0.1 L/s to 50 m^3/s", "a small plant does not take a whole river"),
    )
    efficiency: Measured | None = key.measured(
        "share",
        "best efficiency of the runner",
        '"78 % ± 3 %"',
        within="1 % to 99 %",
        shared_with_neighbour=True,
        usual=("20 % to 95 %", "the best large machines reach 95 %, small ones 60 to 85 %"),
    )
    efficiency_table: str | None = key.file(
        "CSV of the manufacturer: flow [%], efficiency [%]",
        '"maker.csv"',
        shared_with_neighbour=True,
        columns={"flow": "ratio", "efficiency": "ratio"},
    )
    minimum_flow: float | None = key.number(
        "share",
        "smallest share of the design flow on which a machine with gates or needles runs",
        '"10 %"',
        shared_with_neighbour=True,
        usual=("0 % to 70 %", "machines with needles or gates run down to 10 to 40 %"),
    )
    cavitation: float | None = key.number(
        "ratio",
        "cavitation number of a reaction machine, from its manufacturer",
        "0.3",
        within="0.001 to 10",
        usual=("0.005 to 3", "francis and kaplan machines have 0.03 to 1.5"),
    )
    speed: float | None = key.number(
        "1/s",
        "speed of the runner",
        '"1500 rpm"',
        within="1 rpm to 100000 rpm",
        usual=("18 rpm to 6000 rpm", "machines turn at 50 to 3,600 rpm, seldom at 6,000"),
    )
    runner_diameter: float | None = key.number(
        "m",
        "diameter of the runner at the jets",
        '"220 mm"',
        within="10 mm to 20 m",
        usual=("3 cm to 4 m", "runners of small plants measure some centimetres to a few metres"),
    )
    jets_open: tuple[int, ...] | None = key.monthly(
        "count",
        (
            "jets left open in each month, where nobody changes them with the flow; 0, or a month "
            "left out: as many as the flow feeds"
        ),
        "4",
        within="0 to 8",
        whole=True,
    )


class Machine(Section, page="04_design_flow"):
    """[[machine]]: one of several machines on the penstock."""

    name: str | None = key.text("what the machine is called here", '"the small one"')
    design_flow: float | None = key.number(
        "m^3/s",
        "flow at full opening, where needles or gates set it",
        '"12 L/s"',
        within="0.01 L/s to 1000 m^3/s",
        usual=("0.1 L/s to 50 m^3/s", "a small plant does not take a whole river"),
    )
    jets: int | None = key.number(
        "count",
        "how many of the fixed jets under [turbine] are its own; the machine listed first is opened first",
        "3",
        within="1 to 8",
        whole=True,
    )
    kind: MachineKind | None = key.choice(
        "type of machine where it is not that under [turbine]", '"kaplan"'
    )
    efficiency: float | None = key.number(
        "share",
        "best efficiency of this machine",
        '"80 %"',
        within="1 % to 99 %",
        usual=("20 % to 95 %", "the best large machines reach 95 %, small ones 60 to 85 %"),
    )
    minimum_flow: float | None = key.number(
        "share",
        "share of its design flow below which it stops",
        '"15 %"',
        within="0 % to 99 %",
        usual=("0 % to 70 %", "machines with needles or gates run down to 10 to 40 %"),
    )


class Generator(Section, page="04_design_flow"):
    """[generator]: the generator."""

    kind: Literal["synchronous", "induction", "permanent magnet"] = key.choice(
        "type of generator", default='"synchronous"', shared_with_neighbour=True
    )
    speed: Literal["held", "battery", "free"] | None = key.choice(
        "what its speed does when the jets of an impulse runner slow down: held by a grid or "
        "a governor; held in part by a battery behind a plain rectifier; free to follow the "
        "jets, behind a controller that seeks the most power. Left out, it follows from the "
        "kind of generator, the grid and the ballast",
        example='"held"',
        shared_with_neighbour=True,
    )
    efficiency: Measured | None = key.measured(
        "share",
        "efficiency at full load",
        '"88 %"',
        within="1 % to 99.9 %",
        shared_with_neighbour=True,
        usual=("30 % to 98 %", "the best large generators reach 98 %, small ones 70 to 92 %"),
    )
    constant_loss: float | None = key.number(
        "ratio",
        (
            "share of its full-load losses that is the same at any load; left out, the usual "
            "share of its kind of generator"
        ),
        '"40 %"',
        within="0 % to 100 %",
        usual=("5 % to 90 %", "generators have a third to a half"),
    )
    rating: float | None = key.number(
        "W",
        "rated output",
        '"6 kW"',
        within="1 W to 1000000 kW",
        usual=("20 W to 50000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    apparent_rating: float | None = key.number(
        "W",
        "rated apparent power, from its plate; left out, its rated output, which is cautious",
        '"8 kVA"',
        within="1 W to 1000000 kW",
        usual=("20 W to 50000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    reactance: float = key.number(
        "ratio",
        "transient reactance on its own rating, from its plate",
        "0.2",
        default='"20 %"',
        within="1 % to 100 %",
        usual=("5 % to 50 %", "small generators have 15 to 30 %"),
    )
    water_to_wire: Measured | None = key.measured(
        "share",
        "efficiency from the water at the jets to the meter (water to wire), where only that is known",
        '"52 %"',
        within="1 % to 99 %",
        usual=("10 % to 90 %", "the best large plants reach 90 %, small ones 35 to 65 %"),
    )


class ReadingsChange(Section, page="09_running_it"):
    """[[readings.change]]: something was changed at the plant, so that it is no longer the one that
    was commissioned."""

    date: datetime.date = key.day("day of the change", "2026-05-11", required=True)
    what: Literal["gauge", "jet", "runner", "generator", "brushes", "meter", "pipe"] = key.choice(
        "what was changed or repaired", '"runner"', required=True
    )


class Readings(Section, page="09_running_it"):
    """[readings]: what is read at the powerhouse."""

    change: tuple[ReadingsChange, ...] = ()
    file: str | None = key.file(
        "CSV: date, jets, pressure [psi], volts [V], amps [A] or watts [W], spilling, needle, commissioning",
        '"readings.csv"',
    )
    log: str | None = key.file(
        "CSV: time, jets, pressure [psi], volts [V], amps [A], spilling, needle, air [degF], note",
        '"log.csv"',
    )
    power_factor: float = key.number(
        "share",
        "power factor: watts over volts times amps, for alternating current",
        "1.0",
        default="1.0",
        shared_with_neighbour=True,
        usual=("50 % to 100 %", "motors alone reach 0.7 to 0.9"),
    )
    metered_at: Literal["generator terminals", "sending end", "receiving end"] = key.choice(
        "where the watts are metered, and where water_to_wire ends: at the generator, at the "
        "beginning or at the far end of the main cable",
        '"sending end"',
        default='"receiving end"',
    )


class Reading(Section, page="09_running_it"):
    """[[reading]]: gauge and meters, read at one number of jets."""

    jets: int = key.number(
        "count",
        "number of jets open; 0 for shut-off",
        "2",
        required=True,
        within="0 to 8",
        whole=True,
    )
    pressure: float = key.number(
        "Pa",
        "gauge pressure",
        '"52 psi"',
        required=True,
        usual=("0 bar to 120 bar", "few plants have a greater head"),
    )
    volts: float | None = key.number(
        "V", "voltage", '"120 V"', usual=("0 V to 20000 V", "small plants make 12 to 1,000 V")
    )
    amps: float | None = key.number(
        "A",
        "current",
        '"14 A"',
        usual=("0 A to 5000 A", "small plants give some to some hundred amperes"),
    )
    watts: float | None = key.number(
        "W",
        "power where a meter shows it",
        '"1650 W"',
        usual=("0 W to 15000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    spilling: bool | None = key.yes_no("whether the forebay spills")
    needle: Literal["steady", "fluctuates"] | None = key.choice(
        "whether the needle of the gauge stands steady or fluctuates"
    )
    date: datetime.date | None = key.day("date of the reading", "2026-07-04")
    commissioning: bool | None = key.yes_no(
        "whether the reading belongs to a commissioning: the healthy plant, everything shut, "
        "then one jet to all, the forebay spilling; the last commissioning counts, and no "
        "other reading is part of the gauge card"
    )


class Outage(Section, page="05_annual_energy"):
    """[outage]: when the plant is stopped."""

    planned_days: float = key.number(
        "count",
        "days a year on which the plant is stopped as planned",
        "4",
        default="0",
        within="0 to 365",
        shared_with_neighbour=True,
        usual=("0 to 120", "maintenance takes days, not months"),
    )
    planned_months: tuple[int, ...] = key.months(
        "months in which the planned stops fall",
        "[8]",
        default="[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]",
        shared_with_neighbour=True,
    )
    unplanned: float = key.number(
        "share",
        "share of the time lost to unplanned stops",
        '"3 %"',
        default='"0 %"',
        shared_with_neighbour=True,
        usual=("0 % to 50 %", "a plant that is stopped half of the time is repaired first"),
    )


class Operation(Section, page="05_annual_energy"):
    """[operation]: how the plant is looked after."""

    jet_dead_band: float = key.number(
        "ratio",
        "smallest gain of power, as a share, for which jets are opened or shut",
        '"10 %"',
        default='"5 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
        usual=("0 % to 50 %", "with a larger one the jets are hardly ever changed"),
    )
    visit_days: int = key.number(
        "count",
        "days from one visit to the jets to the next",
        "3",
        default="1",
        within="1 to 60",
        whole=True,
        shared_with_neighbour=True,
    )
    stops_per_winter: float = key.number(
        "count",
        "stops on frosty days in a usual winter: air locks, ice, a tripped breaker",
        "1",
        default="0",
        within="0 to 100",
        usual=("0 to 30", "a plant that stops every other frosty day is repaired first"),
    )
    freezes_below: float = key.number(
        "K",
        (
            "daily mean air temperature at and below which a stopped plant freezes, as its owner "
            "has seen it; left out, where the pipes are described and a year of air temperature is known, it "
            "freezes on days when water standing in the worst stretch is blocked by ice before the "
            "next day"
        ),
        '"-3 degC"',
        default='"-3 degC"',
        within="-60 degC to 10 degC",
        shared_with_neighbour=True,
        usual=("-73.15 degC to 0 degC", "still water does not freeze in warmer air"),
    )
    thaws_above: float | None = key.number(
        "K",
        "mean air temperature of five days above which a frozen plant runs again",
        '"0 degC"',
        within="-60 degC to 20 degC",
        shared_with_neighbour=True,
        usual=("-5 degC to 10 degC", "ice melts about 0 °C"),
    )
    under_fed_freezes: bool = key.yes_no(
        "whether the plant also freezes while jets are under-fed and the pipe draws air",
        "false",
        default="false",
        shared_with_neighbour=True,
    )
