"""Keys of the site file: prices, sizes to try, uncertainties, and changes to the plant."""

from typing import Literal

from . import keys as key
from .section import Section


class Replacement(Section, page="07_money"):
    """[[costs.replacement]]: a part that wears out before the plant does."""

    name: str = key.text(
        "a part that wears out before the plant does", '"bearings and belts"', required=True
    )
    cost: float = key.number("money", "cost of a new one, installed", "600", required=True)
    every: float = key.number(
        "count", "life of one in years", "8", required=True, within="0.5 to 200"
    )


class Costs(Section, page="07_money"):
    """[costs]: what the plant costs and what its energy is worth."""

    fixed: float | None = key.number(
        "money",
        "cost of any plant here, whatever its size: intake, access, design, licence",
        "9000",
        shared_with_neighbour=True,
    )
    per_power: float | None = key.number(
        "money/W",
        "cost of machine and switchboard for each kW",
        '"1400 per kW"',
        shared_with_neighbour=True,
    )
    pipes: str | None = key.file(
        "CSV of sizes to try: size, inside [mm], price [money/m]",
        '"pipe_prices.csv"',
        shared_with_neighbour=True,
        columns={"size": "text", "price": "money/m"},
    )
    per_jet: float | None = key.number(
        "money", "cost of each jet with its valve", "450", shared_with_neighbour=True
    )
    laying: float | None = key.number(
        "money/m",
        "cost of laying a metre of pipe of any size",
        '"18 per m"',
        shared_with_neighbour=True,
    )
    cable: float | None = key.number(
        "money/m", "cost of a metre of cable, laid", '"9 per m"', shared_with_neighbour=True
    )
    cables: str | None = key.file(
        "CSV of cable sizes to weigh: size, price [money/m], laid",
        '"cable_prices.csv"',
        shared_with_neighbour=True,
        columns={"size": "text", "price": "money/m"},
    )
    yearly: float | None = key.number(
        "share",
        "yearly operation and maintenance, as a share of the capital cost",
        '"2 %"',
        shared_with_neighbour=True,
    )
    life: float = key.number(
        "count",
        "life of the plant in years",
        "25",
        default="25",
        within="1 to 200",
        shared_with_neighbour=True,
    )
    discount_rate: float = key.number(
        "share",
        "real discount rate: what money costs, above inflation",
        '"4 %"',
        default='"4 %"',
        shared_with_neighbour=True,
    )
    value: float | None = key.number(
        "money/J",
        "value of a kWh that is used here: the price of the grid, or the cost of a generator's kWh",
        '"0.22 per kWh"',
        shared_with_neighbour=True,
    )
    heat_value: float | None = key.number(
        "money/J",
        "value of a kWh of heat: the fuel it replaces; left out, heat within the demand has the value above, and heat beyond it none",
        '"0.09 per kWh"',
        shared_with_neighbour=True,
    )
    export: float = key.number(
        "money/J",
        "price of a kWh sold, of what is not used",
        '"0.06 per kWh"',
        default='"0 per kWh"',
        shared_with_neighbour=True,
    )
    replaces: str | None = key.text(
        "what the energy replaces, and whose price the value is",
        '"electricity from the grid"',
        shared_with_neighbour=True,
    )
    loan_years: float | None = key.number(
        "count",
        "years over which the capital cost would be borrowed",
        "15",
        within="1 to 100",
        shared_with_neighbour=True,
    )
    loan_rate: float | None = key.number(
        "ratio",
        "real interest on the loan; left out, the discount rate",
        '"5 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
    )
    visit: float = key.number(
        "money",
        "cost of one visit to the intake: your time, the way there",
        "8",
        default="0",
        shared_with_neighbour=True,
    )
    uncertainty: float | None = key.number(
        "share",
        "standard deviation of the capital cost",
        '"15 %"',
        shared_with_neighbour=True,
        usual=("0 % to 60 %", "so uncertain an estimate is none"),
    )
    replacement: tuple[Replacement, ...] = ()


class Sizing(Section, page="04_design_flow"):
    """[sizing]: sizes to try."""

    flows: tuple[float, ...] | None = key.numbers(
        "m^3/s", "design flows to try", '["8 L/s", "12 L/s"]', within="0.01 L/s to 1000 m^3/s"
    )
    jets: tuple[int, ...] | None = key.numbers(
        "count",
        "jet numbers to try",
        "[1, 2, 4]",
        within="1 to 8",
        whole=True,
        shared_with_neighbour=True,
    )
    aim: Literal["cost", "winter", "worth"] | None = key.choice(
        "what the design flow is chosen for: lowest levelised cost of a useful kWh, most energy in winter, or highest net annual benefit (worth)",
        shared_with_neighbour=True,
    )
    flat_within: float = key.number(
        "share",
        "designs within this share of the best count as equal",
        '"3 %"',
        default='"2 %"',
        shared_with_neighbour=True,
    )


class Uncertainty(Section, page="05_annual_energy"):
    """[uncertainty]: how well the plant is known where no measurement says it."""

    head: float | None = key.number(
        "ratio",
        "standard deviation of the head",
        '"1 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "so uncertain a head is better levelled"),
    )
    loss: float | None = key.number(
        "share",
        "standard deviation of the head loss in the pipe",
        '"15 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
        usual=("0 % to 70 %", "a pipe of known bore is known better"),
    )
    efficiency: float | None = key.number(
        "share",
        "standard deviation of the efficiency, water to wire",
        '"4 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 30 %", "so uncertain an efficiency says nothing"),
    )
    jet_area: float | None = key.number(
        "share",
        "standard deviation of the jets' effective area",
        '"2 %"',
        within="0 % to 50 %",
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "a drill tells the bore better"),
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
    life: float | None = key.number("count", "years it would last", "20", within="1 to 200")
    pipe: str | None = key.text("new pipe of the penstock, from the catalogue", '"6 in PVC Sch 40"')
    jets: int | None = key.number("count", "new number of jets", "3", within="1 to 8", whole=True)
    jet_diameter: float | None = key.number(
        "m", "new bore of the jets", '"12 mm"', within="0.5 mm to 1 m"
    )
    capacity: float | None = key.number(
        "m^3/s", "new capacity of the intake", '"60 L/s"', within="0.01 L/s to 10000 m^3/s"
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
        "share", "new best efficiency of the runner", '"80 %"', within="1 % to 100 %"
    )
    cable_size: str | None = key.text("new conductor", '"25 mm2"')
    unplanned: float | None = key.number(
        "share", "share of the time of unplanned stops after the change", '"1 %"'
    )
    close_jets: int | None = key.number(
        "count", "number of jets to close in the months named", "1", within="0 to 8", whole=True
    )
    jets_as_fed: bool | None = key.yes_no(
        "whether only as many jets are opened as give most power, by the gauge, in the months named"
    )
    extra_flow: float | None = key.number("m^3/s", "water brought in from elsewhere", '"3 L/s"')
    months: tuple[int, ...] = key.months(
        "months in which jets are closed or opened as fed, or water comes",
        "[12, 1, 2]",
        default="[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]",
    )
    requires: tuple[str, ...] = key.texts(
        "other changes it requires, by their names", '["vents"]', default="[]"
    )
