"""Keys of the site file: the parts the water meets above the penstock, kind by kind."""

from typing import Literal

from . import keys as key
from .schema_screens import (
    CLOGGED,
    KIND,
    AnyPart,
    BottomIntake,
    DrilledPipe,
    InclinedScreen,
    Screen,
    TrashRack,
)

# Ground under open water: name in the site file -> row of the table of seepage.
SOILS = {
    "clay loam": "unlined clay loam",
    "sandy loam": "unlined sandy loam",
    "not known": "unlined any soil",
    "concrete": "concrete lined",
    "cracked lining": "lined deteriorated",
}

# Keys of several kinds.
SOIL = key.choice("ground under the water", '"sandy loam"', choices=tuple(SOILS))
SEEPAGE = key.number(
    "m/s",
    "measured seepage: flow lost over wetted area",
    '"0.3 m/d"',
    within="0 m/d to 100 m/d",
    usual=("0 m/d to 5 m/d", "ditches in soil lose 0.05 to 1 m a day"),
)


class Orifice(AnyPart):
    """An orifice."""

    kind: Literal["orifice"] = KIND
    diameter: float = key.number(
        "m",
        "diameter of the orifice",
        '"120 mm"',
        required=True,
        within="1 mm to 10 m",
        usual=("5 mm to 3 m", "orifices measure some centimetres to some decimetres"),
    )
    head: float = key.number(
        "m",
        "water above its middle",
        '"0.3 m"',
        required=True,
        within="1 mm to 100 m",
        usual=("5 mm to 10 m", "the water stands some decimetres over it"),
    )
    gauged_head: tuple[float, ...] | None = key.numbers(
        "m",
        "level difference across it, or to its middle where the water falls free; one for each gauging",
        '["0.30 m", "0.15 m"]',
        within="0.1 mm to 100 m",
        usual=("1 mm to 10 m", "the water stands some decimetres over it"),
    )
    gauged_flow: tuple[float, ...] | None = key.numbers(
        "m^3/s",
        "flow gauged at that head, such as with a bucket or salt; one for each gauging",
        '["17 L/s", "12 L/s"]',
        within="0.001 L/s to 10000 m^3/s",
        usual=(
            "0.02 L/s to 50 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )


class Gate(AnyPart):
    """A gate."""

    kind: Literal["gate"] = KIND
    width: float = key.number(
        "m",
        "clear width",
        '"0.4 m"',
        required=True,
        within="1 cm to 100 m",
        usual=("2 cm to 10 m", "gates of small plants are some decimetres wide"),
    )
    opening: float = key.number(
        "m",
        "largest opening, with the gate fully lifted",
        '"0.2 m"',
        required=True,
        within="1 mm to 100 m",
        usual=("5 mm to 5 m", "gates of small plants lift some decimetres"),
    )
    head: float = key.number(
        "m",
        "largest head loss across the gate",
        '"0.3 m"',
        required=True,
        within="1 mm to 100 m",
        usual=("5 mm to 10 m", "gates lose some centimetres to some decimetres of head"),
    )
    gauged_lift: tuple[float, ...] | None = key.numbers(
        "m",
        "its lift when it was gauged, one for each gauging",
        '["40 mm", "80 mm"]',
        within="0.1 mm to 100 m",
        usual=("1 mm to 5 m", "gates of small plants lift some decimetres"),
    )
    gauged_head: tuple[float, ...] | None = key.numbers(
        "m",
        "level difference across it, or to its middle where the water falls free; one for each gauging",
        '["0.30 m", "0.28 m"]',
        within="0.1 mm to 100 m",
        usual=("1 mm to 10 m", "gates lose some centimetres to some decimetres of head"),
    )
    gauged_flow: tuple[float, ...] | None = key.numbers(
        "m^3/s",
        "flow gauged at that head, such as with a bucket or salt; one for each gauging",
        '["24 L/s", "46 L/s"]',
        within="0.001 L/s to 10000 m^3/s",
        usual=(
            "0.02 L/s to 50 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )


class Line(AnyPart):
    """A line."""

    kind: Literal["line"] = KIND


class OpenGround(AnyPart):
    """Open ground."""

    kind: Literal["open ground"] = KIND
    length: float = key.number(
        "m",
        "length the water runs in the open",
        '"150 ft"',
        required=True,
        within="0.1 m to 100 km",
        usual=("1 m to 20 km", "the way is some metres to some kilometres long"),
    )
    width: float = key.number(
        "m",
        "width of the water",
        '"2 ft"',
        required=True,
        within="1 cm to 1000 m",
        usual=("5 cm to 100 m", "it is the width of a creek or a ditch"),
    )
    loss: float | None = key.number(
        "share",
        (
            "share of the flow lost on the way in summer, gauged at both ends; left out, it is "
            "calculated from ground and size"
        ),
        '"10 %"',
        within="0 % to 99 %",
        usual=("0 % to 80 %", "a way that loses more is mended first"),
    )
    soil: str | None = SOIL
    seepage: float | None = SEEPAGE


class Channel(AnyPart):
    """A channel."""

    kind: Literal["channel"] = KIND
    length: float = key.number(
        "m",
        "its length",
        '"120 m"',
        required=True,
        within="0.1 m to 100 km",
        usual=("1 m to 30 km", "channels are some metres to some kilometres long"),
    )
    slope: float = key.number(
        "ratio",
        "its fall over its length",
        '"0.5 %"',
        required=True,
        within="0.001 % to 100 %",
        usual=("0.01 % to 30 %", "channels fall 0.1 to 2 %"),
    )
    width: float | None = key.number(
        "m",
        "width of its floor",
        '"0.4 m"',
        within="0 m to 100 m",
        usual=("0 m to 20 m", "floors are some decimetres to some metres wide"),
    )
    depth: float | None = key.number(
        "m",
        "depth from bank to floor",
        '"0.4 m"',
        within="1 cm to 100 m",
        usual=("3 cm to 10 m", "channels are some decimetres to some metres deep"),
    )
    side_slope: float = key.number(
        "ratio",
        "slope of its sides: horizontal distance over height",
        "0.5",
        default="0",
        within="0 to 10",
        usual=("0 to 4", "banks of soil lie at 1 to 2, walls stand at 0"),
    )
    diameter: float | None = key.number(
        "m",
        "bore, where it is a pipe that runs part full",
        '"250 mm"',
        within="1 cm to 10 m",
        usual=("3 cm to 4 m", "such pipes measure some decimetres"),
    )
    lining: str | None = key.text(
        "floor and walls: concrete, boards planed, earth sandy loam, stream gravel, pipe "
        "smooth plastic and so on",
        '"concrete"',
    )
    manning: float | None = key.number(
        "count",
        "Manning's n, where it is known better than from the lining",
        "0.015",
        within="0.005 to 0.5",
        usual=("0.007 to 0.2", "smooth plastic has 0.009, an overgrown ditch 0.1"),
    )
    freeboard: float | None = key.number(
        "m",
        "freeboard: height of bank that stays dry; left out, a quarter of its depth",
        '"0.15 m"',
        within="0 m to 10 m",
        usual=("0 m to 2 m", "banks stay dry by some decimetres"),
    )
    soil: str | None = SOIL
    seepage: float | None = SEEPAGE
    loss: float | None = key.number(
        "share",
        "share of the flow lost on the way, gauged at both ends",
        '"5 %"',
        within="0 % to 99 %",
        usual=("0 % to 80 %", "a channel that loses more is mended first"),
    )
    clogged: tuple[float, ...] | None = CLOGGED


class Forebay(AnyPart):
    """A forebay, or another pond on the way."""

    kind: Literal["forebay"] = KIND
    area: float = key.number(
        "m^2",
        "water area of the forebay",
        '"40 m^2"',
        required=True,
        within="0.01 m^2 to 100 km^2",
        usual=("0.05 m^2 to 100000 m^2", "forebays measure from a barrel to a pond"),
    )
    depth: float = key.number(
        "m",
        "depth that may be drawn down",
        '"0.3 m"',
        required=True,
        within="1 mm to 100 m",
        usual=("1 cm to 20 m", "a forebay is drawn down by decimetres"),
    )
    grain: float = key.number(
        "m",
        "smallest grain it must keep from the jets",
        '"0.3 mm"',
        default='"0.3 mm"',
        usual=("0.03 mm to 10 mm", "jets suffer from grains above 0.2 to 0.5 mm"),
    )
    silt: float | None = key.number(
        "kg/m^3",
        "sediment in the water when the creek is brown; let a jar of it stand",
        '"0.5 kg/m^3"',
        usual=("0 kg/m^3 to 100 kg/m^3", "brown creeks carry some tenths to some kg/m³"),
    )
    silt_depth: float = key.number(
        "m",
        "depth for sediment below the depth that is drawn down",
        '"0.3 m"',
        default='"0 m"',
        usual=("0 m to 10 m", "it is some decimetres deep"),
    )
    standpipe: float | None = key.number(
        "m",
        "inside diameter of an upright overflow pipe, which is pulled to flush",
        '"150 mm"',
        within="1 cm to 10 m",
        usual=("2 cm to 2 m", "such pipes measure some decimetres"),
    )
    standpipe_fall: float | None = key.number(
        "m",
        "height from its overflow edge down to the free end of the drain behind it",
        '"1.2 m"',
        within="0 m to 100 m",
        usual=("0 m to 20 m", "drains fall some metres"),
    )
    spill_length: float | None = key.number(
        "m",
        "length of a low edge that overflows at the same level",
        '"1.5 m"',
        within="1 cm to 1000 m",
        usual=("2 cm to 100 m", "the edge is some decimetres to some metres long"),
    )
    bank: float | None = key.number(
        "m",
        "height of the bank over the overflow edge",
        '"0.3 m"',
        within="1 mm to 100 m",
        usual=("1 cm to 5 m", "banks rise some decimetres over the water"),
    )


Part = (
    Screen
    | DrilledPipe
    | TrashRack
    | InclinedScreen
    | BottomIntake
    | Orifice
    | Gate
    | Line
    | OpenGround
    | Channel
    | Forebay
)
