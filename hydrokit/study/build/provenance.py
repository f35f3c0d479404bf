"""Where the daily record comes from, and what an answer read from it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..answer import Evidence

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["NOT_MEASURED_SD", "evidence", "record_source", "record_told"]

# Standard deviation of a record that was not measured here, where the site file gives none; common practice.
NOT_MEASURED_SD = {"transferred": 0.15, "extended": 0.15, "modelled": 0.30, "national grid": 0.40}
_EVIDENCE = {"modelled": Evidence.CALCULATED, "national grid": Evidence.CALCULATED}


def evidence(study: Study) -> Evidence:
    """What an answer read from the record rests on."""
    return _EVIDENCE.get(study.site.stream.provenance, Evidence.MEASURED_HERE)


def record_source(study: Study) -> str:
    """The record, as the source of an answer."""
    kind = "extended" if study.extension is not None else study.site.stream.provenance
    return (
        "the record"
        if kind == "measured"
        else f"the record ({kind})"
        if kind == "national grid"
        else f"the {kind} record"
    )


_TOLD = {
    "measured": "measured here",
    "transferred": "transferred from another creek",
    "extended": "extended before it came here",
    "modelled": "from a model of rain and runoff",
    "national grid": "read from a national grid",
}


def record_told(study: Study) -> str:
    """Where the record comes from, and by whom it was made, in a line; empty without one."""
    stream = study.site.stream
    if stream.record is None and stream.stage is None:
        return ""
    by = f", by {stream.measured_by}" if stream.measured_by else ""
    longer = (
        f"; lengthened from the record in {stream.neighbour_record}"
        if stream.neighbour_record
        else ""
    )
    return f"{_TOLD[stream.provenance]}{by}{longer}"
