"""Keys of the site file: the water's way, from the intake to the jets."""

from typing import Literal

from . import keys as key
from .section import Section
from .values import Measured

# Keys of every line that lies along the ground.
COVER = key.number(
    "m",
    "depth of soil over the pipe; 0 where it lies on the ground",
    '"0.3 m"',
    default='"0 m"',
    within="0 m to 100 m",
    usual=("0 m to 5 m", "trenches are about a metre deep"),
)
SNOW = key.number(
    "m",
    (
        "usual depth of settled snow in mid winter: on the soil over a buried pipe, over the "
        "crown of one that lies on the ground"
    ),
    '"0.6 m"',
    default='"0 m"',
    within="0 m to 100 m",
    usual=("0 m to 5 m", "snow lies some decimetres to some metres deep"),
)
INSULATION = key.number(
    "m",
    "thickness of dry insulation round the pipe",
    '"30 mm"',
    default='"0 mm"',
    within="0 m to 10 m",
    usual=("0 mm to 300 mm", "shells of foam are some centimetres thick"),
)


class Intake(Section, page="03_water_way"):
    """[intake]: where the water leaves the creek."""

    capacity: Measured | None = key.measured(
        "m^3/s",
        (
            "capacity of the clean intake; a measured one, with ±, is used instead of the "
            "calculated capacity of the screens listed under [[part]] above the forebay; one "
            "without ± only where none is listed"
        ),
        '"60 L/s ± 4 L/s"',
        within="0.01 L/s to 10000 m^3/s",
        usual=(
            "0.1 L/s to 50 m^3/s",
            "the intakes of small plants pass from a cupful to some tens of m³/s",
        ),
    )
    clogged: tuple[float, ...] | None = key.monthly(
        "share", "share of its area that is blocked, by month", '{ october = "40 %" }'
    )
    weir_length: float | None = key.number(
        "m",
        "length of the crest of the weir across the creek, over which a flood runs",
        '"4 m"',
        within="1 cm to 1000 m",
        usual=("0 m to 100 m", "a weir across a creek is some metres long"),
    )
    weir_crest: Literal["broad", "thin plate", "rounded"] = key.choice(
        "shape of the crest of the weir across the creek", default='"broad"'
    )
    banks: float | None = key.number(
        "m",
        "height of the banks or walls beside the weir above its crest",
        '"0.8 m"',
        within="0 m to 100 m",
        usual=("0 m to 15 m", "banks of a creek are a few metres high"),
    )
    flood: Measured | None = key.measured(
        "m^3/s",
        "design flood, where no record gives it",
        '"3 m^3/s"',
        within="0.1 L/s to 10000 m^3/s",
        usual=("5 L/s to 2000 m^3/s", "it is the flood of a creek"),
    )
    notch_depth: float | None = key.number(
        "m",
        "height from the sill of the notch for the residual flow up to the sill of the intake",
        '"100 mm"',
        within="1 mm to 10 m",
        usual=("1 cm to 2 m", "a notch is some decimetres deep"),
    )
    notch_width: float | None = key.number(
        "m",
        "width of the notch for the residual flow as built; left out, it is calculated",
        '"150 mm"',
        within="1 mm to 100 m",
        usual=("1 cm to 10 m", "a notch is some decimetres wide"),
    )
    level: float | None = key.number(
        "m",
        "water level at the intake, in the datum of the penstock's profile",
        '"286.4 m"',
        within="-1000 m to 9000 m",
        positive=False,
    )
    life: float = key.number(
        "count",
        "design life of the intake in years",
        "25",
        default="25",
        within="1 to 200",
        shared_with_neighbour=True,
        usual=("5 to 100", "intakes are built for some tens of years"),
    )
    flood_risk: float = key.number(
        "share",
        "accepted probability of a flood above the design flood within the design life",
        '"20 %"',
        default='"20 %"',
        within="0.1 % to 99 %",
        shared_with_neighbour=True,
        usual=("1 % to 70 %", "a higher one expects the flood, a lower one asks for a dam"),
    )


class Stretch(Section, page="03_water_way"):
    """A stretch that lies otherwise than the rest of its line: what is left out there is not there."""

    name: str | None = key.text("what it is called here", '"pipe bridge"')
    from_: float = key.number("m", "chainage at which it begins", '"121 m"', required=True)
    to: float = key.number("m", "chainage at which it ends", '"131 m"', required=True)
    cover: float = COVER
    snow: float = SNOW
    insulation: float = INSULATION
    span: float | None = key.number(
        "m",
        "distance between its supports, where it hangs free",
        '"2.4 m"',
        within="0.1 m to 100 m",
        usual=("0.3 m to 20 m", "supports of small pipe stand a few metres apart"),
    )
    snow_load: float = key.number(
        "m",
        "depth of snow that lies on it where it hangs free",
        '"0.4 m"',
        default='"0 m"',
        within="0 m to 100 m",
        usual=("0 m to 3 m", "more slides off a pipe"),
    )
    ice: float = key.number(
        "m",
        "thickness of ice that grows round it where it hangs free",
        '"20 mm"',
        default='"0 mm"',
        within="0 m to 10 m",
        usual=("0 mm to 300 mm", "ice round a pipe is some centimetres thick"),
    )


class Diversion(Section, page="03_water_way"):
    """[diversion]: the line from the creek to the forebay."""

    profile: str | None = key.file(
        "CSV: chainage [m], elevation [m] of the line from creek to forebay", '"diversion.csv"'
    )
    along_slope: bool = key.yes_no(
        "whether the chainage is taped along the pipe (true) or level, as from a map (false)",
        default="false",
    )
    inside_diameter: float | None = key.number(
        "m",
        "inside diameter of the line, measured",
        '"160 mm"',
        within="1 mm to 10 m",
        usual=("10 mm to 2.5 m", "lines of small plants are pipes of 25 mm to 2 m"),
    )
    size: str | None = key.text(
        "size from the catalogue instead of an inside diameter", '"PE100 SDR 17 160 mm"'
    )
    roughness: float | None = key.number(
        "m",
        "roughness of its wall",
        '"0.03 mm"',
        usual=("0 mm to 5 mm", "plastic has 0.003 to 0.03 mm, old steel 1 to 3 mm"),
    )
    source_level: float | None = key.number(
        "m",
        "water level at its upper end, in the profile's datum",
        '"287.9 m"',
        within="-1000 m to 9000 m",
        positive=False,
    )
    outlet: Literal["free", "upturned", "gated", "submerged"] = key.choice(
        "how the lower end of the line is made", default='"free"'
    )
    outlet_crest: float | None = key.number(
        "m",
        (
            "level of the crest of an upturned outlet, or of the water over a submerged one, in "
            "the profile's datum"
        ),
        '"277.2 m"',
        within="-1000 m to 9000 m",
        positive=False,
    )
    vents: tuple[float, ...] = key.numbers("m", "chainages of the vents", '["40 m"]', default="[]")
    entry: float = key.number(
        "ratio",
        "loss coefficient of the pipe inlet",
        "0.8",
        default="0.5",
        usual=("0 to 20", "a pipe inlet takes about one velocity head"),
    )
    inlet_level: float | None = key.number(
        "m",
        (
            "level of the axis of the pipe inlet, in the profile's datum, where the first station "
            "is the water surface"
        ),
        '"287.6 m"',
        within="-1000 m to 9000 m",
        positive=False,
    )
    levels: Literal["axis", "bottom", "top"] = key.choice(
        "part of the pipe whose levels the profile gives", default='"axis"'
    )
    rating: float | None = key.number(
        "Pa",
        "pressure rating at 23 °C, where the size is not from the catalogue",
        '"6 bar"',
        usual=("0.2 bar to 60 bar", "pipes are rated for some bar to some tens of bar"),
    )
    snow: float = SNOW
    cover: float = COVER
    insulation: float = INSULATION
    stretch: tuple[Stretch, ...] = ()


class Pipe(Section, page="03_water_way"):
    """[[penstock.pipe]]: one pipe of the penstock, from the top down."""

    size: str | None = key.text(
        "size from the catalogue; it gives inside diameter, wall and rating",
        '"PVC-U SDR 21 160 mm"',
    )
    inside_diameter: float | None = key.number(
        "m",
        "inside diameter, measured, instead of a size",
        '"101.5 mm"',
        within="10 mm to 10 m",
        usual=("12 mm to 3 m", "penstocks of small plants measure 25 mm to 2 m"),
    )
    length: float | None = key.number(
        "m",
        "length of this stretch; left out for one pipe along the whole profile",
        '"380 m"',
        within="1 m to 100 km",
        usual=("1 m to 20 km", "a line of pipe is some metres to some kilometres long"),
    )
    roughness: float | None = key.number(
        "m",
        "roughness of the wall",
        '"0.01 mm"',
        usual=("0 mm to 5 mm", "plastic has 0.003 to 0.03 mm, old steel 1 to 3 mm"),
    )
    fittings: float = key.number(
        "ratio",
        "loss coefficients of bends and valves on it, summed",
        "1.2",
        default="0",
        usual=("0 to 50", "bends and valves together seldom pass ten velocity heads"),
    )
    rating: float | None = key.number(
        "Pa",
        "pressure rating at 23 °C, where the size is not from the catalogue",
        '"10 bar"',
        usual=("0.5 bar to 160 bar", "pipes are rated for some bar to some tens of bar"),
    )


class Bend(Section, page="03_water_way"):
    """[[penstock.bend]]: a bend of the penstock."""

    at: float = key.number("m", "chainage of the bend", '"120 m"', required=True)
    angle: float = key.number(
        "rad",
        "angle by which the pipe turns there, in plan or in elevation",
        '"45 deg"',
        required=True,
        usual=("1 deg to 120 deg", "bends turn the pipe by some degrees to a right angle"),
    )


class Penstock(Section, page="03_water_way"):
    """[penstock]: from the forebay's water level down to the jets."""

    profile: str | None = key.file(
        "CSV: chainage [m], elevation [m], from the water level down to the jets", '"penstock.csv"'
    )
    along_slope: bool = key.yes_no(
        "whether the chainage is taped along the pipe (true) or level, as from a map (false)",
        default="false",
    )
    vents: tuple[float, ...] = key.numbers(
        "m",
        (
            "places of the vents, as distances along the pipe from its inlet; one at each high point "
            "lets out the air that otherwise causes head loss"
        ),
        '["165 m"]',
        default="[]",
    )
    head: Measured | None = key.measured(
        "m",
        "height from the water level to the jets, surveyed",
        '"46.2 m ± 0.3 m"',
        within="0.1 m to 3000 m",
        usual=(
            "1 m to 1200 m",
            "few plants have a greater head, and none of these machines runs on a smaller one",
        ),
    )
    static_pressure: Measured | None = key.measured(
        "Pa",
        "gauge pressure with all jets shut",
        '"65 psi ± 1 psi"',
        within="0.01 bar to 300 bar",
        usual=("0.1 bar to 120 bar", "few plants have a greater head"),
    )
    gauge_height: float = key.number(
        "m",
        "height of the gauge above the jets",
        '"2 ft"',
        default='"0 m"',
        within="-100 m to 100 m",
        positive=False,
        usual=("-10 m to 50 m", "the gauge stands in or near the powerhouse"),
    )
    gauge_zero: float = key.number(
        "Pa",
        "what the gauge shows with no pressure on it",
        '"0 psi"',
        default='"0 bar"',
        within="-10 bar to 10 bar",
        positive=False,
        usual=("-0.5 bar to 1 bar", "a gauge further off is replaced"),
    )
    length: Measured | None = key.measured(
        "m",
        "length of the pipe where no profile is given; paced is enough",
        '"800 ft ± 30 ft"',
        within="1 m to 100 km",
        usual=("3 m to 20 km", "a line of pipe is some metres to some kilometres long"),
    )
    entry: float | None = key.number(
        "ratio",
        "loss coefficient of pipe inlet, bends and valves together",
        "1.5",
        usual=("0 to 50", "pipe inlet, bends and valves together seldom pass ten velocity heads"),
    )
    closing_time: float | None = key.number(
        "s",
        "shortest closing time of the valve at the foot",
        '"8 s"',
        within="0 s to 20 min",
        usual=("0.1 s to 15 min", "no hand shuts a valve faster"),
    )
    warmest: float | None = key.number(
        "K",
        "highest temperature of the pipe wall, such as when it is empty in the sun",
        '"35 degC"',
        within="-20 degC to 80 degC",
        usual=(
            "5 degC to 75 degC",
            "water-filled pipes reach some 20 °C, empty black ones in the sun 60 °C",
        ),
    )
    snow: float = SNOW
    cover: float = COVER
    insulation: float = INSULATION
    pipe: tuple[Pipe, ...] = ()
    stretch: tuple[Stretch, ...] = ()
    bend: tuple[Bend, ...] = ()
