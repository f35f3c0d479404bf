"""Values of wires, loads and costs that count for nothing beside another, and values that hardly any plant has."""

from __future__ import annotations

from typing import Any, Iterator

from ...errors import Finding, one_line
from ...sentences import plain_number

__all__ = ["findings"]

# Beside the table of plausible.py, which has the values of the plant: section, key, from, to, factor and unit it is told in: what lies outside is hardly ever so. Common practice.
_USUAL: tuple[tuple[str, str, float, float, float, str], ...] = (
    ("generator", "reactance", 0.05, 0.5, 1, ""), ("cable", "length", 0.5, 20e3, 1, "m"), ("cable", "voltage", 10.0, 20e3, 1, "V"), ("cable", "loss", 0.0, 0.15, 100, "%"),
    ("loads", "heated_ua", 5.0, 3000.0, 1, "W/K"), ("loads", "inside_temperature", 278.15, 300.15, 1, "K"), ("loads", "base_power", 1.0, 1e6, 1, "W"), ("loads", "stove", 0.3, 0.95, 100, "%"),
    ("readings", "power_factor", 0.5, 1.0, 100, "%"), ("battery", "depth", 0.1, 0.95, 100, "%"), ("battery", "efficiency", 0.6, 0.99, 100, "%"),
    ("costs", "yearly", 0.0, 0.15, 100, "%"), ("costs", "discount_rate", 0.0, 0.15, 100, "%"), ("costs", "life", 5.0, 80.0, 1, "years"),
    ("costs", "loan_rate", 0.0, 0.2, 100, "%"), ("costs", "loan_years", 1.0, 50.0, 1, "years"),
    ("circuit", "power_factor", 0.5, 1.0, 100, "%"), ("circuit", "drop", 0.005, 0.1, 100, "%"), ("circuit", "length", 0.0, 2000.0, 1, "m"), ("circuit", "voltage", 10.0, 1000.0, 1, "V"),
    ("room", "ua", 1.0, 1000.0, 1, "W/K"), ("room", "air_changes", 0.1, 5.0, 1, "an hour"), ("room", "volume", 5.0, 3000.0, 1, "m³"),
    *(("room", f"u_{each}", 0.08, 6.5, 1, "W/m²/K") for each in ("walls", "windows", "doors", "roof", "floor")),
    *(("room", each, 0.2, 1000.0, 1, "m²") for each in ("walls", "windows", "doors", "roof", "floor")),
    ("loads.night", "hours", 6 * 3600.0, 24 * 3600.0, 1 / 3600, "h"), ("costs.replacement", "every", 1.0, 60.0, 1, "years"),
)  # fmt: skip


def findings(study: Any) -> tuple[Finding, ...]:
    """What of these sections a reader should look at again."""
    return (*_unusual(study.site), *_losses(study.site), *_unused(study))


def _unusual(site: dict) -> Iterator[Finding]:
    for section, key, low, high, factor, unit in _USUAL:
        held = site[section]
        for number, entry in enumerate(held if isinstance(held, list) else [held], 1):
            if key not in entry:
                continue
            value = getattr(entry[key], "value", entry[key])
            if low <= value <= high:
                continue
            where = (
                f"[[{section}]] {number} {key}" if isinstance(held, list) else f"[{section}] {key}"
            )
            shift = -273.15 if unit == "K" else 0.0
            shown, lower, upper = (
                plain_number(factor * each + shift) for each in (value, low, high)
            )
            name = " " + unit.replace("K", "°C") if unit == "K" else f" {unit}" if unit else ""
            yield Finding(
                "caution",
                section,
                f"{where} is {shown}{name}; {lower} to {upper}{name} is usual (common practice): look whether it was meant so",
            )


def _losses(site: dict) -> Iterator[Finding]:
    """Losses of transformers and inverter that are more than any has."""
    for number, entry in enumerate(site["transformer"], 1):
        for key, most in (("no_load_loss", 0.03), ("full_load_loss", 0.08)):
            if entry[key] > most * entry["rating"]:
                yield Finding(
                    "caution",
                    "transformer",
                    f"[[transformer]] {number} {key} is {100 * entry[key] / entry['rating']:.0f} % of its rating; {100 * most:.0f} % and less is usual (common practice): look at its plate",
                )
    section = site["inverter"]
    if {"rating", "idle"} <= set(section) and section["idle"] > 0.03 * section["rating"]:
        yield Finding(
            "caution",
            "inverter",
            f"it draws {100 * section['idle'] / section['rating']:.1f} % of its rating idle; 3 % and less is usual (common practice)",
        )


def _unused(study: Any) -> Iterator[Finding]:
    """Keys that count for nothing beside others."""
    site = study.site
    cable, costs, battery = site["cable"], site["costs"], site["battery"]
    if "loss" in cable and {"size", "length", "voltage"} <= set(cable):
        yield Finding(
            "note", "cable", "[cable] loss counts for nothing: size, length and voltage give it"
        )
    if "size" in cable and not {"length", "voltage"} <= set(cable):
        yield Finding(
            "note",
            "cable",
            f"[cable] size counts for nothing without {' and '.join(sorted({'length', 'voltage'} - set(cable)))}",
        )
    if "material" in cable and "size" not in cable and not site["circuit"]:
        yield Finding("note", "cable", "[cable] material counts for nothing without a size")
    if (
        "water_to_wire" in site["generator"]
        and "kind" in site["generator"]
        and site["generator"]["kind"] == "induction"
    ):
        yield Finding(
            "note",
            "generator",
            "an induction generator that stands alone loses its voltage when a motor starts or a fault draws its current; its capacitors are for a specialist",
        )
    if "loan_rate" in costs and "loan_years" not in costs:
        yield Finding("note", "costs", "[costs] loan_rate counts for nothing without loan_years")
    if "replaces" in costs and "value" not in costs:
        yield Finding("note", "costs", "[costs] replaces counts for nothing without a value")
    if "uncertainty" in costs and study.exists:
        yield Finding(
            "note",
            "costs",
            "[costs] uncertainty counts for nothing: it is for what a plant costs to build, and this one stands",
        )
    priced = None if study.cable_prices is None or "size" not in cable else _has_price(study)
    if "cable" in costs and priced:
        yield Finding(
            "note",
            "costs",
            "[costs] cable counts for nothing: the list of [costs] cables has the price of the cable's own size",
        )
    if priced is False:
        yield Finding(
            "note",
            "costs",
            "the list of [costs] cables has no price for the cable's own size"
            + ("; [costs] cable is used" if "cable" in costs else ", so the capital cost lacks it"),
        )
    if battery and "day_use" not in battery and {"charge", "depth", "efficiency"} & set(battery):
        yield Finding(
            "note",
            "battery",
            "charge, depth and efficiency of [battery] count for nothing without day_use",
        )
    for number, room in enumerate(site["room"], 1):
        beside = [key for key in room if key not in ("name", "ua")]
        if "ua" in room and beside:
            yield Finding(
                "note",
                "house",
                f"[[room]] {number} ({one_line(room['name'])}): {', '.join(beside)} count for nothing beside ua",
            )
        lone = [key for key in room if key.startswith("u_") and key.removeprefix("u_") not in room]
        if lone and "ua" not in room:
            yield Finding(
                "note",
                "house",
                f"[[room]] {number} ({one_line(room['name'])}): {', '.join(lone)} count for nothing without the area",
            )


def _has_price(study: Any) -> bool:
    from ...plant.conductor import conductor

    section = study.site["cable"]
    return conductor(section["size"], section.get("material", "copper")).name in study.cable_prices
