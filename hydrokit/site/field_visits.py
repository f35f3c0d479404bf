"""What field sheets come to, visit by visit: a sheet that says its day is a gauging like any in the list."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import Finding, InputError, Mistake, counted, sure
from ..files import shown_path
from ..sentences import Amount, Sentence, series_text
from .field_sheets import KINDS, SheetKind, read_sheet
from .sheets import FieldGaugings, day_to_come
from .sheets import gaugings as listed_gaugings

if TYPE_CHECKING:
    import pandas as pd

    from ..stream.gauging import Gauging
    from .opened import Opened

__all__ = ["Visit", "field_sheets", "findings", "gaugings", "last", "line_of", "visits_gauged"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Visit:
    """One visit to the creek with one way to gauge it.

    Parameters
    ----------
    kind : str
        What it was gauged with: "bucket", "float", …
    day : datetime64, or None
        None where the sheet says no day.
    stage_m : float
        Mean of what the sheet says; NaN where it says none.
    ice : bool
    path : Path
        Of the sheet.
    rows : DataFrame
        What was read.
    gauging : Gauging
        What it comes to.
    """

    kind: str
    day: np.datetime64 | None
    stage_m: float
    ice: bool
    path: Path
    rows: pd.DataFrame
    gauging: Gauging

    @property
    def on(self) -> date | None:
        """The day."""
        return None if self.day is None else self.day.astype("datetime64[D]").item()


def visits_gauged(study: Opened) -> tuple[Visit, ...]:
    """Every visit of every field sheet that the site file names, sheet by sheet, in the order of
    their days."""
    return tuple(
        visit
        for name, kind in KINDS.items()
        if kind.key in study.site.stream
        for visit in _visits(study, name, kind)
    )


def _visits(study: Opened, name: str, kind: SheetKind) -> Iterator[Visit]:
    where = f"[stream] {kind.key}"
    path, table = study.folder.sentence(
        where, lambda: read_sheet(study.folder, study.site.stream, kind.key)
    )
    for day, rows in _by_day(path, table, kind):
        yield Visit(
            kind=name,
            day=day,
            stage_m=float(rows["stage"].mean()) if "stage" in rows else np.nan,
            ice="ice" in rows and bool(rows["ice"].eq(True).any()),
            path=path,
            rows=rows,
            gauging=study.folder.sentence(
                where, partial(kind.make, study.folder, study.site, path, rows)
            ),
        )


def _by_day(path: Path, table: Any, kind: SheetKind) -> list[tuple[np.datetime64 | None, Any]]:
    """The rows of each day; a day written once stands for the rows below it too."""
    if "date" not in table or not table["date"].notna().any():
        return [(None, table)]
    days = table["date"].ffill().bfill()
    found = [
        (day.to_datetime64(), rows.reset_index(drop=True)) for day, rows in table.groupby(days)
    ]
    if kind.one_visit and len(found) > 1:
        line = int(found[1][1]["line"].iloc[0])
        raise InputError(
            Mistake(
                shown_path(path),
                f"line {line}",
                (
                    "a second day begins here, and mass and background of the salt are given "
                    "once; keep the visit that counts, and write the others into gaugings.csv"
                ),
            )
        )
    return found


def field_sheets(study: Opened) -> dict[str, Gauging]:
    """What each sheet comes to: its kind to a Gauging; with the day behind the kind where a sheet
    holds several visits."""
    kinds = [each.kind for each in study.visits_gauged]
    return {
        each.kind if kinds.count(each.kind) == 1 else f"{each.kind} of {each.on}": each.gauging
        for each in study.visits_gauged
    }


def last(study: Opened, kind: str) -> Gauging | None:
    """The gauging of the last visit of a kind, or None."""
    return next((each.gauging for each in reversed(study.visits_gauged) if each.kind == kind), None)


# --- sheets beside the list of gaugings -----------------------------------------------------

_ROUNDED = 0.02  # a sheet's flow as it was rounded into the list of gaugings
_SD = 2.0  # by so many standard deviations two gaugings of one visit may lie apart
_METHODS = {"weir": ("weir", "v-notch", "notch", "weir plate")}  # else the kind's own name


def _is_gauging(visit: Visit) -> bool:
    return KINDS[visit.kind].a_gauging


def line_of(listed: FieldGaugings | None, visit: Visit) -> int | None:
    """Which line of the list is this visit's own, None where none is: the same day, and one flow or
    one method.

    A sheet without a day is looked for by its flow alone.
    """
    if listed is None:
        return None
    flow, sd = visit.gauging.flow_m3s, visit.gauging.uncertainty
    if visit.day is None:
        same = np.abs(listed.flow_m3s / flow - 1) < _ROUNDED
    else:
        day = np.asarray(listed.date, dtype="datetime64[D]") == visit.day.astype("datetime64[D]")
        one_method = np.isin(listed.method, _METHODS.get(visit.kind, (visit.kind,)))
        same = day & (one_method | _agree(listed, flow, sd))
    found = np.flatnonzero(same)
    return int(found[0]) if len(found) else None


def _agree(listed: FieldGaugings, flow_m3s: float, sd: float) -> Any:
    return np.abs(np.log(listed.flow_m3s / flow_m3s)) < _SD * np.hypot(listed.uncertainty, sd)


def gaugings(study: Opened) -> FieldGaugings | None:
    """The gaugings of the site's list, and the visits of field sheets with a day that no line of it
    says; or None.

    A stage that only the sheet of a listed gauging has goes to its line.
    """
    listed = listed_gaugings(study.folder, study.site.stream)
    dated = [each for each in study.visits_gauged if each.day is not None and _is_gauging(each)]
    lines = [line_of(listed, each) for each in dated]
    more = sorted(
        (each for each, line in zip(dated, lines) if line is None), key=lambda each: sure(each.day)
    )
    if listed is not None:
        stage = listed.stage_m.copy()
        for each, line in zip(dated, lines):
            if line is not None and np.isnan(stage[line]):
                stage[line] = each.stage_m
    if not more:
        return None if listed is None else replace(listed, stage_m=stage)
    added = FieldGaugings(
        np.array([each.day for each in more], dtype="datetime64[ns]"),
        np.array([each.stage_m for each in more]),
        np.array([each.gauging.flow_m3s for each in more]),
        uncertainty=np.array([each.gauging.uncertainty for each in more]),
        method=tuple(each.kind for each in more),
        ice=np.array([each.ice for each in more]),
    )
    if listed is None:
        return added
    return FieldGaugings(
        date=np.concatenate([listed.date, added.date]),
        stage_m=np.concatenate([stage, added.stage_m]),
        flow_m3s=np.concatenate([listed.flow_m3s, added.flow_m3s]),
        uncertainty=np.concatenate([listed.uncertainty, added.uncertainty]),
        method=listed.method + added.method,
        ice=np.concatenate([listed.ice, added.ice]),
        findings=listed.findings,
    )


# --- what a check tells of them -------------------------------------------------------------


def findings(study: Opened) -> tuple[Finding, ...]:
    """Which sheets count as gaugings, which want a day, and which say otherwise than their line of
    the list."""
    listed = listed_gaugings(study.folder, study.site.stream)
    found: list[Finding] = []
    counting: dict[str, list[Visit]] = {}
    for visit in study.visits_gauged:
        if not _is_gauging(visit):
            continue
        line = line_of(listed, visit)
        if listed is not None and line is not None:
            found += _apart(listed, line, visit)
        elif visit.day is None:
            found.append(_asks_for_its_day(visit))
        else:
            counting.setdefault(visit.kind, []).append(visit)
            if day_to_come(visit.day):
                found.append(
                    Finding(
                        "problem",
                        visit.path.name,
                        f"has a date in the future, {visit.on}; check its year",
                    )
                )
    return (*(_counts(visits) for visits in counting.values()), *found)


def _counts(visits: list[Visit]) -> Finding:
    staged = sum(bool(np.isfinite(each.stage_m)) for each in visits)
    rating = (
        "a stage beside it would make it serve the rating too"
        if staged == 0
        else "with its stage it serves the rating too"
        if len(visits) == 1
        else f"{staged} of them have a stage and serve the rating too"
    )
    return Finding(
        "note",
        visits[0].path.name,
        Sentence(
            "counts as {gaugings}: {told}; {rating}",
            gaugings=counted(len(visits), "gauging"),
            told=series_text([str(each.on) for each in visits]),
            rating=rating,
        )
        if len(visits) > 1
        else Sentence(
            "counts as a gauging of {flow} ± {sd} on {day}; {rating}",
            flow=Amount(visits[0].gauging.flow_m3s, "flow"),
            sd=Amount(visits[0].gauging.uncertainty, "share", 2),
            day=str(visits[0].on),
            rating=rating,
        ),
    )


def _asks_for_its_day(visit: Visit) -> Finding:
    return Finding(
        "caution",
        visit.path.name,
        Sentence(
            "its flow of {flow} is not used yet, because the sheet gives no date: add a column "
            "date, such as 2026-06-01 in its first row, and stage [m] where one was read",
            flow=Amount(visit.gauging.flow_m3s, "flow"),
        ),
    )


def _apart(listed: FieldGaugings, line: int, visit: Visit) -> list[Finding]:
    """That list and sheet tell two flows of one visit."""
    flow, sd = visit.gauging.flow_m3s, visit.gauging.uncertainty
    if visit.day is None or bool(_agree(listed, flow, sd)[line]):
        return []
    return [
        Finding(
            "caution",
            visit.path.name,
            Sentence(
                "comes to {flow} on {day}, where the list of gaugings says {other} by the "
                "same method; the list is used: find out which is right",
                flow=Amount(flow, "flow"),
                day=str(visit.on),
                other=Amount(float(listed.flow_m3s[line]), "flow"),
            ),
        )
    ]
