"""From gaugings to the rating of the creek."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["rating"]


def rating(study: Any) -> Any:
    """Rating through the gaugings that have a stage; None where they are too few to make one.

    Of two segments where the site file says so, or where it leaves that open and the gaugings bend.
    """
    folder, stream, gauged = study.folder, study.site["stream"], study.gaugings
    if gauged is None:
        return None
    from ...stream.rating import FREE_GAUGINGS, TWO_SEGMENT_GAUGINGS, fit_rating

    staged = np.isfinite(gauged.stage_m)
    used = int((staged & ~gauged.ice).sum())
    if used < 2 or (used < FREE_GAUGINGS and "cease_to_flow" not in stream):
        return None
    few = (
        len(np.unique(gauged.stage_m[staged & ~gauged.ice])) < FREE_GAUGINGS
    )  # as fit_rating counts them

    def fitted(segments: int) -> Any:
        return fit_rating.si(
            gauged.stage_m[staged],
            gauged.flow_m3s[staged],
            gauged.uncertainty[staged],
            cease_to_flow=stream.get("cease_to_flow"),
            control=stream.get("control") if few else None,
            segments=segments,
            ice=gauged.ice[staged],
            dates=gauged.date[staged],
        )

    wanted = stream.get("pieces")
    if wanted == 2 and (used < TWO_SEGMENT_GAUGINGS or few):
        raise folder.wrong(
            "[stream] pieces",
            f"two curves need {TWO_SEGMENT_GAUGINGS} gaugings without ice or more, at five stages or more; there are {used}; leave segments out",
        )
    found = folder.sentence("[stream] gaugings", lambda: fitted(int(wanted or 1)))
    return (
        folder.sentence("[stream] pieces", lambda: fitted(2))
        if wanted is None and found.bends
        else found
    )
