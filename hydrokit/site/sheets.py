"""What the site's sheets say: gaugings, daily series, readings; and where their files may lie."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Callable, TypeVar

import numpy as np

from ..columns import read_csv
from ..errors import (
    Finding,
    HydrokitError,
    InputError,
    Mistake,
    Told,
    counted,
    did_you_mean,
    one_line,
)
from ..files import resolved, shown_path
from ..sentences import Amount, Sentence, refusal
from ..stream.gauging import method_called
from ..units import Q_, Quantity

if TYPE_CHECKING:
    import pandas as pd

    from ..units import Alike
    from .schema_creek import Stream

__all__ = [
    "FieldGaugings",
    "Folder",
    "daily",
    "day_to_come",
    "filled",
    "gaugings",
    "reason",
]

Made = TypeVar("Made")

_LONGEST_NAME = 255
_HIGHEST_STAGE = (
    10.0  # m over the level at which a creek stops flowing; one of this size never stands so high
)


@dataclass(frozen=True, eq=False)
class FieldGaugings:
    """The gaugings of a creek, one entry each, in the order of the sheet.

    Parameters
    ----------
    date : ndarray of datetime64
    stage_m : ndarray
        NaN where no stage was read.
    flow_m3s, uncertainty : ndarray
        Flow and its relative standard deviation.
    method : tuple of str
    ice : ndarray of bool
    findings : tuple of Finding
    """

    date: np.ndarray
    stage_m: np.ndarray
    flow_m3s: np.ndarray
    _: KW_ONLY
    uncertainty: np.ndarray
    method: tuple[str, ...]
    ice: np.ndarray
    findings: tuple[Finding, ...] = ()

    def __len__(self) -> int:
        return len(self.flow_m3s)

    @property
    def flow(self) -> Quantity:
        """Flows as a quantity."""
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def stage(self) -> Quantity:
        """Stages as a quantity."""
        return Q_(self.stage_m, "m")


def stamp(path: Path) -> tuple[int, int]:
    """Time and size of a file: another stamp, another file."""
    found = path.stat()
    return found.st_mtime_ns, found.st_size


class Folder:
    """A study's folder: finds its files, keeps them inside, remembers which were read."""

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self.read: dict[Path, tuple[int, int]] = {}  # file -> its stamp when it was read
        self.notes: list[Finding] = []  # how its files were understood

    def file(self, name: str, where: str) -> Path:
        """The file a site file names: in the study, in ``data/`` or in another study beside it.

        Raises
        ------
        InputError
            A path that leaves those folders, or a file that is not there.
        """
        wanted, told = Path(name), one_line(name)
        if len(name) > _LONGEST_NAME:
            raise self.wrong(where, f"there is no file '{told}'; no file has so long a name")
        target = resolved(self.path / wanted)
        if target is None:
            raise self.wrong(where, f"'{told}' is a link that leads nowhere; name a file")
        studies = self.path.resolve().parent
        # data/ may be a link to where records are kept
        allowed = [self.path.resolve(), resolved(studies.parent / "data")]
        inside = any(each is not None and target.is_relative_to(each) for each in allowed)
        beside = (
            target != studies
            and target.is_relative_to(studies)
            and (studies / target.relative_to(studies).parts[0] / "site.toml").is_file()
        )
        if wanted.is_absolute() or "\\" in name or not (inside or beside):
            raise self.wrong(
                where,
                f"'{told}' leaves the study; name a file of this folder, of data/ or of another study",
            )
        if target.exists() and not target.is_file():
            raise self.wrong(
                where, f"'{told}' is a folder, a device or a pipe; name a file with a table in it"
            )
        if not target.is_file():
            near = did_you_mean(
                target.name,
                [each.name for each in target.parent.glob("*")] if target.parent.is_dir() else [],
            )
            raise self.wrong(where, f"there is no file '{told}'{near}")
        self.read[target] = stamp(target)
        return target

    def wrong(self, where: str, text: str | Told) -> InputError:
        """An error about a key of the site file."""
        return InputError(Mistake(shown_path(self.path / "site.toml"), where, text))

    def sentence(self, where: str, make: Callable[[], Made]) -> Made:
        """What `make` gives; what it refuses is told with the key it came from."""
        try:
            return make()
        except InputError:
            raise
        except (HydrokitError, ValueError) as error:
            raise self.wrong(where, reason(error)) from error


def reason(error: Exception) -> str | Sentence:
    """What an error says; of mistakes in what was handed in the first, with its place."""
    if not isinstance(error, InputError):
        return refusal(error)
    first = error.mistakes[0]
    said = first.sentence if isinstance(first.sentence, Sentence) else first.text
    return f"{first.where}: " + said if first.where else said


# --- stream ---------------------------------------------------------------------------------


GAUGED = {"date": "date", "flow": "m^3/s"}
ALSO_GAUGED = {
    "stage": "m",
    "uncertainty": "ratio",
    "±": "m^3/s",
    "method": "text",
    "ice": "yes/no",
}


def gaugings(folder: Folder, stream: Stream) -> FieldGaugings | None:
    """The gaugings of the site, or None."""
    if stream.gaugings is None:
        return None
    path = folder.file(stream.gaugings, "[stream] gaugings")
    table = read_csv(
        path,
        GAUGED,
        ALSO_GAUGED,
        notes=folder.notes,
    )
    if "±" in table:
        told = table["±"] / table["flow"]
        known = table["uncertainty"] if "uncertainty" in table else told
        table["uncertainty"] = known.fillna(told)
    filled(path, table, "date", "flow", above_zero=("flow", "uncertainty"))
    _refuse_slips(path, table, stream.cease_to_flow)
    count = len(table)
    method = (
        tuple(text.lower() or "not said" for text in table["method"])
        if "method" in table
        else ("not said",) * count
    )
    given = table["uncertainty"].to_numpy() if "uncertainty" in table else np.full(count, np.nan)
    usual = np.array([method_called(each).usual for each in method])
    findings = []
    if "example" in method:
        from ..stream.record import lines_of

        lines = lines_of(table["line"][[each == "example" for each in method]])
        findings.append(
            Finding(
                "caution",
                path.name,
                f"{lines} is the template's example and counts until it is replaced by a gauging of your own",
            )
        )
    findings += _odd_gaugings(path, table)
    if np.isnan(given).any():
        unsaid = counted(int(np.isnan(given).sum()), "gauging")
        findings.append(
            Finding(
                "note",
                path.name,
                (
                    f"the uncertainty of {unsaid} is not stated; the usual uncertainty of the "
                    "method is taken (common practice)"
                ),
            )
        )
    ice = (
        table["ice"].fillna(False).to_numpy(dtype=bool)
        if "ice" in table
        else np.zeros(count, dtype=bool)
    )
    stage = table["stage"].to_numpy() if "stage" in table else np.full(count, np.nan)
    return FieldGaugings(
        table["date"].to_numpy(),
        stage,
        table["flow"].to_numpy(),
        uncertainty=np.where(np.isnan(given), usual, given),
        method=method,
        ice=ice,
        findings=tuple(findings),
    )


def day_to_come(day: Alike) -> Alike:
    """Whether a day is not yet; told and not refused, as the clock of a machine may be wrong."""
    return day > np.datetime64("today") + np.timedelta64(1, "D")


def _odd_gaugings(path: Path, table: Any) -> list[Finding]:
    """Gaugings that stand there twice, and those of a day that is not yet."""
    from ..stream.record import lines_of

    findings = []
    ahead = day_to_come(table["date"])
    if ahead.any():
        day = table["date"][ahead.idxmax()]
        findings.append(
            Finding(
                "problem",
                path.name,
                (
                    f"{lines_of(table['line'][ahead])} has a date in the future, such as "
                    f"{day:%Y-%m-%d}; check its year"
                ),
            )
        )
    same = [name for name in ("date", "stage", "flow", "method") if name in table]
    twice = table.duplicated(same)
    if twice.any():
        findings.append(
            Finding(
                "caution",
                path.name,
                (
                    f"{lines_of(table['line'][twice])} repeats the date, stage and flow of "
                    "another line and counts twice; delete it unless it was gauged twice"
                ),
            )
        )
    return findings


def _refuse_slips(path: Path, table: pd.DataFrame, cease_to_flow: float | None) -> None:
    """Refuse numbers that only a column under another's title, or a title without its per cent, can
    have made."""
    from ..stream.record import lines_of

    mistakes = []
    if "uncertainty" in table and (table["uncertainty"] > 1).any():
        lines = lines_of(table["line"][table["uncertainty"] > 1])
        mistakes.append(
            Mistake(
                shown_path(path),
                lines,
                (
                    "the uncertainty is more than the flow itself; where it is in per cent, title "
                    "its column uncertainty [%]"
                ),
            )
        )
    if "stage" in table:
        lowest = table["stage"].min() if cease_to_flow is None else cease_to_flow
        high = table["stage"] > lowest + _HIGHEST_STAGE
        if high.any():
            text = Sentence(
                "the stage is more than {most} above {lowest}; are the columns of stage and "
                "flow swapped, or its unit another?",
                most=Amount(_HIGHEST_STAGE, "stage"),
                lowest="the lowest one" if cease_to_flow is None else "[stream] cease_to_flow",
            )
            mistakes.append(Mistake(shown_path(path), lines_of(table["line"][high]), text))
    if mistakes:
        raise InputError(mistakes)


def filled(
    path: Path,
    table: pd.DataFrame,
    *names: str,
    above_zero: tuple[str, ...] = (),
    none_below_zero: tuple[str, ...] = (),
) -> None:
    """Refuse rows in which one of the columns is empty, or not above zero where it must be."""
    from ..stream.record import lines_of

    wrong = [(table[name].isna(), f"the {name} is missing") for name in names]
    wrong += [
        (table[name] <= 0, f"the {name} must be above zero") for name in above_zero if name in table
    ]
    wrong += [(table[name] < 0, f"the {name} is negative") for name in none_below_zero]
    mistakes = [
        Mistake(shown_path(path), lines_of(table["line"][rows]), text)
        for rows, text in wrong
        if rows.any()
    ]
    if mistakes:
        raise InputError(mistakes)


def daily(
    folder: Folder,
    name: str,
    where: str,
    column: str,
    kind: str,
    beside: dict[str, str] | None = None,
) -> pd.Series:
    """A daily series of a CSV of dates, checked for order and repeated dates; with `beside`,
    columns that may stand there too, a table."""
    import pandas as pd

    path = folder.file(name, where)
    also = {} if beside is None else beside
    table = read_csv(
        path, {"date": "date", column: kind}, {"ice": "yes/no", **also}, notes=folder.notes
    )
    filled(path, table, "date")
    twice = table["date"].duplicated()
    if twice.any():
        first = twice.idxmax()
        raise InputError(
            Mistake(
                shown_path(path),
                f"line {table['line'][first]}",
                f"{table['date'][first]:%Y-%m-%d} is given twice; keep one line for each day",
            )
        )
    if beside is not None:
        there = [each for each in (column, *beside) if each in table]
        return table.set_index(pd.DatetimeIndex(table["date"]))[there].sort_index().asfreq("D")
    series = pd.Series(table[column].to_numpy(), index=pd.DatetimeIndex(table["date"]), name=column)
    if "ice" in table:
        series = series.where(~table["ice"].fillna(False).to_numpy(dtype=bool))
    return series.sort_index().asfreq("D")
