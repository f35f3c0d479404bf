"""From the site file to electrical losses between runner and loads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...errors import HydrokitError

if TYPE_CHECKING:
    from ...plant.losses import LossCurve
    from ...plant.wire import ElectricPart
    from ...site.schema import Site
    from ...site.schema_plant import Generator as GeneratorKeys


def generator_of(section: GeneratorKeys, rating_w: float) -> LossCurve:
    """The losses of the generator of a size, as the site file tells it, else as is usual of its kind."""
    from ...plant.generator import generator

    efficiency = section["efficiency"].value if "efficiency" in section else None
    return generator.si(section.kind, rating_w, efficiency, section.constant_loss)


PHASES = {
    "dc": "dc",
    "one": "one-phase",
    "three": "three-phase",
}  # as the site file says it, and as the lower rooms do


def wire(site: Site, power_w: float = 0.0) -> tuple[ElectricPart, ...]:
    """The cable as a part, by its conductor, else by its loss at a full load; nothing where the
    site says neither.

    Raises
    ------
    HydrokitError
        A conductor that cannot bring the power to its end; for 0 W there is none.
    """
    from ...plant.cable import cable
    from ...plant.wire import Wire

    section = site.cable
    if all(key in section for key in ("voltage", "size", "length")):
        system = PHASES[section.phases]
        factor = site.readings.power_factor if system != "dc" else 1.0
        run = cable.si(
            power_w,
            section["voltage"],
            section["length"],
            section["size"],
            system,
            section.material,
            factor,
        )
        return (Wire(run.resistance_ohm, section["voltage"], factor),)
    if section.get("loss") and power_w > 0:
        return (
            Wire(section["loss"] / power_w, 1.0),
        )  # P²R/V² is that share of the full power, whatever the voltage
    return ()


def between(site: Site, at: str) -> tuple[ElectricPart, ...]:
    """Transformers, and at the loads the inverter, that stand at one end of the cable."""
    from ...plant.conversion import inverter, transformer

    made = [
        transformer.si(each["rating"], each["no_load_loss"], each["full_load_loss"])
        for each in site.transformer
        if each["at"] == at
    ]
    if at == "loads" and site.inverter:
        if len(site.inverter) < 3:
            raise HydrokitError("[inverter] needs rating, idle and efficiency together")
        made.append(inverter.si(site.inverter.rating, site.inverter.idle, site.inverter.efficiency))
    return tuple(made)


def after_generator(site: Site, power_w: float = 0.0) -> tuple[ElectricPart, ...]:
    """What the power meets from the generator to the loads."""
    return (*between(site, "powerhouse"), *wire(site, power_w), *between(site, "loads"))
