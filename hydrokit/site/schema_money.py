"""Keys of the site file: sizes to try, the owner's plan, uncertainties, and changes to the plant."""

from typing import Literal

from . import keys as key
from .section import Section


class Sizing(Section, page="04_design_flow"):
    """[sizing]: sizes to try."""

    flows: tuple[float, ...] | None = key.numbers(
        "m^3/s",
        "design flows to try",
        '["8 L/s", "12 L/s"]',
        within="0.01 L/s to 1000 m^3/s",
        usual=("0.1 L/s to 50 m^3/s", "a small plant does not take a whole river"),
    )
    jets: tuple[int, ...] | None = key.numbers(
        "count",
        "numbers of jets to try",
        "[1, 2, 4]",
        within="1 to 8",
        whole=True,
        shared_with_neighbour=True,
    )
    aim: Literal["cost", "winter", "worth"] | None = key.choice(
        "what the design flow is chosen for: lowest levelised cost of a useful kWh, most "
        "energy in winter, or highest net annual benefit (worth)",
        shared_with_neighbour=True,
    )
    flat_within: float = key.number(
        "share",
        "designs within this share of the best count as equal",
        '"3 %"',
        default='"2 %"',
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "designs further apart are not equal"),
    )


class Plan(Section, page="04_design_flow"):
    """[plan]: the size the owner has in mind, to be held against the size recommended."""

    design_flow: float | None = key.number(
        "m^3/s",
        (
            "design flow the owner has in mind; all pages are then based on it, where jets of a "
            "stated bore do not set another"
        ),
        '"22 L/s"',
        within="0.01 L/s to 1000 m^3/s",
        usual=("0.1 L/s to 50 m^3/s", "a small plant does not take a whole river"),
    )
    jets: int | None = key.number(
        "count",
        (
            "number of jets, or of units, of that plan; left out, the number under [turbine], "
            "otherwise the recommended number"
        ),
        "4",
        within="1 to 8",
        whole=True,
    )


class Uncertainty(Section, page="05_annual_energy"):
    """[uncertainty]: how well the plant is known where no measurement says it."""

    head: float | None = key.number(
        "ratio",
        "standard deviation of the head",
        '"1 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "level again a head that is more uncertain"),
    )
    loss: float | None = key.number(
        "share",
        "standard deviation of the head loss in the pipe",
        '"15 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
        usual=("0 % to 70 %", "the loss of a pipe of known bore is less uncertain"),
    )
    efficiency: float | None = key.number(
        "share",
        "standard deviation of the efficiency, water to wire",
        '"4 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 30 %", "a more uncertain efficiency says nothing"),
    )
    jet_area: float | None = key.number(
        "share",
        "standard deviation of the jets' effective area",
        '"2 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "a drill fixes the bore better"),
    )
    draws: int = key.number(
        "count",
        "number of random draws",
        "4000",
        default="4000",
        within="100 to 100000",
        whole=True,
        shared_with_neighbour=True,
    )


class Upgrade(Section, page="08_next_kilowatt"):
    """[[upgrade]]: a change to the plant that might pay."""

    name: str = key.text("what would be done", '"a second pipe"', required=True)
    cost: float = key.number("money", "what it would cost", "1200", default="0")
    life: float | None = key.number(
        "count",
        "years it would last",
        "20",
        within="1 to 200",
        usual=("1 to 100", "machines last some 25 years, pipes and weirs longer"),
    )
    pipe: str | None = key.text("new pipe of the penstock, from the catalogue", '"6 in PVC Sch 40"')
    jets: int | None = key.number("count", "new number of jets", "3", within="1 to 8", whole=True)
    jet_diameter: float | None = key.number(
        "m",
        "new bore of the jets",
        '"12 mm"',
        within="0.5 mm to 1 m",
        usual=(
            "2 mm to 400 mm",
            "jets of small plants measure some millimetres to some centimetres",
        ),
    )
    capacity: float | None = key.number(
        "m^3/s",
        "new capacity of the intake",
        '"60 L/s"',
        within="0.01 L/s to 10000 m^3/s",
        usual=(
            "0.1 L/s to 50 m^3/s",
            "the intakes of small plants pass from a cupful to some tens of m³/s",
        ),
    )
    clogged: tuple[float, ...] | None = key.monthly(
        "share", "share of the intake blocked after the change", '"5 %"'
    )
    diversion_pipe: str | None = key.text(
        "new pipe of the line from creek to forebay, from the catalogue", '"PE100 SDR 17 250 mm"'
    )
    diversion_vents: tuple[float, ...] = key.numbers(
        "m", "chainages of new vents or standpipes on that line", '["40 m", "85 m"]', default="[]"
    )
    efficiency: float | None = key.number(
        "share",
        "new best efficiency of the runner",
        '"80 %"',
        within="1 % to 99 %",
        usual=("20 % to 95 %", "the best large machines reach 95 %, small ones 60 to 85 %"),
    )
    cable_size: str | None = key.text("new conductor", '"25 mm2"')
    unplanned: float | None = key.number(
        "share",
        "share of the time lost to unplanned stops after the change",
        '"1 %"',
        usual=("0 % to 50 %", "a plant that is stopped half of the time is repaired first"),
    )
    close_jets: int | None = key.number(
        "count", "number of jets to close in the months named", "1", within="0 to 8", whole=True
    )
    jets_as_fed: bool | None = key.yes_no(
        "whether only as many jets are opened as give the most power by the gauge, in the months named"
    )
    extra_flow: float | None = key.number(
        "m^3/s",
        "water brought in from elsewhere",
        '"3 L/s"',
        usual=(
            "0.01 L/s to 20 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    months: tuple[int, ...] = key.months(
        "months in which jets are closed or opened as fed, or the extra water comes",
        "[12, 1, 2]",
        default="[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]",
    )
    requires: tuple[str, ...] = key.texts(
        "other changes it requires, by their names", '["vents"]', default="[]"
    )
