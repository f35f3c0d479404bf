"""Which parts of the way clog with leaves and ice."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...works.open_channel import OpenChannel
    from ...works.rated import Rated

__all__ = ["catches"]


def catches(part: OpenChannel | Rated) -> bool:
    """Whether leaves and ice settle on a part: a rated intake or a screen, not a line or open ground."""
    from ...works import screen_parts
    from ...works.rated import as_built

    part = as_built(part)
    return part.name == "intake" or isinstance(
        part,
        (
            screen_parts.Screen,
            screen_parts.DrilledPipe,
            screen_parts.BarRack,
            screen_parts.BottomRack,
            screen_parts.InclinedScreen,
        ),
    )
