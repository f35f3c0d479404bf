"""What a site file may say: every section and key, and with it the type of the site that was read.

The classes of sections, here and in the modules ``schema_*`` one a subject, are the only list of
keys. The checker, the template of a new study, ``hydrokit explain`` and the error sentences read
them; their attributes are what the rest of the house reads of a site.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Literal, get_args

from . import keys as key
from .keys import Key
from .schema_costs import Costs
from .schema_creek import Rights, Stream, Weir
from .schema_electrical import Electrical, Safeguard
from .schema_money import Plan, Sizing, Uncertainty, Upgrade
from .schema_parts import Part
from .schema_permits import Permit
from .schema_plant import Generator, Machine, Operation, Outage, Reading, Readings, Turbine
from .schema_screens import KIND, AnyPart
from .schema_sources import Source
from .schema_use import (
    Ballast,
    Battery,
    Cable,
    Circuit,
    Inverter,
    Loads,
    Room,
    Transformer,
)
from .schema_way import Diversion, Intake, Penstock
from .section import Section

__all__ = ["LISTS", "PART_KINDS", "PART_TYPES", "SECTIONS", "TYPES", "General", "Site"]


class General(Section):
    """[site]: what is studied, and how it is shown."""

    name: str = key.text("name of the creek or plant", '"Alder Burn"', required=True)
    place: str | None = key.text("where the plant is, in words", '"a hill farm"')
    coordinates: str | None = key.text(
        "position on a map, written as the report should show it; left out, the report shows none",
        '"map sheet 14, 3182 0457"',
    )
    prepared_by: str | None = key.text("who made this study", '"J. Field"')
    altitude: float | None = key.number(
        "m",
        "height of the intake above sea level",
        '"240 m"',
        within="-430 m to 6000 m",
        positive=False,
    )
    water_temperature: float = key.number(
        "K",
        "usual temperature of the water",
        '"8 degC"',
        default='"10 degC"',
        within="0 degC to 40 degC",
        usual=("0 degC to 25 degC", "a creek is seldom warmer"),
    )
    catchment: float | None = key.number(
        "m^2",
        "area that drains to the intake",
        '"2.2 km^2"',
        usual=(
            "0.01 km^2 to 5000 km^2",
            "a creek for a small plant drains from a hectare to a few thousand km²",
        ),
    )
    rainfall: float | None = key.number(
        "m",
        "rain and snow of a mean year over the catchment, as depth of water",
        '"1400 mm"',
        usual=("100 mm to 8000 mm", "a year brings some hundred to a few thousand millimetres"),
    )
    display: Literal["metric", "us"] = key.choice(
        "units of tables, figures and sentences", default='"metric"', shared_with_neighbour=True
    )
    currency: str = key.word(
        "name of the money used under [costs]",
        '"crowns"',
        default='"money"',
        shared_with_neighbour=True,
    )
    stage_of_work: Literal["planned", "existing"] = key.choice(
        "whether the plant is planned or runs today", default='"planned"'
    )
    winter: tuple[int, ...] = key.months(
        "the months counted as winter",
        "[12, 1, 2]",
        default="[12, 1, 2]",
        shared_with_neighbour=True,
    )
    coldest: float | None = key.number(
        "K",
        "air temperature of the coldest day that the pipes must withstand, where no record gives it",
        '"-15 degC"',
        within="-80 degC to 40 degC",
        usual=("-60 degC to 10 degC", "it is the coldest day of many years"),
    )
    frost: Literal["by temperature", "none"] = key.choice(
        "whether the report looks at ice: by temperature, if a known night reaches "
        "freezing point; none, never",
        default='"by temperature"',
        shared_with_neighbour=True,
    )


class Survey(Section):
    """[survey]: the owner's own survey, for a sketch of the place and nothing else."""

    points: str | None = key.file(
        "CSV of points: name, then x [m] and y [m] (east, north), or bearing [deg] and "
        "distance [m] from the point named under from, otherwise from the point above; elevation "
        "[m]; part, such as penstock: points of a part are joined",
        '"points.csv"',
        columns={"name": "text"},
        optional={
            "x": "m",
            "y": "m",
            "from": "text",
            "bearing": "rad",
            "distance": "m",
            "elevation": "m",
            "part": "text",
        },
    )
    north: Literal["true", "magnetic", "map"] | None = key.choice(
        "which north the bearings or coordinates refer to", example='"magnetic"'
    )


class Site(Section):
    """A site file as it was read: ``site.turbine.jet_kind``, ``site.penstock.pipe[0].length``.

    Sections that the file does not have are there with nothing given. As a mapping it holds
    sections and lists by their names in the file: ``site["penstock.pipe"]``.
    """

    site: General = General()
    stream: Stream = Stream()
    weir: Weir = Weir()
    rights: Rights = Rights()
    intake: Intake = Intake()
    diversion: Diversion = Diversion()
    penstock: Penstock = Penstock()
    turbine: Turbine = Turbine()
    generator: Generator = Generator()
    cable: Cable = Cable()
    electrical: Electrical = Electrical()
    loads: Loads = Loads()
    readings: Readings = Readings()
    outage: Outage = Outage()
    operation: Operation = Operation()
    costs: Costs = Costs()
    sizing: Sizing = Sizing()
    plan: Plan = Plan()
    uncertainty: Uncertainty = Uncertainty()
    ballast: Ballast = Ballast()
    inverter: Inverter = Inverter()
    battery: Battery = Battery()
    survey: Survey = Survey()
    machine: tuple[Machine, ...] = ()
    room: tuple[Room, ...] = ()
    circuit: tuple[Circuit, ...] = ()
    transformer: tuple[Transformer, ...] = ()
    reading: tuple[Reading, ...] = ()
    upgrade: tuple[Upgrade, ...] = ()
    source: tuple[Source, ...] = ()
    permit: tuple[Permit, ...] = ()
    safeguard: tuple[Safeguard, ...] = ()
    part: tuple[Part, ...] = ()
    renamed: tuple[tuple[str, str], ...] = ()

    @classmethod
    def _attributes(cls) -> set[str]:
        return set(cls.__annotations__)

    def __getitem__(self, name: str) -> Any:
        section, _, within = name.partition(".")
        if section not in self._attributes():
            raise KeyError(name)
        held = getattr(self, section)
        return getattr(held, within) if within else held

    def __iter__(self) -> Iterator[str]:
        return iter((*TYPES, "renamed"))

    def __len__(self) -> int:
        return len(TYPES) + 1


TYPES: dict[str, Any] = {
    name: type(held) for name, held in vars(Site).items() if isinstance(held, Section)
}
"""Name of each section, and of each list, in the site file -> type of it, or of its entries."""
PART_TYPES: dict[str, type[AnyPart]] = {
    get_args(kind.__annotations__["kind"])[0]: kind for kind in get_args(Part)
}
SECTIONS: dict[str, dict[str, Key]] = {name: held.schema for name, held in TYPES.items()}
PART_KINDS: dict[str, dict[str, Key]] = {
    name: {each: told for each, told in kind.schema.items() if each not in ("kind", "name")}
    for name, kind in PART_TYPES.items()
}
_OF_SECTIONS = {
    f"{name}.{each}": kind for name, held in TYPES.items() for each, kind in held.lists.items()
}
_OF_SITE = {name: kind for name, kind in Site.lists.items() if name not in ("part", "renamed")}
TYPES |= _OF_SECTIONS | _OF_SITE | {"part": AnyPart}
LISTS: dict[str, dict[str, Key]] = {
    name: held.schema for name, held in TYPES.items() if name not in SECTIONS
}
LISTS["part"] = {
    "kind": replace(KIND, choices=tuple(PART_KINDS), example='"screen"'),
    "name": AnyPart.schema["name"],
}
