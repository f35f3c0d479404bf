"""From the site file to circuits, cable prices and the use of a day."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ...columns import read_csv
from ...errors import HydrokitError, InputError, Mistake
from ...files import shown_path
from ...result import Result
from ...site.sheets import filled
from . import losses

if TYPE_CHECKING:
    from ...plant.conductor import Conductor
    from ..study import Study

__all__ = ["CircuitOf", "cable_prices", "circuits", "day_use"]


# --- read from the site file ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class CircuitOf(Result):
    """One circuit of the site file, its conductor looked up.

    Parameters
    ----------
    name, kind, system, material : str
    power_w, voltage_v, power_factor, drop_ratio : float
    length_m : float
        NaN where not given.
    conductor : plant.cable.Conductor or None
    after_cable : bool
        Whether it begins at the far end of the main cable.
    locked_rotor_va : float
        As its site file has it; NaN where not given.
    starter : str
    """

    name: str
    kind: str
    system: str
    _: KW_ONLY
    material: str
    power_w: float
    voltage_v: float
    power_factor: float
    drop_ratio: float
    length_m: float
    conductor: Conductor | None
    after_cable: bool
    locked_rotor_va: float = np.nan
    starter: str = "direct"


def circuits(study: Study) -> tuple[CircuitOf, ...]:
    """The circuits listed in the site file."""
    from ...plant.conductor import conductor

    main, made = study.site.cable, []
    for number, entry in enumerate(study.site.circuit, 1):
        where = f"[[circuit]] {number}"
        voltage = main.voltage if entry.voltage is None else entry.voltage
        system = losses.PHASES[entry.phases or main.phases]
        if voltage is None:
            raise study.folder.wrong(
                where, 'has no voltage, and [cable] has none either; give voltage = "230 V"'
            )
        if system == "dc" and entry.power_factor != 1:
            raise study.folder.wrong(
                where, "is of direct current, which has no power factor; leave power_factor out"
            )
        material = entry.material or main.material
        wire = (
            None
            if entry.size is None
            else study.folder.sentence(where, partial(conductor, entry.size, material))
        )
        made.append(
            CircuitOf(
                entry.name,
                entry.kind,
                system,
                material=material,
                power_w=entry.power,
                voltage_v=voltage,
                power_factor=entry.power_factor,
                drop_ratio=entry.drop,
                length_m=np.nan if entry.length is None else entry.length,
                conductor=wire,
                after_cable=entry.begins == "cable end" and _has_cable(study),
                locked_rotor_va=np.nan if entry.locked_rotor is None else entry.locked_rotor,
                starter=entry.starter,
            )
        )
    return tuple(made)


def _has_cable(study: Study) -> bool:
    return all(study.site.cable.given(key) for key in ("length", "size", "voltage"))


def cable_prices(study: Study) -> dict[str, float] | None:
    """Cables to weigh: size to laid price of a metre; or None."""
    from ...plant.conductor import conductor

    if study.site.costs.cables is None:
        return None
    path = study.folder.file(study.site.costs.cables, "[costs] cables")
    table = read_csv(path, {"size": "text", "price": "money/m"}, notes=study.folder.notes)
    filled(path, table, "price", none_below_zero=("price",))
    material, prices, mistakes = study.site.cable.material, {}, []
    for line, size, price in zip(table["line"], table["size"], table["price"]):
        try:
            prices[conductor(size, material).name] = float(price)
        except HydrokitError as error:
            mistakes.append(Mistake(shown_path(path), f"line {line}", str(error)))
    if mistakes:
        raise InputError(mistakes)
    return prices


def day_use(study: Study) -> np.ndarray | None:
    """Power wanted in each hour of a usual day, in W, midnight first; or None."""
    given = study.site.battery.day_use
    if given is not None and study.site.battery.voltage is None:
        raise study.folder.wrong("[battery]", 'needs its voltage, such as voltage = "48 V"')
    if given is not None and len(given) != 24:
        raise study.folder.wrong(
            "[battery] day_use", f"must have 24 values, one for each hour, got {len(given)}"
        )
    return None if given is None else np.array(given, dtype=float)
