"""Values of wires, loads and costs that have no effect beside another, and values that hardly any plant has."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ...errors import Finding, one_line
from ...sentences import Amount, Sentence, series_text
from .part_names import part_name

if TYPE_CHECKING:
    from ...site.schema import Site
    from ..study import Study

__all__ = ["findings"]

# Beside the table of plausible.py, which has the values of the plant: section, key, between which values in SI it
# usually lies, and the kind it is told in. Common practice.
_USUAL: tuple[tuple[str, str, float, float, str], ...] = (
    ("generator", "reactance", 0.05, 0.5, "number"), ("cable", "length", 0.5, 20e3, "length"), ("cable", "voltage", 10.0, 20e3, "voltage"), ("cable", "loss", 0.0, 0.15, "share"),
    ("loads", "heated_ua", 5.0, 3000.0, "heat loss"), ("loads", "inside_temperature", 278.15, 300.15, "temperature"), ("loads", "base_power", 1.0, 1e6, "power"), ("loads", "stove", 0.3, 0.95, "share"),
    ("readings", "power_factor", 0.5, 1.0, "share"), ("battery", "depth", 0.1, 0.95, "share"), ("battery", "efficiency", 0.6, 0.99, "share"),
    ("costs", "yearly", 0.0, 0.15, "share"), ("costs", "discount_rate", 0.0, 0.15, "share"), ("costs", "life", 5.0, 80.0, "years"),
    ("costs", "loan_rate", 0.0, 0.2, "share"), ("costs", "loan_years", 1.0, 50.0, "years"),
    ("circuit", "power_factor", 0.5, 1.0, "share"), ("circuit", "drop", 0.005, 0.1, "share"), ("circuit", "length", 0.0, 2000.0, "length"), ("circuit", "voltage", 10.0, 1000.0, "voltage"),
    ("room", "ua", 1.0, 1000.0, "heat loss"), ("room", "air_changes", 0.1, 5.0, "number"), ("room", "volume", 5.0, 3000.0, "volume"),
    *(("room", f"u_{each}", 0.08, 6.5, "heat transmission") for each in ("walls", "windows", "doors", "roof", "floor")),
    *(("room", each, 0.2, 1000.0, "area") for each in ("walls", "windows", "doors", "roof", "floor")),
    ("loads.night", "hours", 6 * 3600.0, 24 * 3600.0, "hours"), ("costs.replacement", "every", 1.0, 60.0, "years"),
)  # fmt: skip


def findings(study: Study) -> tuple[Finding, ...]:
    """What of these sections a reader should look at again."""
    return (
        *_unusual(study.site),
        *_losses(study.site),
        *_half_described(study.site),
        *_unused(study),
    )


def _unusual(site: Site) -> Iterator[Finding]:
    for section, key, low, high, kind in _USUAL:
        held = site[section]
        for number, entry in enumerate(held if isinstance(held, tuple) else [held], 1):
            if key not in entry:
                continue
            value = getattr(entry[key], "value", entry[key])
            if low <= value <= high:
                continue
            where = f"[[{section}]] {number}" if isinstance(held, tuple) else f"[{section}]"
            yield Finding(
                "caution",
                section,
                Sentence(
                    "{where} {key} is {value}; {usual} is usual (common practice): check that it is meant so",
                    where=where,
                    key=key,
                    value=Amount(value, kind),
                    usual=Amount((low, high), kind),
                ),
            )


_OF_SLOTS = ("width", "gap", "wire", "slope", "length")


def _half_described(site: Site) -> Iterator[Finding]:
    """An inclined screen of whose slots only some things are told."""
    for entry in site.part:
        if entry.kind != "inclined screen":
            continue
        lacking = [key for key in _OF_SLOTS if key not in entry]
        if lacking and any(key in entry for key in _OF_SLOTS[:-1]):
            yield Finding(
                "note",
                part_name(entry),
                Sentence(
                    "its slots are compared with theory only where the screen's {all} are given; it lacks {lacking}",
                    all=series_text(list(_OF_SLOTS)),
                    lacking=series_text(lacking),
                ),
            )


def _losses(site: Site) -> Iterator[Finding]:
    """Losses of transformers and inverter that are more than any has."""
    for number, entry in enumerate(site.transformer, 1):
        for key, most in (("no_load_loss", 0.03), ("full_load_loss", 0.08)):
            if entry[key] > most * entry.rating:
                yield Finding(
                    "caution",
                    "transformer",
                    Sentence(
                        "[[transformer]] {number} {key} is {share} of its rating; {most} and less is usual (common practice): check its nameplate",
                        number=number,
                        key=key,
                        share=Amount(entry[key] / entry.rating, "share", 2),
                        most=Amount(most, "share", 2),
                    ),
                )
    section = site.inverter
    if {"rating", "idle"} <= set(section) and section["idle"] > 0.03 * section["rating"]:
        yield Finding(
            "caution",
            "inverter",
            Sentence(
                "it draws {share} of its rating idle; 3 % and less is usual (common practice)",
                share=Amount(section["idle"] / section["rating"], "share", 2),
            ),
        )


def _unused(study: Study) -> Iterator[Finding]:
    """Keys that have no effect beside others."""
    site = study.site
    cable, costs, battery = site.cable, site.costs, site.battery
    if "loss" in cable and {"size", "length", "voltage"} <= set(cable):
        yield Finding(
            "note", "cable", "[cable] loss has no effect: size, length and voltage give it"
        )
    if "size" in cable and not {"length", "voltage"} <= set(cable):
        yield Finding(
            "note",
            "cable",
            f"[cable] size has no effect without {' and '.join(sorted({'length', 'voltage'} - set(cable)))}",
        )
    if "material" in cable and "size" not in cable and not site.circuit:
        yield Finding("note", "cable", "[cable] material has no effect without a size")
    if site.generator.given("water_to_wire") and site.generator.kind == "induction":
        yield Finding(
            "note",
            "generator",
            "an induction generator that stands alone loses its voltage when a motor starts or a fault draws its current; its capacitors are for a specialist",
        )
    if "loan_rate" in costs and "loan_years" not in costs:
        yield Finding("note", "costs", "[costs] loan_rate has no effect without loan_years")
    if "replaces" in costs and "value" not in costs:
        yield Finding("note", "costs", "[costs] replaces has no effect without a value")
    if "uncertainty" in costs and study.exists:
        yield Finding(
            "note",
            "costs",
            "[costs] uncertainty has no effect: it is for what a plant costs to build, and this one stands",
        )
    priced = None if study.cable_prices is None or "size" not in cable else _has_price(study)
    if "cable" in costs and priced:
        yield Finding(
            "note",
            "costs",
            "[costs] cable has no effect: the list of [costs] cables has the price of the cable's own size",
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
            "charge, depth and efficiency of [battery] have no effect without day_use",
        )
    for number, room in enumerate(site.room, 1):
        beside = [key for key in room if key not in ("name", "ua")]
        if "ua" in room and beside:
            yield Finding(
                "note",
                "house",
                f"[[room]] {number} ({one_line(room.name)}): {', '.join(beside)} have no effect beside ua",
            )
        lone = [key for key in room if key.startswith("u_") and key.removeprefix("u_") not in room]
        if lone and "ua" not in room:
            yield Finding(
                "note",
                "house",
                f"[[room]] {number} ({one_line(room.name)}): {', '.join(lone)} have no effect without the area",
            )


def _has_price(study: Study) -> bool:
    from ...plant.conductor import conductor

    section = study.site.cable
    return conductor(section.size, section.material).name in (study.cable_prices or {})
