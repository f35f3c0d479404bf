"""Keys of the site file: cable, loads, rooms, circuits and stores."""

import datetime
from typing import Literal

from . import keys as key
from .section import Section

Material = Literal["copper", "aluminium"]
Phases = Literal["dc", "one", "three"]


class Cable(Section, page="06_using_it"):
    """[cable]: from the powerhouse to the loads."""

    length: float | None = key.number(
        "m",
        "one-way length from powerhouse to loads",
        '"120 m"',
        usual=("0.5 m to 20 km", "cables of small plants are at most some kilometres long"),
    )
    size: str | None = key.text("size of the conductor, AWG or mm2", '"16 mm2"')
    material: Material = key.choice("conductor", default='"copper"', shared_with_neighbour=True)
    voltage: float | None = key.number(
        "V",
        "voltage between conductors, at the powerhouse",
        '"230 V"',
        within="1 V to 100000 V",
        shared_with_neighbour=True,
        usual=(
            "10 V to 20 kV",
            "small plants make 12 to 1,000 V; a high-voltage line has up to 20,000 V",
        ),
    )
    phases: Phases = key.choice(
        "how it is wired", '"one"', default='"one"', shared_with_neighbour=True
    )
    loss: float | None = key.number(
        "share",
        "loss at full load where the conductor is not known",
        '"3 %"',
        usual=("0 % to 15 %", "a cable is chosen to lose a few per cent"),
    )
    laid: Literal["overhead", "in the ground", "in a conduit"] | None = key.choice(
        "how it is laid", example='"in the ground"'
    )


class Transformer(Section, page="06_using_it"):
    """[[transformer]]: a transformer at one end of the cable."""

    name: str | None = key.text("what it is called here", '"step-up"')
    at: Literal["powerhouse", "loads"] = key.choice("at which end of the cable", required=True)
    rating: float = key.number(
        "W",
        "rated output",
        '"10 kW"',
        required=True,
        within="1 W to 1000000 kW",
        usual=("20 W to 50000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    no_load_loss: float = key.number(
        "W",
        "power lost day and night, from its plate",
        '"40 W"',
        required=True,
        usual=("0.1 W to 200 kW", "about 1 % of the rating, or less"),
    )
    full_load_loss: float = key.number(
        "W",
        "power lost in the windings at full load, from its plate",
        '"180 W"',
        required=True,
        usual=("0.1 W to 500 kW", "1 to 3 % of the rating"),
    )


class Night(Section, page="06_using_it"):
    """[[loads.night]]: a night of measured heating."""

    power: float = key.number(
        "W",
        "mean of all heat put in through a calm, dark night, lights and sleepers (80 W each) included",
        '"2.5 kW"',
        required=True,
        usual=("50 W to 200 kW", "a house takes some kilowatts in a cold night"),
    )
    inside: float = key.number(
        "K",
        "mean temperature of the rooms that night",
        '"19 degC"',
        required=True,
        within="-30 degC to 50 degC",
        usual=("2 degC to 30 degC", "rooms that are lived in are kept so"),
    )
    outside: float = key.number(
        "K",
        "mean temperature outdoors that night",
        '"-6 degC"',
        required=True,
        usual=("-50 degC to 18 degC", "on a milder night the heating tells too little"),
    )
    hours: float = key.number(
        "s",
        "how long it was measured",
        '"8 h"',
        default='"8 h"',
        within="30 min to 24 h",
        usual=("6 h to 24 h", "a house needs a night to settle"),
    )
    date: datetime.date | None = key.day("date of that night", "2026-01-18")


class Loads(Section, page="06_using_it"):
    """[loads]: what the power is for."""

    demand: tuple[float, ...] | None = key.monthly(
        "J",
        "energy demand in each month",
        '"900 kWh"',
        usual=("0 kWh to 2000000 kWh", "a small plant gives no more in a month"),
    )
    heated_ua: float | None = key.number(
        "W/K",
        "heat loss of the heated rooms",
        '"115 W/K"',
        usual=("5 W/K to 3000 W/K", "a tight cabin has some tens, an old farmhouse some hundreds"),
    )
    inside_temperature: float = key.number(
        "K",
        "temperature kept in the heated rooms",
        '"20 degC"',
        default='"20 degC"',
        within="-10 degC to 40 degC",
        usual=("5 degC to 27 degC", "rooms that are lived in are kept so"),
    )
    base_power: float = key.number(
        "W",
        "steady power demand besides heating",
        '"400 W"',
        default='"0 W"',
        usual=("1 W to 1000 kW", "a small plant gives no more"),
    )
    fuel: str | None = key.text(
        "fuel that heats when the plant does not: propane, heating oil, seasoned firewood, white oak, …",
        '"propane"',
    )
    stove: float | None = key.number(
        "ratio",
        "efficiency of the stove, where the fuel is wood",
        '"63 %"',
        within="1 % to 100 %",
        usual=("30 % to 95 %", "an open fire reaches less, no stove more"),
    )
    night: tuple[Night, ...] = ()


class Room(Section, page="06_using_it"):
    """[[room]]: a room to be heated."""

    name: str = key.text(
        "what it is called; list the rooms the plant is to heat", '"kitchen"', required=True
    )
    ua: float | None = key.number(
        "W/K",
        "its heat loss where it is known, instead of areas",
        '"40 W/K"',
        usual=("1 W/K to 1000 W/K", "a room has some tens"),
    )
    walls: float | None = key.number(
        "m^2",
        "area of outer walls, without windows and doors",
        '"38 m^2"',
        usual=("0.2 m^2 to 1000 m^2", "it is the area of one room"),
    )
    u_walls: float | None = key.number(
        "W/m^2/K",
        "U-value of the outer walls: heat lost over area and temperature difference",
        '"0.4 W/m^2/K"',
        within="0.01 W/m^2/K to 20 W/m^2/K",
        usual=(
            "0.08 W/m^2/K to 6.5 W/m^2/K",
            "a single pane lets most through, thick insulation least",
        ),
    )
    windows: float | None = key.number(
        "m^2",
        "area of windows",
        '"4 m^2"',
        usual=("0.2 m^2 to 1000 m^2", "it is the area of one room"),
    )
    u_windows: float | None = key.number(
        "W/m^2/K",
        "U-value of the windows: heat lost over area and temperature difference",
        '"1.6 W/m^2/K"',
        within="0.01 W/m^2/K to 20 W/m^2/K",
        usual=(
            "0.08 W/m^2/K to 6.5 W/m^2/K",
            "a single pane lets most through, thick insulation least",
        ),
    )
    doors: float | None = key.number(
        "m^2",
        "area of outer doors",
        '"2 m^2"',
        usual=("0.2 m^2 to 1000 m^2", "it is the area of one room"),
    )
    u_doors: float | None = key.number(
        "W/m^2/K",
        "U-value of the outer doors: heat lost over area and temperature difference",
        '"2 W/m^2/K"',
        within="0.01 W/m^2/K to 20 W/m^2/K",
        usual=(
            "0.08 W/m^2/K to 6.5 W/m^2/K",
            "a single pane lets most through, thick insulation least",
        ),
    )
    roof: float | None = key.number(
        "m^2",
        "area of roof, or of the ceiling under a cold loft",
        '"25 m^2"',
        usual=("0.2 m^2 to 1000 m^2", "it is the area of one room"),
    )
    u_roof: float | None = key.number(
        "W/m^2/K",
        "U-value of the roof or ceiling: heat lost over area and temperature difference",
        '"0.2 W/m^2/K"',
        within="0.01 W/m^2/K to 20 W/m^2/K",
        usual=(
            "0.08 W/m^2/K to 6.5 W/m^2/K",
            "a single pane lets most through, thick insulation least",
        ),
    )
    floor: float | None = key.number(
        "m^2",
        "area of floor over ground or a cold cellar; it counts half",
        '"25 m^2"',
        usual=("0.2 m^2 to 1000 m^2", "it is the area of one room"),
    )
    u_floor: float | None = key.number(
        "W/m^2/K",
        "U-value of the floor: heat lost over area and temperature difference",
        '"0.5 W/m^2/K"',
        within="0.01 W/m^2/K to 20 W/m^2/K",
        usual=(
            "0.08 W/m^2/K to 6.5 W/m^2/K",
            "a single pane lets most through, thick insulation least",
        ),
    )
    volume: float = key.number(
        "m^3",
        "volume of air in it",
        '"60 m^3"',
        default='"0 m^3"',
        usual=("5 m^3 to 3000 m^3", "it is the air of one room"),
    )
    air_changes: float = key.number(
        "count",
        "how often an hour the air is renewed: 0.3 in a tight house, 1 and more in an old one",
        "0.5",
        default="0",
        within="0 to 20",
        usual=("0.1 to 5", "a tight house has 0.3 an hour, an old one 1 and more"),
    )


class Circuit(Section, page="06_using_it"):
    """[[circuit]]: one circuit of the house."""

    name: str = key.text(
        "what the circuit feeds; list the most important first: it is served first",
        '"house"',
        required=True,
    )
    power: float = key.number(
        "W",
        "largest power of its loads together",
        '"2 kW"',
        required=True,
        within="1 W to 100000 kW",
        usual=("2 W to 10000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    kind: Literal["heater", "motor", "other"] = key.choice("kind of loads", default='"other"')
    length: float | None = key.number(
        "m",
        "one-way length of its cable",
        '"25 m"',
        usual=("0 m to 2000 m", "a longer run is a main cable"),
    )
    size: str | None = key.text(
        "its conductor, AWG or mm2; left out, the smallest that keeps the voltage drop is shown",
        '"2.5 mm2"',
    )
    material: Material | None = key.choice("conductor")
    voltage: float | None = key.number(
        "V",
        "voltage; left out, that of the cable",
        '"230 V"',
        within="1 V to 100000 V",
        usual=("10 V to 1000 V", "circuits of a house have 12 to 400 V"),
    )
    phases: Phases | None = key.choice("how it is wired; left out, as the cable", '"one"')
    phase: Literal["1", "2", "3"] | None = key.choice(
        "on a plant of three phases the phase that feeds it, and the next one too where it takes two; "
        "left out, circuits are spread as evenly as possible"
    )
    power_factor: float = key.number(
        "share",
        "power factor of its loads, for alternating current",
        "0.8",
        default="1.0",
        within="10 % to 100 %",
        usual=("50 % to 100 %", "motors alone reach 0.7 to 0.9"),
    )
    drop: float = key.number(
        "ratio",
        "largest share of the voltage that may be lost on it",
        '"3 %"',
        default='"3 %"',
        within="0.1 % to 50 %",
        usual=("0.5 % to 10 %", "3 to 5 % is the common limit"),
    )
    locked_rotor: float | None = key.number(
        "W",
        (
            "apparent power a motor on it draws with its rotor locked, from its plate; left out, "
            "six times that at work"
        ),
        '"12 kVA"',
        within="1 W to 1000000 kW",
        usual=("10 W to 50000 kW", "motors draw four to eight times their apparent power at work"),
    )
    starter: Literal["direct", "star-delta", "soft"] = key.choice(
        "how a motor on it is started: direct; star-delta, with a third of the current; soft, "
        "with half of it",
        default='"direct"',
    )
    begins: Literal["cable end", "powerhouse"] = key.choice(
        "where it begins: at the far end of the main cable, or at the powerhouse",
        default='"cable end"',
    )


class Ballast(Section, page="06_using_it"):
    """[ballast]: the load that takes the power nobody uses."""

    power: float | None = key.number(
        "W",
        "power of the installed ballast; left out, it is calculated",
        '"5 kW"',
        within="1 W to 1000000 kW",
        usual=("20 W to 20000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    stages: int = key.number(
        "count",
        "number of stages it is switched in",
        "3",
        default="3",
        within="1 to 12",
        whole=True,
    )
    rule: Literal["generator", "charge controller", "battery code"] | None = key.choice(
        "rule for its margin over the plant's output"
    )
    pattern: Literal["equal", "doubling"] = key.choice(
        "whether the stages are equal, or each is twice the one before, which gives finer steps",
        default='"doubling"',
    )
    voltage: float | None = key.number(
        "V",
        "voltage across its resistors; left out, that of the cable; on three phases, that to the neutral",
        '"230 V"',
        within="1 V to 100000 V",
        usual=("5 V to 1000 V", "resistors are made for 12 to 400 V"),
    )
    sharing: Literal["alike", "each phase"] | None = key.choice(
        "on three phases, whether its three resistors are switched alike, or each phase takes "
        "what its own loads leave",
        example='"each phase"',
    )
    heats: Literal["air", "water"] = key.choice("what it heats", default='"air"')
    tank: float | None = key.number(
        "m^3",
        "water in the tank it heats",
        '"300 L"',
        within="1 L to 1000 m^3",
        usual=("10 L to 20 m^3", "a house has some hundred litres"),
    )


class Inverter(Section, page="06_using_it"):
    """[inverter]: between a battery, or a plant on direct current, and the loads."""

    rating: float | None = key.number(
        "W",
        "rated output",
        '"4 kW"',
        within="1 W to 1000000 kW",
        usual=("20 W to 10000 kW", "a small plant has some hundred watts to some megawatts"),
    )
    idle: float | None = key.number(
        "W",
        "power it draws with nothing switched on",
        '"20 W"',
        usual=("0 W to 50 kW", "an inverter draws some to some tens of watts"),
    )
    efficiency: float | None = key.number(
        "share",
        "best efficiency its manufacturer states",
        '"94 %"',
        within="10 % to 99.9 %",
        usual=("50 % to 98.5 %", "the best reach 98 %"),
    )


class Battery(Section, page="06_using_it"):
    """[battery]: the store of an isolated plant."""

    voltage: float | None = key.number(
        "V",
        "voltage of the battery bank",
        '"48 V"',
        within="1 V to 2000 V",
        usual=("10 V to 1000 V", "banks have 12 to 48 V, large ones some hundred"),
    )
    charge: float | None = key.number(
        "Ah",
        "rated charge of the installed bank",
        '"400 Ah"',
        within="0.1 Ah to 1000000 Ah",
        usual=("2 Ah to 50000 Ah", "banks have some tens to some thousand Ah"),
    )
    depth: float = key.number(
        "ratio",
        "usable share of the charge: 50 % of lead-acid, 80 % of lithium iron phosphate",
        '"50 %"',
        default='"50 %"',
        within="1 % to 100 %",
        usual=("10 % to 95 %", "50 % of lead-acid, 80 % of lithium iron phosphate"),
    )
    efficiency: float = key.number(
        "share",
        "round-trip efficiency: share of the energy put in that comes out again",
        '"85 %"',
        default='"85 %"',
        within="10 % to 100 %",
        usual=("60 % to 99 %", "lead-acid gives back 75 to 85 %, lithium 90 to 97 %"),
    )
    day_use: tuple[float, ...] | None = key.numbers(
        "W",
        "power demand in each hour of a usual day, midnight first, 24 values",
        (
            '["200 W", "200 W", "200 W", "200 W", "200 W", "200 W", "200 W", "900 W", "900 W", '
            '"400 W", "400 W", "400 W", "400 W", "400 W", "400 W", "400 W", "400 W", "1.4 kW", '
            '"1.4 kW", "1.4 kW", "1.4 kW", "300 W", "300 W", "300 W"]'
        ),
        usual=("0 W to 10000 kW", "a small plant has some hundred watts to some megawatts"),
    )
