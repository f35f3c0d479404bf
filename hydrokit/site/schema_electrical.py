"""[electrical] and [[safeguard]]: what the plant is connected to, its earth, and how far what
protects people is."""

import datetime
from typing import Literal

from . import keys as key
from .section import Section

__all__ = ["Electrical", "Safeguard"]


class Electrical(Section, page="06_using_it"):
    """[electrical]: what the plant is connected to, and its earth."""

    supply: Literal["island", "grid"] | None = key.choice(
        "whether the plant feeds its own loads alone or runs on a grid; left out, a grid "
        "where [costs] export gives a price",
        example='"island"',
    )
    fault_level: float | None = key.number(
        "W",
        "short-circuit power of the grid where the plant is connected, from its operator",
        '"1.2 MVA"',
        within="1 kW to 100000000 kW",
        usual=("20 kW to 1000000 kW", "a farm at the end of a line has some hundred kVA"),
    )
    earthing: Literal["tn-s", "tn-c-s", "tt", "it"] | None = key.choice(
        "system of earthing, as the electrician chose it", example='"tn-s"'
    )
    electrode: float | None = key.number(
        "ohm",
        "measured resistance of the earth electrode",
        '"25 ohm"',
        within="0.01 ohm to 100000 ohm",
        usual=("0.5 ohm to 2000 ohm", "a rod in soil has some ten to some hundred ohms"),
    )
    residual_current: float | None = key.number(
        "A",
        "rated residual current of the device that protects people",
        '"30 mA"',
        within="1 mA to 30 A",
        usual=("5 mA to 3 A", "people are protected by 10 to 30 mA, circuits by 100 mA to 1 A"),
    )


class Safeguard(Section):
    """[[safeguard]]: one point of the electrician's list, and how far it is."""

    subject: Literal[
        "isolation",
        "earthing",
        "overcurrent protection",
        "loss of load",
        "anti-islanding",
        "emergency stop",
        "guards",
        "hot water and heaters",
        "surge and lightning",
        "motor start",
        "battery",
    ] = key.choice("point of the electrician's list", example='"emergency stop"', required=True)
    status: Literal["in place", "planned", "open", "not needed"] = key.choice(
        "how far the work on it is", example='"planned"', required=True
    )
    of: str | None = key.text("who did it, or will do it", '"the electrician"')
    date: datetime.date | None = key.day("day on which it was done or tested", "2026-03-14")
    note: str | None = key.text("how it is done", '"mushroom button by the door, shuts the valve"')
