"""[[permit]]: what must be granted before anything is built, and how far that is."""

import datetime
from typing import Literal

from . import keys as key
from .section import Section

__all__ = ["Permit"]


class Permit(Section):
    """[[permit]]: a permit, a right or a contract that the plant needs."""

    subject: Literal[
        "abstraction of water",
        "residual flow",
        "fish passage and screens",
        "dam or weir",
        "land and way",
        "building",
        "electrical",
        "grid connection",
        "other",
    ] = key.choice("what it allows", example='"abstraction of water"', required=True)
    status: Literal["granted", "applied for", "not yet asked", "not needed", "refused"] = (
        key.choice("how far the application is", example='"applied for"', required=True)
    )
    of: str | None = key.text("who grants it", '"the river board"')
    date: datetime.date | None = key.day("day on which it was granted or applied for", "2026-03-14")
    until: datetime.date | None = key.day("day on which it ends", "2046-03-14")
    note: str | None = key.text("its number and its conditions", '"WR 114, 12 L/s from May"')
