"""Keys of the site file: the parts the water meets above the penstock, kind by kind."""

from typing import Literal

from . import keys as key
from .section import Section

# Ground under open water: name in the site file -> row of the table of seepage.
SOILS = {
    "clay loam": "unlined clay loam",
    "sandy loam": "unlined sandy loam",
    "not known": "unlined any soil",
    "concrete": "concrete lined",
    "cracked lining": "lined deteriorated",
}

# Keys of several kinds.
KIND = key.choice("kind of part; the other keys depend on it", required=True)
CLOGGED = key.monthly(
    "share", "share of its area that is blocked, by month", '{ october = "40 %" }'
)
SOIL = key.choice("ground under the water", '"sandy loam"', choices=tuple(SOILS))
SEEPAGE = key.number(
    "m/s",
    "measured seepage: flow lost over wetted area",
    '"0.3 m/d"',
    within="0 m/d to 100 m/d",
)


class AnyPart(Section, page="03_water_way"):
    """[[part]]: one part of the way from the creek to the forebay."""

    name: str | None = key.text("what it is called here", '"creek screen"')


class Screen(AnyPart):
    """A screen."""

    kind: Literal["screen"] = KIND
    area: float = key.number(
        "m^2",
        "area of mesh or plate in the water",
        '"0.4 m^2"',
        required=True,
        within="0.001 m^2 to 1000 m^2",
    )
    open: float = key.number(
        "share", "open share of that area", '"45 %"', required=True, within="1 % to 100 %"
    )
    head: float = key.number(
        "m", "largest head loss across it", '"30 mm"', required=True, within="1 mm to 10 m"
    )
    wire_gap: float | None = key.number(
        "m",
        "clear gap of a mesh of round wires, whose head loss is smaller than that of a plate",
        '"2 mm"',
        within="0.01 mm to 1 m",
    )
    clogged: tuple[float, ...] | None = CLOGGED


class DrilledPipe(AnyPart):
    """A drilled pipe."""

    kind: Literal["drilled pipe"] = KIND
    holes: int = key.number(
        "count", "number of holes", "220", required=True, within="1 to 100000", whole=True
    )
    hole: float = key.number(
        "m", "diameter of a hole", '"10 mm"', required=True, within="0.5 mm to 1 m"
    )
    head: float = key.number(
        "m", "depth of water over the middle row", '"80 mm"', required=True, within="1 mm to 10 m"
    )
    mesh_open: float | None = key.number(
        "share", "open share of a mesh clamped over the holes", '"36 %"', within="1 % to 100 %"
    )
    clogged: tuple[float, ...] | None = CLOGGED


class TrashRack(AnyPart):
    """A trash rack of bars."""

    kind: Literal["trash rack"] = KIND
    bar: float = key.number(
        "m", "thickness of a bar", '"8 mm"', required=True, within="0.1 mm to 1 m"
    )
    gap: float = key.number(
        "m", "clear gap between bars", '"20 mm"', required=True, within="0.1 mm to 1 m"
    )
    width: float = key.number(
        "m", "width of the rack", '"0.8 m"', required=True, within="1 cm to 100 m"
    )
    depth: float = key.number(
        "m", "depth of water upstream of it", '"0.3 m"', required=True, within="1 cm to 10 m"
    )
    angle: float = key.number(
        "rad", "slope from the horizontal", '"60 deg"', default='"60 deg"', within="5 deg to 90 deg"
    )
    head: float = key.number(
        "m", "largest head loss across it", '"30 mm"', required=True, within="1 mm to 10 m"
    )
    clogged: tuple[float, ...] | None = CLOGGED


class InclinedScreen(AnyPart):
    """An inclined wedge-wire screen."""

    kind: Literal["inclined screen"] = key.choice(
        "kind of part; the other keys depend on it", required=True
    )
    rating: float = key.number(
        "m^3/s",
        "manufacturer's or owner's rated flow through it, clean",
        '"25 L/s"',
        required=True,
        within="0.01 L/s to 10000 m^3/s",
    )
    drop: float = key.number("m", "drop in level across it", '"0.4 m"', default='"0 m"')
    length: float = key.number(
        "m",
        "length along its wires, crest to toe",
        '"0.5 m"',
        default='"1 m"',
        within="1 cm to 100 m",
    )
    rated_by: Literal["maker", "gauged", "estimate"] = key.choice(
        "source of the rated flow", default='"maker"'
    )
    width: float | None = key.number(
        "m",
        "width of its crest; with gap, wire and slope, the flow by theory is shown beside the rating",
        '"0.6 m"',
        within="1 cm to 100 m",
    )
    gap: float | None = key.number(
        "m", "clear width of a slot between its wires", '"1 mm"', within="0.1 mm to 20 mm"
    )
    wire: float | None = key.number(
        "m", "width of a wire's face", '"1.5 mm"', within="0.1 mm to 20 mm"
    )
    slope: float | None = key.number(
        "rad",
        "its slope from level, the mean of a curved one",
        '"45 deg"',
        within="0 deg to 70 deg",
    )
    clogged: tuple[float, ...] | None = CLOGGED


class BottomIntake(AnyPart):
    """A bottom (Tyrolean) intake."""

    kind: Literal["bottom intake"] = KIND
    width: float = key.number(
        "m", "width across the creek", '"1 m"', required=True, within="1 cm to 100 m"
    )
    length: float = key.number(
        "m", "length of the bars along the creek", '"0.7 m"', required=True, within="1 cm to 100 m"
    )
    bar: float = key.number(
        "m", "thickness of a bar", '"10 mm"', required=True, within="0.1 mm to 1 m"
    )
    gap: float = key.number(
        "m", "clear gap between bars", '"10 mm"', required=True, within="0.1 mm to 1 m"
    )
    slope: float = key.number(
        "rad",
        "slope of the bars along the creek",
        '"12 deg"',
        default='"10 deg"',
        within="0 deg to 26 deg",
    )
    clogged: tuple[float, ...] | None = CLOGGED


class Orifice(AnyPart):
    """An orifice."""

    kind: Literal["orifice"] = KIND
    diameter: float = key.number(
        "m", "diameter of the orifice", '"120 mm"', required=True, within="1 mm to 10 m"
    )
    head: float = key.number(
        "m", "water above its middle", '"0.3 m"', required=True, within="1 mm to 100 m"
    )
    gauged_head: tuple[float, ...] | None = key.numbers(
        "m",
        "level difference across it, or to its middle where the water falls free; one for each gauging",
        '["0.30 m", "0.15 m"]',
        within="0.1 mm to 100 m",
    )
    gauged_flow: tuple[float, ...] | None = key.numbers(
        "m^3/s",
        "flow gauged at that head, such as with a bucket or salt; one for each gauging",
        '["17 L/s", "12 L/s"]',
        within="0.001 L/s to 10000 m^3/s",
    )


class Gate(AnyPart):
    """A gate."""

    kind: Literal["gate"] = KIND
    width: float = key.number("m", "clear width", '"0.4 m"', required=True, within="1 cm to 100 m")
    opening: float = key.number(
        "m",
        "largest opening, with the gate fully lifted",
        '"0.2 m"',
        required=True,
        within="1 mm to 100 m",
    )
    head: float = key.number(
        "m", "largest head loss across the gate", '"0.3 m"', required=True, within="1 mm to 100 m"
    )
    gauged_lift: tuple[float, ...] | None = key.numbers(
        "m",
        "its lift when it was gauged, one for each gauging",
        '["40 mm", "80 mm"]',
        within="0.1 mm to 100 m",
    )
    gauged_head: tuple[float, ...] | None = key.numbers(
        "m",
        "level difference across it, or to its middle where the water falls free; one for each gauging",
        '["0.30 m", "0.28 m"]',
        within="0.1 mm to 100 m",
    )
    gauged_flow: tuple[float, ...] | None = key.numbers(
        "m^3/s",
        "flow gauged at that head, such as with a bucket or salt; one for each gauging",
        '["24 L/s", "46 L/s"]',
        within="0.001 L/s to 10000 m^3/s",
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
    )
    width: float = key.number(
        "m", "width of the water", '"2 ft"', required=True, within="1 cm to 1000 m"
    )
    loss: float | None = key.number(
        "share",
        (
            "share of the flow lost on the way in summer, gauged at both ends; left out, it is "
            "calculated from ground and size"
        ),
        '"10 %"',
        within="0 % to 99 %",
    )
    soil: str | None = SOIL
    seepage: float | None = SEEPAGE


class Channel(AnyPart):
    """A channel."""

    kind: Literal["channel"] = KIND
    length: float = key.number(
        "m", "its length", '"120 m"', required=True, within="0.1 m to 100 km"
    )
    slope: float = key.number(
        "ratio", "its fall over its length", '"0.5 %"', required=True, within="0.001 % to 100 %"
    )
    width: float | None = key.number("m", "width of its floor", '"0.4 m"', within="0 m to 100 m")
    depth: float | None = key.number(
        "m", "depth from bank to floor", '"0.4 m"', within="1 cm to 100 m"
    )
    side_slope: float = key.number(
        "ratio",
        "slope of its sides: horizontal distance over height",
        "0.5",
        default="0",
        within="0 to 10",
    )
    diameter: float | None = key.number(
        "m", "bore, where it is a pipe that runs part full", '"250 mm"', within="1 cm to 10 m"
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
    )
    freeboard: float | None = key.number(
        "m",
        "freeboard: height of bank that stays dry; left out, a quarter of its depth",
        '"0.15 m"',
        within="0 m to 10 m",
    )
    soil: str | None = SOIL
    seepage: float | None = SEEPAGE
    loss: float | None = key.number(
        "share",
        "share of the flow lost on the way, gauged at both ends",
        '"5 %"',
        within="0 % to 99 %",
    )
    clogged: tuple[float, ...] | None = CLOGGED


class Forebay(AnyPart):
    """A forebay, or another pond on the way."""

    kind: Literal["forebay"] = KIND
    area: float = key.number(
        "m^2", "water area of the forebay", '"40 m^2"', required=True, within="0.01 m^2 to 100 km^2"
    )
    depth: float = key.number(
        "m", "depth that may be drawn down", '"0.3 m"', required=True, within="1 mm to 100 m"
    )
    grain: float = key.number(
        "m", "smallest grain it must keep from the jets", '"0.3 mm"', default='"0.3 mm"'
    )
    silt: float | None = key.number(
        "kg/m^3",
        "sediment in the water when the creek is brown; let a jar of it stand",
        '"0.5 kg/m^3"',
    )
    silt_depth: float = key.number(
        "m", "depth for sediment below the depth that is drawn down", '"0.3 m"', default='"0 m"'
    )
    standpipe: float | None = key.number(
        "m",
        "inside diameter of an upright overflow pipe, which is pulled to flush",
        '"150 mm"',
        within="1 cm to 10 m",
    )
    standpipe_fall: float | None = key.number(
        "m",
        "height from its overflow edge down to the free end of the drain behind it",
        '"1.2 m"',
        within="0 m to 100 m",
    )
    spill_length: float | None = key.number(
        "m",
        "length of a low edge that overflows at the same level",
        '"1.5 m"',
        within="1 cm to 1000 m",
    )
    bank: float | None = key.number(
        "m", "height of the bank over the overflow edge", '"0.3 m"', within="1 mm to 100 m"
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
