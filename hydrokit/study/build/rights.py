"""From the site file to the lengthened record, and to what may be taken."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, HydrokitError, counted
from ...sentences import Sentence
from ...site.sheets import Folder
from .provenance import NOT_MEASURED_SD

if TYPE_CHECKING:
    import pandas as pd

    from ...site.schema import Site
    from ...site.schema_creek import Residual
    from ...stream.extend import Extension
    from ...stream.rating_curve import Rating
    from ...stream.record import FilledRecord
    from ...stream.rights import Rights
    from ...stream.rules import Rule
    from ...stream.transfer import TransferError
    from ..study import Study

NEIGHBOUR_GAP_DAYS = 5  # of its record that are filled: a recession lasts longer, common practice
UNGAUGED_SD = 0.2  # of a record nobody held a gauging against; common practice


def extension(folder: Folder, site: Site, own: pd.Series | None) -> Extension | None:
    """The own record extended from the neighbour's, or None."""
    stream = site["stream"]
    if own is None or "neighbour_record" not in stream:
        return None
    from ...stream.extend import area_ratio, extend_record

    filled = neighbour_filled(folder, site)
    neighbour = filled.record
    method, ratio = stream.extension, None
    if method == "area":
        if "catchment" not in site["site"] or "neighbour_catchment" not in stream:
            raise folder.wrong(
                "[stream] extension",
                'by area needs [site] catchment and [stream] neighbour_catchment, such as "38 km^2"',
            )
        ratio = float(area_ratio.si(site["site"]["catchment"], stream["neighbour_catchment"]))
    found = folder.sentence(
        "[stream] neighbour_record", lambda: extend_record(own, neighbour, method, ratio)
    )
    days = int(filled.filled.sum())
    if not days:
        return found
    text = (
        f"{counted(days, 'missing day')} of the neighbour's record filled along the recession "
        f"(gaps up to {NEIGHBOUR_GAP_DAYS} days); a flood in such a gap is not seen"
    )
    return replace(found, findings=(*found.findings, Finding("note", "extension", text)))


def neighbour_filled(folder: Folder, site: Site) -> FilledRecord:
    """The neighbour's record, its short gaps filled: a day that its gauge lost here and there does
    not take its year away."""
    from ...stream.record import fill_gaps, read_record

    path = folder.file(site.stream["neighbour_record"], "[stream] neighbour_record")
    return fill_gaps(read_record(path, folder.notes), NEIGHBOUR_GAP_DAYS)


def record_uncertainty(study: Study) -> float:
    """Relative standard deviation of the record as a whole: one error for all its days."""
    stream = study.site.stream
    given, usual = stream.record_uncertainty, NOT_MEASURED_SD.get(stream.provenance)
    if given is not None:
        if usual is not None and given <= 0 and stream.record is not None:
            raise study.folder.wrong(
                "[stream] record_uncertainty",
                (
                    f"is 0 %, but the record is {stream.provenance}: nobody knows another creek "
                    f'that well; write its standard deviation, such as "{100 * usual:.0f} %", or '
                    "leave the key out for that"
                ),
            )
        return given
    if usual is not None and stream.record is not None:
        return usual
    rating = _deciding_rating(study)
    if rating is not None:
        from ...stream.rating_curve import level_uncertainty

        return level_uncertainty(rating, study.record)
    return UNGAUGED_SD if study.gaugings is None else float(np.median(study.gaugings.uncertainty))


def _deciding_rating(study: Study) -> Rating | None:
    """The rating, where nothing but it says how sure the record is."""
    stream = study.site.stream
    if stream.record_uncertainty is not None or study.record is None:
        return None
    if stream.record is not None and stream.provenance in NOT_MEASURED_SD:
        return None
    return study.rating


def rating_error(study: Study) -> TransferError | None:
    """Error of the rating by flow, where it decides how sure the record is; else None: one standard
    deviation for all."""
    from ...stream.rating_error import rating_error as by_flow

    rating = _deciding_rating(study)
    return None if rating is None else by_flow(rating, study.record)


def rights(folder: Folder, site: Site, record: pd.Series | None) -> Rights:
    """Rules and licence of the site, resolved on the record where there is one."""
    from ...stream import rights as room

    rules = [
        folder.sentence(
            f"[[rights.residual]] {number}",
            partial(_rule, entry, site.site.winter),
        )
        for number, entry in enumerate(site.rights.residual, 1)
    ]
    section = site["rights"]
    rates = section.get("licence")
    licence = None
    if section:
        licence = folder.sentence(
            "[rights]",
            lambda: room.licence.si(
                None if rates is None else np.array(rates),
                section.get("licence_volume"),
                section.get("ramp"),
            ),
        )
    waiting = [rule for rule in rules if rule.needs_record] if record is None else []
    resolved = folder.sentence(
        "[rights]",
        lambda: room.resolve_rights(
            [rule for rule in rules if rule not in waiting], licence, record
        ),
    )
    if record is None and not rules:
        # said once, as the bracket of the year has it
        others = tuple(
            each
            for each in resolved.findings
            if not each.message.startswith("no residual flow is given")
        )
        resolved = replace(
            resolved,
            findings=(
                Finding(
                    "caution",
                    "rights",
                    f"no residual flow is given: {HALF_AT_WORST}; ask the authority for the residual flow",
                ),
                *others,
            ),
        )
    if not waiting:
        return resolved
    told = tuple(
        Finding(
            "caution",
            "rights",
            Sentence(
                "the rule '{rule}' needs statistics of the creek's own flow, from a daily "
                "record; until there is one it sets no residual flow",
                rule=rule.text,
            ),
        )
        for rule in waiting
    )
    return replace(resolved, findings=(*told, *resolved.findings))


HALF_AT_WORST = (
    "without a daily record the high end of a year counts all water as available, which the law "
    "hardly allows, and its low end half of it"
)


def _rule(entry: Residual, winter: tuple[int, ...]) -> Rule:
    from ...stream.rules import RULE_KINDS

    kind = RULE_KINDS[entry["rule"]]
    if kind.key and kind.key not in entry:
        raise HydrokitError(f"the rule '{entry['rule']}' needs '{kind.key}'")
    given = [entry[kind.key]] if kind.key else []
    if entry["rule"] == "tennant":
        # Its low-flow half year is the other one where winter falls in July.
        given.append(4 if 7 in winter and 1 not in winter else 10)
    return kind.make(*given, months=entry.get("months"))


def usable(study: Study) -> pd.Series | None:
    """Daily flow that may be taken, or None."""
    return None if study.record is None else study.rights.usable_series(study.record)
