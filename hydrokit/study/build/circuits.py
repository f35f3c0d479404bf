"""From the site file to circuits, cable prices and the use of a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...columns import read_csv
from ...errors import HydrokitError, InputError, Mistake
from ...files import shown_path
from ...site.sheets import filled
from . import losses

__all__ = ["CircuitOf", "cable_prices", "circuits", "day_use"]

USUAL_DROP = 0.03  # of the voltage on one run, common practice


# --- read from the site file ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class CircuitOf:
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
    """

    name: str
    kind: str
    system: str
    material: str
    power_w: float
    voltage_v: float
    power_factor: float
    drop_ratio: float
    length_m: float
    conductor: Any
    after_cable: bool


def circuits(study: Any) -> tuple[CircuitOf, ...]:
    """The circuits listed in the site file."""
    from ...plant.conductor import conductor

    main, made = study.site["cable"], []
    for number, entry in enumerate(study.site["circuit"], 1):
        where = f"[[circuit]] {number}"
        voltage, system = (
            entry.get("voltage", main.get("voltage")),
            losses.PHASES[entry.get("phases", main.get("phases", "one"))],
        )
        if voltage is None:
            raise study.folder.wrong(
                where, 'has no voltage, and [cable] has none either; give voltage = "230 V"'
            )
        if system == "dc" and entry.get("power_factor", 1.0) != 1:
            raise study.folder.wrong(
                where, "is of direct current, which has no power factor; leave power_factor out"
            )
        material = entry.get("material", main.get("material", "copper"))
        wire = (
            None
            if "size" not in entry
            else study.folder.sentence(
                where, lambda entry=entry, material=material: conductor(entry["size"], material)
            )
        )
        made.append(
            CircuitOf(
                entry["name"],
                entry.get("kind", "other"),
                system,
                material,
                entry["power"],
                voltage,
                entry.get("power_factor", 1.0),
                entry.get("drop", USUAL_DROP),
                entry.get("length", np.nan),
                wire,
                entry.get("begins", "cable end") == "cable end" and _has_cable(study),
            )
        )
    return tuple(made)


def _has_cable(study: Any) -> bool:
    return all(key in study.site["cable"] for key in ("length", "size", "voltage"))


def cable_prices(study: Any) -> dict[str, float] | None:
    """Cables to weigh: size to laid price of a metre; or None."""
    from ...plant.conductor import conductor

    if "cables" not in study.site["costs"]:
        return None
    path = study.folder.file(study.site["costs"]["cables"], "[costs] cables")
    table = read_csv(path, {"size": "text", "price": "money/m"})
    filled(path, table, "price", none_below_zero=("price",))
    material, prices, mistakes = study.site["cable"].get("material", "copper"), {}, []
    for line, size, price in zip(table["line"], table["size"], table["price"]):
        try:
            prices[conductor(size, material).name] = float(price)
        except HydrokitError as error:
            mistakes.append(Mistake(shown_path(path), f"line {line}", str(error)))
    if mistakes:
        raise InputError(mistakes)
    return prices


def day_use(study: Any) -> np.ndarray | None:
    """Power wanted in each hour of a usual day, in W, midnight first; or None."""
    given = study.site["battery"].get("day_use")
    if given is not None and "voltage" not in study.site["battery"]:
        raise study.folder.wrong("[battery]", 'needs its voltage, such as voltage = "48 V"')
    if given is not None and len(given) != 24:
        raise study.folder.wrong(
            "[battery] day_use", f"must have 24 values, one for each hour, got {len(given)}"
        )
    return None if given is None else np.array(given, dtype=float)
