"""The logger believed or not: its tests, the staff gauge against it, and what the site file says of both."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ...errors import Finding, counted, one_line
from ...sentences import Amount, Sentence, joined
from ...stream.days import days_of
from ...stream.staff import Shift, StaffCheck, shifted, staff_against_logger
from ...stream.suspects import ClockJump, Suspect, clock_jumps, suspect_stages

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Gap", "TestedStages", "tested_stages"]

_WHERE = "stage"
_MOST_TOLD = 3  # of one kind, in a finding; the page lists them all
_LONG_GAP_DAYS = 1.0  # a gap that is to be explained


@dataclass(frozen=True)
class Gap:
    """A stretch without stages, and why; empty where nobody says."""

    first: pd.Timestamp
    last: pd.Timestamp
    why: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class TestedStages:
    """The stages as they were logged, and what is believed of them.

    Parameters
    ----------
    raw : pandas.Series
        As the file has them.
    stage : pandas.Series
        With the shifts of the site file added, and without what is left out.
    left_out : ndarray of bool
        Which readings are left out: by the site file, or because no creek makes them.
    suspects : tuple of Suspect
        What the tests named, whether left out or used.
    gaps : tuple of Gap
        Of more than a day.
    applied : tuple of (pandas.Timestamp, float)
        Shifts of the site file: from when, by how many metres.
    staff : StaffCheck or None
        Staff readings beside the logger, the shifts added.
    shifts : tuple of Shift
        Where staff and logger still differ.
    jumps : tuple of ClockJump
    findings : tuple of Finding
    """

    raw: pd.Series
    stage: pd.Series
    left_out: np.ndarray
    suspects: tuple[Suspect, ...]
    gaps: tuple[Gap, ...]
    applied: tuple[tuple[pd.Timestamp, float], ...]
    staff: StaffCheck | None
    shifts: tuple[Shift, ...]
    jumps: tuple[ClockJump, ...]
    findings: tuple[Finding, ...]

    @property
    def to_mend(self) -> tuple[Shift, ...]:
        """Shifts that must be written into the site file; a single odd reading is none."""
        return tuple(each for each in self.shifts if not each.alone)

    @property
    def off_the_staff(self) -> tuple[int, ...]:
        """Positions of the staff readings that lie behind such a shift."""
        if self.staff is None or not self.to_mend:
            return ()
        first = min(each.first for each in self.to_mend).normalize().to_datetime64()
        return tuple(int(each) for each in np.flatnonzero(self.staff.date >= first))


def tested_stages(study: Study, raw: pd.Series, iced: np.ndarray, daily: bool) -> TestedStages:
    """The logger's stages, tested; `iced` marks those under ice, which stand still and are no stages."""
    stream = study.site.stream
    stage = raw.astype(float)
    for shift in stream.shift:
        stage = stage.where(stage.index < _first(shift.from_), stage + shift.by)
    left_out = np.zeros(len(stage), dtype=bool)
    for period in stream.leave_out:
        left_out |= _inside(stage.index, period.from_, period.to)
    left_out &= stage.notna().to_numpy()
    staff, gauged = None, study.gaugings
    shifts: tuple[Shift, ...] = ()
    suspects = suspect_stages(stage[~iced & ~left_out], daily)
    excluded = stream.suspect_stages == "excluded"
    failed = np.zeros(len(stage), dtype=bool)
    for suspect in suspects:
        if suspect.failed:
            failed |= np.asarray((stage.index >= suspect.first) & (stage.index <= suspect.last))
    failed &= stage.notna().to_numpy() & ~iced & ~left_out
    believed = stage.where(~left_out & ~failed)
    if gauged is not None and np.isfinite(gauged.stage_m).any():
        staff = staff_against_logger(gauged.date, gauged.stage_m, believed, daily)
        shifts = shifted(staff, believed)
    # A step that the staff gauge has sized already is told once.
    explained = [each.first for each in shifts if each.seen]
    suspects = tuple(
        each for each in suspects if each.kind != "step" or each.first not in explained
    )
    gaps = _gaps(study, stage, daily)
    jumps = () if daily else clock_jumps(pd.DatetimeIndex(raw.index))
    return TestedStages(
        raw=raw,
        stage=stage.where(~left_out & ~(failed & excluded)),
        left_out=left_out | (failed & excluded),
        suspects=suspects,
        gaps=gaps,
        applied=tuple((_first(each.from_), each.by) for each in stream.shift),
        staff=staff,
        shifts=shifts,
        jumps=jumps,
        findings=(
            *_of_the_site_file(study, raw),
            *_of_shifts(shifts),
            *_of_suspects(suspects, excluded),
            *_of_gaps(gaps),
            *_of_clock(jumps),
        ),
    )


# --- times of the site file -----------------------------------------------------------------


def _first(when: date) -> pd.Timestamp:
    return pd.Timestamp(when)


def _last(when: date) -> pd.Timestamp:
    """The end of a day, where no time of day is given."""
    end = pd.Timestamp(when)
    return end if isinstance(when, datetime) else end + pd.Timedelta("1D") - pd.Timedelta("1us")


def _inside(times: pd.Index, first: date, last: date) -> np.ndarray:
    return np.asarray((times >= _first(first)) & (times <= _last(last)))


def _gaps(study: Study, stage: pd.Series, daily: bool) -> tuple[Gap, ...]:
    """Gaps of more than a day, each with the reason that the site file gives."""
    known = days_of(stage.dropna())
    if len(known) < 2:
        return ()
    apart = np.diff(known.to_numpy()).astype("timedelta64[s]").astype(float) / 86400
    usual = max(float(np.median(apart)), 1.0 if daily else 0.0)
    found = []
    for at in np.flatnonzero(apart > max(_LONG_GAP_DAYS, 1.5 * usual)).tolist():
        first, last = known[at], known[at + 1]
        reasons = [
            one_line(each.why)
            for each in study.site.stream.gap
            if _first(each.from_) <= last and _last(each.to) >= first
        ]
        found.append(Gap(first, last, "; ".join(reasons)))
    return tuple(found)


def _moment(when: pd.Timestamp) -> str:
    """``2024-03-14``, or with its time of day where it has one."""
    return f"{when:%Y-%m-%d}" if when == when.normalize() else f"{when:%Y-%m-%d %H:%M}"


def _written(when: pd.Timestamp) -> str:
    """The same as it stands in a site file."""
    return f"{when:%Y-%m-%d}" if when == when.normalize() else f"{when:%Y-%m-%d %H:%M:%S}"


def _period(first: pd.Timestamp, last: pd.Timestamp) -> str:
    return _moment(first) if first == last else f"{_moment(first)} to {_moment(last)}"


# --- what is told ---------------------------------------------------------------------------


def _of_the_site_file(study: Study, raw: pd.Series) -> Iterator[Finding]:
    """What the lists of the site file do to the record, and those that do nothing."""
    stream, known = study.site.stream, raw.dropna().index
    for number, shift in enumerate(stream.shift, 1):
        later = int((known >= _first(shift.from_)).sum())
        if later:
            yield Finding(
                "note",
                _WHERE,
                Sentence(
                    "{by} is added to the stages from {when} on ([[stream.shift]]: {why})",
                    by=Amount(shift.by, "small length"),
                    when=_moment(_first(shift.from_)),
                    why=one_line(shift.why),
                ),
            )
        else:
            yield _idle("shift", number, "no stage lies after it")
    for number, entry in enumerate(stream.leave_out, 1):
        out = int(_inside(known, entry.from_, entry.to).sum())
        if out:
            period = _period(_first(entry.from_), _last(entry.to).floor("min"))
            text = (
                f"{counted(out, 'stage')} of {period} left out ([[stream.leave_out]]: "
                f"{one_line(entry.why)})"
            )
            yield Finding("note", _WHERE, text)
        else:
            yield _idle("leave_out", number, "no stage lies within it")
    for number, gap in enumerate(stream.gap, 1):
        held = int(_inside(known, gap.from_, gap.to).sum())
        if held:
            text = (
                f"[[stream.gap]] {number} holds {counted(held, 'stage')}, which are used; write "
                "[[stream.leave_out]] where they are not to be believed"
            )
            yield Finding("caution", _WHERE, text)


def _idle(name: str, number: int, why: str) -> Finding:
    return Finding("caution", _WHERE, f"[[stream.{name}]] {number} changes nothing: {why}")


def _of_shifts(shifts: tuple[Shift, ...]) -> Iterator[Finding]:
    for each in shifts:
        size = Amount(abs(each.by_m), "small length")
        if each.alone:
            yield Finding(
                "caution",
                _WHERE,
                Sentence(
                    "the staff reading of {day} lies {size} {way} the logger, while the "
                    "others agree with it: look at the sheet whether it was misread, and read "
                    "the staff gauge again",
                    day=_moment(each.before),
                    size=size,
                    way="above" if each.by_m > 0 else "below",
                ),
            )
            continue
        if each.seen:
            when = Sentence("from {at} on, where it jumps,", at=_moment(each.first))
        elif each.after == each.before:
            when = Sentence("from the beginning")
        else:
            when = Sentence(
                "since some time between {after} and {before}, likeliest {at},",
                after=_moment(each.after),
                before=_moment(each.before),
                at=_moment(each.first),
            )
        yield Finding(
            "problem",
            _WHERE,
            Sentence(
                "{when} the logger reads {size} too {way} against the staff gauge, as {count} "
                "show; its flows are wrong until the site file says: {line}",
                when=when,
                size=size,
                way="low" if each.by_m > 0 else "high",
                count=counted(each.readings, "gauging"),
                line=_line_to_write(each.first, each.by_m),
            ),
        )


def _line_to_write(first: pd.Timestamp, by_m: float) -> Sentence:
    return Sentence(
        '[[stream.shift]] from = {first}, by = "{by}", why = "what moved it", each key on a line of its own',
        first=_written(first),
        by=Amount(by_m, "small length"),
    )


def _of_suspects(suspects: tuple[Suspect, ...], excluded: bool) -> Iterator[Finding]:
    failed = [each for each in suspects if each.failed]
    if failed:
        count = sum(each.readings for each in failed)
        one = count == 1
        mend = (
            'left out; [stream] suspect_stages = "used" keeps them'
            if excluded
            else "used all the same, as [stream] suspect_stages says"
        )
        yield Finding(
            "caution",
            _WHERE,
            Sentence(
                "{count} as no creek makes {them} {are} {mend}: {listed}",
                count=counted(count, "stage"),
                them="it" if one else "them",
                are="is" if one else "are",
                mend=mend,
                listed=_listed(failed),
            ),
        )
    doubtful = [each for each in suspects if each.kind in ("spike", "rate") and not each.failed]
    if doubtful:
        yield Finding(
            "caution",
            _WHERE,
            Sentence(
                "{count} moved faster than creeks do and {are} used: {listed}; "
                "[[stream.leave_out]] from, to, why takes out what is wrong",
                count=counted(sum(each.readings for each in doubtful), "stage"),
                are="is" if len(doubtful) == 1 else "are",
                listed=_listed(doubtful),
            ),
        )
    flat = [each for each in suspects if each.kind == "flat"]
    if flat:
        longest = max(flat, key=lambda each: each.last - each.first)
        yield Finding(
            "caution",
            _WHERE,
            Sentence(
                "the stage stands still in {count}, the longest {period} at {stage}, which is "
                "used: stuck, frozen or silted up? [[stream.leave_out]] from, to, why takes "
                "it out",
                count=counted(len(flat), "stretch").replace("stretchs", "stretches"),
                period=_period(longest.first, longest.last),
                stage=Amount(longest.stage_m, "stage"),
            ),
        )
    for each in [each for each in suspects if each.kind == "step"][:_MOST_TOLD]:
        yield Finding(
            "caution",
            _WHERE,
            Sentence(
                "the stage jumps {way} by {size} at {at} and stays there: was the sensor "
                "moved, or did something lodge in the creek? Read the staff gauge; a sensor "
                "that moved is mended by {line}",
                way="up" if each.size_m > 0 else "down",
                size=Amount(abs(each.size_m), "small length"),
                at=_moment(each.first),
                line=_line_to_write(each.first, -each.size_m),
            ),
        )


def _listed(suspects: list[Suspect]) -> Sentence:
    told = [
        Sentence(
            "{stage} on {when}",
            stage=Amount(each.stage_m, "stage"),
            when=_period(each.first, each.last),
        )
        for each in suspects[:_MOST_TOLD]
    ]
    more = len(suspects) - len(told)
    return joined(told, ", ") + (f" and {more} more" if more else "")


def _of_gaps(gaps: tuple[Gap, ...]) -> Iterator[Finding]:
    for each in [each for each in gaps if each.why][:_MOST_TOLD]:
        text = f"no stage between {_moment(each.first)} and {_moment(each.last)} ({each.why})"
        yield Finding("note", _WHERE, text)
    open_ = [each for each in gaps if not each.why]
    if open_:
        longest = max(open_, key=lambda each: each.last - each.first)
        text = (
            f"nothing says why {counted(len(open_), 'gap')} of more than a day "
            f"{'is' if len(open_) == 1 else 'are'} there, the longest between "
            f"{_moment(longest.first)} and {_moment(longest.last)}; [[stream.gap]] from, to, why "
            "does"
        )
        yield Finding("note", _WHERE, text)


def _of_clock(jumps: tuple[ClockJump, ...]) -> Iterator[Finding]:
    for each in jumps[:_MOST_TOLD]:
        at = _moment(each.at)
        if each.kind == "years":
            text = (
                f"the times leap from one year to another before {at}: was the clock of the "
                "logger lost? Mend the times of the file from there on"
            )
            yield Finding("problem", _WHERE, text)
        elif each.kind == "hour":
            text = (
                f"one hour is missing before {at}: was the logger's clock set on by an hour, or "
                "readings lost? A clock that was set moves all times from there on; daily means "
                "hardly change"
            )
            yield Finding("note", _WHERE, text)
        elif each.kind == "minutes":
            text = (
                f"the logger's clock was set by {abs(each.by_s) / 60:.0f} minutes before {at}; "
                "daily means hardly change"
            )
            yield Finding("note", _WHERE, text)
        else:
            text = (
                f"one hour is missing before {at}, as where a clock goes to summer time; keep the "
                "logger on winter time, or its days begin an hour early from there on"
            )
            yield Finding("caution", _WHERE, text)
