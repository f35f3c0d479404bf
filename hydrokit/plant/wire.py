"""The wire and the loads at the end of the chain: power in, power out, and what is lost between."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ..works.solve import require

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["ElectricPart", "Loads", "Wire"]


class ElectricPart(Protocol):
    """Generator, cable, inverter, loads: power in, power out."""

    def output_si(self, input_w: Number) -> Number: ...


@dataclass(frozen=True, eq=False)
class Wire:
    """A cable known by its resistance, at a steady voltage at the generator's end.

    Parameters
    ----------
    resistance_ohm : float
        Out and back for direct current and one phase; of one conductor for three phases.
    voltage_v : float
        At the generator's end (line to line for three phases).
    power_factor : float
    name : str

    Notes
    -----
    The loss is P²R/(V·cosφ)², for one phase and for three alike.
    """

    resistance_ohm: float
    voltage_v: float
    power_factor: float = 1.0
    _: KW_ONLY
    name: str = "cable"

    def __post_init__(self) -> None:
        require(f"Wire '{self.name}'", "zero or more", resistance_ohm=self.resistance_ohm)
        require(
            f"Wire '{self.name}'",
            "above zero",
            voltage_v=self.voltage_v,
            power_factor=self.power_factor,
        )
        require(f"Wire '{self.name}'", "a share from 0 to 1", power_factor=self.power_factor)

    @property
    def _loss_per_square(self) -> float:
        return self.resistance_ohm / (self.voltage_v * self.power_factor) ** 2

    @property
    def rated_w(self) -> float:
        """Most it can ever deliver: half of what goes in is then lost."""
        return np.inf if self.resistance_ohm == 0 else 1 / (4 * self._loss_per_square)

    def output_si(self, input_w: Number) -> Number:
        """Power in W that arrives; never more than :attr:`rated_w`."""
        power = np.asarray(input_w, dtype=float)
        power = (
            power
            if self.resistance_ohm == 0
            else np.minimum(power, 1 / (2 * self._loss_per_square))
        )
        return power - self._loss_per_square * power**2


@dataclass(frozen=True, eq=False)
class Loads:
    """What takes the power at the end: heaters, house, grid, with their ballast.

    Parameters
    ----------
    rated_w : float
        Most they and the ballast can take.
    name : str
    """

    rated_w: float = np.inf
    name: str = "loads"

    def __post_init__(self) -> None:
        require(f"Loads '{self.name}'", "above zero", rated_w=self.rated_w)

    def output_si(self, input_w: Number) -> Number:
        """Power in W that is taken."""
        return np.asarray(input_w, dtype=float)
