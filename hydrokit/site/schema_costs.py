"""Keys of the site file: what a plant costs, who pays for it, and what its energy is worth."""

from typing import Literal

from . import keys as key
from .section import Section


class Replacement(Section, page="07_money"):
    """[[costs.replacement]]: a part that wears out before the plant does."""

    name: str = key.text(
        "a part that wears out before the plant does", '"bearings and belts"', required=True
    )
    cost: float = key.number("money", "cost of the new part, installed", "600", required=True)
    every: float = key.number(
        "count",
        "life of the part in years",
        "8",
        required=True,
        within="0.5 to 200",
        usual=("1 to 60", "a part that wears lasts some years"),
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
        "CSV of cable sizes to compare: size, price [money/m], laid",
        '"cable_prices.csv"',
        shared_with_neighbour=True,
        columns={"size": "text", "price": "money/m"},
    )
    yearly: float | None = key.number(
        "share",
        "yearly operation and maintenance, as a share of the capital cost",
        '"2 %"',
        shared_with_neighbour=True,
        usual=("0 % to 15 %", "upkeep takes 1 to 4 % of the capital cost a year"),
    )
    life: float = key.number(
        "count",
        "life of the plant in years",
        "25",
        default="25",
        within="1 to 200",
        shared_with_neighbour=True,
        usual=("5 to 80", "machines last some 25 years, pipes and weirs longer"),
    )
    discount_rate: float = key.number(
        "share",
        "real discount rate: what money costs, above inflation",
        '"4 %"',
        default='"4 %"',
        shared_with_neighbour=True,
        usual=("0 % to 15 %", "above inflation money costs a few per cent"),
    )
    value: float | None = key.number(
        "money/J",
        "value of a kWh that is used here: the price of the grid, or the cost of a generator's kWh",
        '"0.22 per kWh"',
        shared_with_neighbour=True,
    )
    heat_value: float | None = key.number(
        "money/J",
        (
            "value of a kWh of heat: the fuel it replaces; left out, heat within the demand has "
            "the value given by value, and heat beyond it none"
        ),
        '"0.09 per kWh"',
        shared_with_neighbour=True,
    )
    export: float = key.number(
        "money/J",
        "price of each unused kWh that is sold",
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
        usual=("1 to 50", "loans run 5 to 30 years"),
    )
    loan_rate: float | None = key.number(
        "ratio",
        (
            "interest on the loan as the bank writes it, inflation included; left out, the "
            "discount rate with inflation"
        ),
        '"5.5 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
        usual=("0 % to 20 %", "loans cost a few per cent a year above inflation"),
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
        usual=("0 % to 60 %", "an estimate more uncertain than this says little"),
    )
    contingency: float | None = key.number(
        "share",
        "allowance for unforeseen costs, as a share of the listed capital cost",
        '"10 %"',
        shared_with_neighbour=True,
        usual=("0 % to 40 %", "an estimate that needs more is not finished"),
    )
    building_months: int | None = key.number(
        "count",
        "months of building, over which the capital cost is spent evenly and bears interest",
        "8",
        whole=True,
        within="0 to 120",
        shared_with_neighbour=True,
        usual=("0 to 60", "small plants are built in some months"),
    )
    grant: float | None = key.number(
        "money", "grant towards the capital cost that need not be paid back", "5000"
    )
    insurance: float | None = key.number(
        "money", "yearly insurance", "180", shared_with_neighbour=True
    )
    abstraction_fee: float | None = key.number(
        "money", "yearly fee for taking the water", "90", shared_with_neighbour=True
    )
    land_rent: float | None = key.number(
        "money", "yearly rent for land, wayleaves and roads", "120", shared_with_neighbour=True
    )
    standing_charge: float | None = key.number(
        "money",
        "yearly standing charge for a connection to the grid or a meter that the plant needs",
        "150",
        shared_with_neighbour=True,
    )
    labour_visits: float | None = key.number(
        "count",
        "visits of the owner in a year; left out, as often as [operation] visit_days says",
        "50",
        within="0 to 3660",
        shared_with_neighbour=True,
        usual=("0 to 1100", "three visits a day are many"),
    )
    labour_hours: float = key.number(
        "s",
        "time of one visit, the way there included",
        '"1.5 h"',
        default='"1 h"',
        usual=("1 min to 12 h", "a visit takes minutes to hours"),
    )
    labour_rate: float | None = key.number(
        "money/s",
        "what an hour of the owner's labour is worth; left out, it costs nothing",
        '"14 per h"',
        shared_with_neighbour=True,
    )
    residual_value: float | None = key.number(
        "money", "what the plant is still worth at the end of its life, at today's prices", "2000"
    )
    removal: float | None = key.number(
        "money", "cost of taking the plant away at the end of its life, at today's prices", "1500"
    )
    inflation: float = key.number(
        "ratio",
        "yearly rise of all prices; a loan and its payments do not rise with them",
        '"2 %"',
        default='"0 %"',
        within="0 % to 100 %",
        shared_with_neighbour=True,
        usual=("0 % to 15 %", "prices seldom rise faster for a plant's whole life"),
    )
    loan_share: float = key.number(
        "share",
        "share of the capital cost, less the grant, that is borrowed",
        '"70 %"',
        default='"100 %"',
        shared_with_neighbour=True,
    )
    loan_kind: Literal["annuity", "equal principal"] = key.choice(
        "how the loan is paid back: level payments, or the same principal each year",
        default='"annuity"',
        shared_with_neighbour=True,
    )
    cover_p50: float = key.number(
        "ratio",
        (
            "debt service cover ratio that the bank asks of a median (P50) year; common practice "
            "unless the bank gives another"
        ),
        "1.4",
        default="1.35",
        within="0 to 10",
        shared_with_neighbour=True,
        usual=("0.5 to 4", "banks ask for 1.0 to 1.6"),
    )
    cover_p90: float = key.number(
        "ratio",
        (
            "debt service cover ratio that the bank asks of the ten-year mean exceeded with 90 % "
            "probability; common practice unless the bank gives another"
        ),
        "1.25",
        default="1.2",
        within="0 to 10",
        shared_with_neighbour=True,
        usual=("0.5 to 4", "banks ask for 1.0 to 1.6"),
    )
    cover_p99: float = key.number(
        "ratio",
        (
            "debt service cover ratio that the bank asks of a year exceeded with 99 % "
            "probability; common practice unless the bank gives another"
        ),
        "1.05",
        default="1",
        within="0 to 10",
        shared_with_neighbour=True,
        usual=("0.5 to 4", "banks ask for 1.0 to 1.6"),
    )
    tax_rate: float | None = key.number(
        "share",
        "tax on what the plant earns and saves less what it costs; left out, none",
        '"20 %"',
        shared_with_neighbour=True,
        usual=("0 % to 70 %", "taxes take 10 to 50 %"),
    )
    depreciation_years: float = key.number(
        "count",
        "years over which the capital cost is written off for tax, in equal parts",
        "15",
        default="20",
        within="1 to 100",
        shared_with_neighbour=True,
        usual=("3 to 60", "tax offices write plants off in 10 to 40 years"),
    )
    first_value: float | None = key.number(
        "money/J",
        (
            "value of each of the first useful kWh of a year, where they replace "
            "something dearer; later ones have the value given by value"
        ),
        '"0.60 per kWh"',
        shared_with_neighbour=True,
    )
    first_energy: float | None = key.number(
        "J",
        "useful energy of a year that has the value first_value",
        '"1500 kWh"',
        shared_with_neighbour=True,
        usual=("0 kWh to 2000000 kWh", "it is a part of a small plant's year"),
    )
    replacement: tuple[Replacement, ...] = ()
