"""What a study lacks, in words: each with how to get it, in full for a headline and briefly below."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ...sentences import Sentence
from ...tables import load

__all__ = ["BRIEFLY", "LACKING", "OF_PLANT_AND_RECORD", "RESTS_ON", "STAGES_GIVE", "waiting"]

STAGES_GIVE = ("record", "rating", "flow_regime")  # as soon as there is a rating


def waiting(lacking: Sentence) -> Sentence:
    """That stages were read, and what is lacking to turn them into flows."""
    return Sentence(
        "Stages were read, but nothing turns them into flows yet: {lacking}.", lacking=lacking
    )


def _column(title: str) -> Mapping[str, str]:
    """Property of the study to its text, where the table has one."""
    table = load("lacking")
    return MappingProxyType({name: text for name, text in zip(table["name"], table[title]) if text})


LACKING, BRIEFLY = _column("how"), _column("brief")

# What a property rests on: where that did not come about, the reason lies there.
RESTS_ON = {
    "pressures": ("section",),
    "section": ("plant",),
    "full_flow_m3s": ("plant",),
    "line_air": ("plant",),
    "card": ("plant", "pressures"),
    "signatures": ("plant",),
    "jet_plan": ("plant",),
    "wires": ("plant",),
    "warmth": ("plant",),
    "sharing": ("plant",),
    "bracket": ("plant",),
    "upgrades": ("base_case", "plant"),
}


OF_PLANT_AND_RECORD = (
    "year",
    "energy_uncertainty",
    "day_by_day",
    "rules_price",
    "measure_next",
    "base_case",
)
