"""Values of wires, loads and costs that have no effect beside another, and losses that hardly any
plant has."""

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


def findings(study: Study) -> tuple[Finding, ...]:
    """What of these sections a reader should look at again."""
    return (*_losses(study.site), *_half_described(study.site), *_unused(study))


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
                    "its slots are compared with theory only where the screen's {all} are "
                    "given; it lacks {lacking}",
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
                        "[[transformer]] {number} {key} is {share} of its rating; {most} and "
                        "less is usual (common practice): check its nameplate",
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
            (
                "an induction generator that stands alone loses its voltage when a motor starts "
                "or a fault draws its current; its capacitors are for a specialist"
            ),
        )
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
                (
                    f"[[room]] {number} ({one_line(room.name)}): {', '.join(lone)} have no effect "
                    "without the area"
                ),
            )


def _has_price(study: Study) -> bool:
    from ...plant.conductor import conductor

    section = study.site.cable
    return conductor(section.size, section.material).name in (study.cable_prices or {})
