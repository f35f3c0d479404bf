"""Keys of the site file: what the water passes as it leaves the creek, screens, racks and bottom intakes."""

from typing import Literal

from . import keys as key
from .section import Section

# Keys of several kinds.
KIND = key.choice("kind of part; the other keys depend on it", required=True)
CLOGGED = key.monthly(
    "share", "share of its area that is blocked, by month", '{ october = "40 %" }'
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
        usual=("0.002 m^2 to 200 m^2", "a screen measures some decimetres to some metres"),
    )
    open: float = key.number(
        "share",
        "open share of that area",
        '"45 %"',
        required=True,
        within="1 % to 100 %",
        usual=("5 % to 80 %", "mesh and plate are open by 20 to 60 %"),
    )
    head: float = key.number(
        "m",
        "largest head loss across it",
        '"30 mm"',
        required=True,
        within="1 mm to 10 m",
        usual=("2 mm to 1 m", "screens lose some centimetres of head"),
    )
    wire_gap: float | None = key.number(
        "m",
        "clear gap of a mesh of round wires, whose head loss is smaller than that of a plate",
        '"2 mm"',
        within="0.01 mm to 1 m",
        usual=("0.1 mm to 50 mm", "gaps are 0.5 to 20 mm"),
    )
    clogged: tuple[float, ...] | None = CLOGGED


class DrilledPipe(AnyPart):
    """A drilled pipe."""

    kind: Literal["drilled pipe"] = KIND
    holes: int = key.number(
        "count",
        "number of holes",
        "220",
        required=True,
        within="1 to 100000",
        whole=True,
        usual=("3 to 20000", "pipes are drilled with some tens to some thousand holes"),
    )
    hole: float = key.number(
        "m",
        "diameter of a hole",
        '"10 mm"',
        required=True,
        within="0.5 mm to 1 m",
        usual=("1 mm to 50 mm", "holes measure some millimetres"),
    )
    head: float = key.number(
        "m",
        "depth of water over the middle row",
        '"80 mm"',
        required=True,
        within="1 mm to 10 m",
        usual=("5 mm to 3 m", "the pipe lies some decimetres under water"),
    )
    mesh_open: float | None = key.number(
        "share",
        "open share of a mesh clamped over the holes",
        '"36 %"',
        within="1 % to 100 %",
        usual=("5 % to 80 %", "mesh is open by 20 to 60 %"),
    )
    clogged: tuple[float, ...] | None = CLOGGED


class TrashRack(AnyPart):
    """A trash rack of bars."""

    kind: Literal["trash rack"] = KIND
    bar: float = key.number(
        "m",
        "thickness of a bar",
        '"8 mm"',
        required=True,
        within="0.1 mm to 1 m",
        usual=("2 mm to 60 mm", "bars are 4 to 12 mm thick"),
    )
    gap: float = key.number(
        "m",
        "clear gap between bars",
        '"20 mm"',
        required=True,
        within="0.1 mm to 1 m",
        usual=("3 mm to 300 mm", "bars stand 10 to 100 mm apart"),
    )
    width: float = key.number(
        "m",
        "width of the rack",
        '"0.8 m"',
        required=True,
        within="1 cm to 100 m",
        usual=("5 cm to 20 m", "a rack is some decimetres to some metres wide"),
    )
    depth: float = key.number(
        "m",
        "depth of water upstream of it",
        '"0.3 m"',
        required=True,
        within="1 cm to 10 m",
        usual=("2 cm to 6 m", "the water is some decimetres deep there"),
    )
    angle: float = key.number(
        "rad",
        "slope from the horizontal",
        '"60 deg"',
        default='"60 deg"',
        within="5 deg to 90 deg",
        usual=("10 deg to 90 deg", "racks stand at 45 to 80 deg"),
    )
    head: float = key.number(
        "m",
        "largest head loss across it",
        '"30 mm"',
        required=True,
        within="1 mm to 10 m",
        usual=("2 mm to 1 m", "racks lose some centimetres of head"),
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
        usual=(
            "0.1 L/s to 50 m^3/s",
            "the intakes of small plants pass from a cupful to some tens of m³/s",
        ),
    )
    drop: float = key.number(
        "m",
        "drop in level across it",
        '"0.4 m"',
        default='"0 m"',
        usual=("0 m to 5 m", "such screens drop some decimetres"),
    )
    length: float = key.number(
        "m",
        "length along its wires, crest to toe",
        '"0.5 m"',
        default='"1 m"',
        within="1 cm to 100 m",
        usual=("10 cm to 5 m", "wires are 0.3 to 1.5 m long"),
    )
    rated_by: Literal["maker", "gauged", "estimate"] = key.choice(
        "source of the rated flow", default='"maker"'
    )
    width: float | None = key.number(
        "m",
        "width of its crest; with gap, wire and slope, the flow by theory is shown beside the rating",
        '"0.6 m"',
        within="1 cm to 100 m",
        usual=("5 cm to 30 m", "a crest is some decimetres to some metres wide"),
    )
    gap: float | None = key.number(
        "m",
        "clear width of a slot between its wires",
        '"1 mm"',
        within="0.1 mm to 20 mm",
        usual=("0.2 mm to 5 mm", "slots are 0.5 to 2 mm wide"),
    )
    wire: float | None = key.number(
        "m",
        "width of a wire's face",
        '"1.5 mm"',
        within="0.1 mm to 20 mm",
        usual=("0.5 mm to 10 mm", "faces are 1 to 3 mm wide"),
    )
    slope: float | None = key.number(
        "rad",
        "its slope from level, the mean of a curved one",
        '"45 deg"',
        within="0 deg to 70 deg",
        usual=("5 deg to 65 deg", "such screens slope 30 to 60 deg"),
    )
    clogged: tuple[float, ...] | None = CLOGGED


class BottomIntake(AnyPart):
    """A bottom (Tyrolean) intake."""

    kind: Literal["bottom intake"] = KIND
    width: float = key.number(
        "m",
        "width across the creek",
        '"1 m"',
        required=True,
        within="1 cm to 100 m",
        usual=("10 cm to 30 m", "it lies across a creek"),
    )
    length: float = key.number(
        "m",
        "length of the bars along the creek",
        '"0.7 m"',
        required=True,
        within="1 cm to 100 m",
        usual=("10 cm to 5 m", "bars are 0.3 to 2 m long"),
    )
    bar: float = key.number(
        "m",
        "thickness of a bar",
        '"10 mm"',
        required=True,
        within="0.1 mm to 1 m",
        usual=("2 mm to 100 mm", "bars are 6 to 20 mm thick"),
    )
    gap: float = key.number(
        "m",
        "clear gap between bars",
        '"10 mm"',
        required=True,
        within="0.1 mm to 1 m",
        usual=("2 mm to 150 mm", "bars stand 5 to 30 mm apart"),
    )
    slope: float = key.number(
        "rad",
        "slope of the bars along the creek",
        '"12 deg"',
        default='"10 deg"',
        within="0 deg to 26 deg",
    )
    clogged: tuple[float, ...] | None = CLOGGED
