"""The owner's log: read whole, cleaned in the open, nothing dropped in silence.

A log is a CSV of readings at irregular times: jets open, gauge pressure, volts and amps or watts,
whether the pond spills and the needle fluctuates, air and water temperature, a note. People swap
columns, clocks jump, gauges are labelled wrongly. What is mended or set aside is told with the
lines it stands in.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import KW_ONLY, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from ..columns import read_csv
from ..errors import Finding, InputError, Mistake
from ..files import shown_path
from ..result import Result
from ..units import Q_

__all__ = ["Log", "Trouble", "clean", "in_order", "read_log"]

WANTED = {"time": "time", "jets": "count"}
OPTIONAL = {
    "pressure": "Pa",
    "volts": "V",
    "amps": "A",
    "watts": "W",
    "spilling": "yes/no",
    "needle": "text",
    "air": "K",
    "water": "K",
    "note": "text",
}

# What one unit reads too high when it stands in a column headed with another.
_MISLABELLED = {
    "psi in a column headed bar": 14.5038,
    "kPa in a column headed psi": 6.89476,
    "kPa in a column headed bar": 100.0,
}
# A running pressure lies between these shares of the static one; above it by a tenth is gauge noise.
_LEAST_SHARE, _NOISE = 0.45, 1.10
_NEAR_VOLTS = (
    0.2  # an "ampere" this near to the usual volts, and far from the usual amps, is a volt
)
_LISTED = 8
_IN_ORDER = (
    0.6  # share of the lines that follow in time, above which the others are a clock that jumped
)
_FEW_LINES = 5


@dataclass(frozen=True)
class Trouble:
    """Something in a log that could not be believed, and what was done about it.

    Parameters
    ----------
    kind : str
        Such as ``"clock jump"``.
    lines : tuple of int
        Lines of the file, all of them.
    done : str
        One sentence.
    """

    kind: str
    lines: tuple[int, ...]
    done: str

    @property
    def where(self) -> str:
        """The lines as text, cut short where they are many."""
        shown = ", ".join(str(line) for line in self.lines[:_LISTED])
        more = f" and {len(self.lines) - _LISTED} more" if len(self.lines) > _LISTED else ""
        return f"line{'s' if len(self.lines) > 1 else ''} {shown}{more}"

    @property
    def sentence(self) -> str:
        """Where, what, what was done."""
        return f"{self.where}: {self.kind}; {self.done}"


@dataclass(frozen=True, eq=False)
class Log(Result):
    """Readings in order of time, SI inside.

    Parameters
    ----------
    time : ndarray of datetime64
        Rising.
    line : ndarray of int
        Line of the file each reading stands in.
    jets : ndarray of int
    pressure_pa, volts, amps, power_w, air_k, water_k : ndarray
        NaN where not read. The gauge's zero is taken off.
    spilling, fluctuates : ndarray
        1 for yes, 0 for no, NaN where nobody looked.
    note : ndarray of str
    static_pa : float
        Pressure with the jets shut, given or found in the log; NaN where it holds none.
    troubles : tuple of Trouble
    """

    time: np.ndarray
    line: np.ndarray
    jets: np.ndarray
    _: KW_ONLY
    pressure_pa: np.ndarray
    volts: np.ndarray
    amps: np.ndarray
    power_w: np.ndarray
    air_k: np.ndarray
    water_k: np.ndarray
    spilling: np.ndarray
    fluctuates: np.ndarray
    note: np.ndarray
    static_pa: float
    troubles: tuple[Trouble, ...] = ()

    def __len__(self) -> int:
        return len(self.time)

    @property
    def seconds(self) -> np.ndarray:
        """Time in seconds since the first reading."""
        return (self.time - self.time[0]).astype("timedelta64[s]").astype(float)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The troubles, for the table of checks."""
        return tuple(Finding("caution", "log", each.sentence) for each in self.troubles)

    def take(self, which: np.ndarray) -> Log:
        """The same log with only some of its readings."""
        names = (
            "time",
            "line",
            "jets",
            "pressure_pa",
            "volts",
            "amps",
            "power_w",
            "air_k",
            "water_k",
            "spilling",
            "fluctuates",
            "note",
        )
        return replace(self, **{name: getattr(self, name)[which] for name in names})


def read_log(
    path: Path,
    static_pa: float | None = None,
    jets: int | None = None,
    power_factor: float = 1.0,
    gauge_zero_pa: float = 0.0,
    notes: list[Finding] | None = None,
    known_pa: float | None = None,
) -> Log:
    """A log of readings at the powerhouse, cleaned.

    Parameters
    ----------
    path : path
        CSV with a header such as ``time, jets [-], pressure [psi], volts [V], amps [A], spilling,
        needle, air [degF], water [degF], note``; ``watts [W]`` instead of volts and amps will do.
    static_pa : float, optional
        Gauge pressure with the jets shut, to know a mislabelled column by.
    jets : int, optional
        How many there are.
    power_factor : float
        Of volts times amps.
    gauge_zero_pa : float
        What the gauge shows with no pressure on it.
    notes : list of Finding, optional
        How the file was understood is told here.
    known_pa : float, optional
        What the gauge shows with the jets shut by the readings of the commissioning, to know a
        mislabelled column by where `static_pa` is not given.

    Returns
    -------
    Log

    Raises
    ------
    InputError
        No such file, a header that cannot be understood, rows with too many or too few fields,
        pressures that cannot be in the unit of their header, or no reading at all that can be used.
    """
    unread: list = []
    table = read_csv(path, WANTED, OPTIONAL, unread, notes)
    blots = tuple(
        Trouble(
            f"text in the column '{column}'",
            lines,
            f"'{first}' is no {_WISH.get(column, 'number')}, so that cell was left empty",
        )
        for column, lines, first in unread
        if column != "time"
    )
    _refuse_unit(path, table, known_pa if static_pa is None else static_pa)
    told: list[str] = []
    made = clean(table, static_pa, jets, power_factor, gauge_zero_pa, told)
    if notes is not None:
        notes += [Finding("note", Path(path).name, text) for text in told]
    if made is None:
        raise InputError(
            Mistake(shown_path(path), "", "holds no reading with a time and a number of jets")
        )
    return replace(made, troubles=blots + made.troubles)


_WISH = {"spilling": "yes or no"}


def clean(
    table: pd.DataFrame,
    static_pa: float | None = None,
    jets: int | None = None,
    power_factor: float = 1.0,
    gauge_zero_pa: float = 0.0,
    notes: list[str] | None = None,
) -> Log | None:
    """A log from a table in SI with the columns of :func:`read_log`; None where no row can be used."""
    columns = {
        name: _floats(table, name)
        for name in ("jets", "pressure", "volts", "amps", "watts", "air", "water", "spilling")
    }
    line = table["line"].to_numpy()
    troubles: list[Trouble] = []

    def tell(kind: str, which: np.ndarray, done: str) -> None:
        if which.any():
            troubles.append(Trouble(kind, tuple(int(each) for each in line[which]), done))

    time = table["time"].to_numpy().astype("datetime64[s]")
    kept = ~np.isnat(time)
    tell("no time", ~kept, "set aside")
    order = np.flatnonzero(kept)
    order, sorted_how = in_order(time, order)
    if sorted_how and notes is not None:
        notes.append(sorted_how)
    rising = order[longest_rising(time[order].astype(np.int64))]
    jumped = kept.copy()
    jumped[rising] = False
    tell(
        "clock jump: the time does not come after the line before",
        jumped,
        "set aside; mend the times and run again",
    )

    _mend_jets(columns, jets, tell)
    columns["pressure"] = columns["pressure"] - gauge_zero_pa
    static = _mend_pressure(columns, static_pa, tell)
    _mend_meters(columns, tell)
    if not len(rising) or not np.isfinite(columns["jets"][rising]).any():
        return None
    fluctuates = _fluctuates(table, tell)
    watts = columns["watts"]
    power = np.where(np.isnan(watts), columns["volts"] * columns["amps"] * power_factor, watts)
    note = (
        table["note"].to_numpy(dtype=object)
        if "note" in table
        else np.full(len(table), "", dtype=object)
    )
    taken = rising[np.isfinite(columns["jets"][rising])]
    whole = Log(
        time,
        line,
        columns["jets"],
        pressure_pa=columns["pressure"],
        volts=columns["volts"],
        amps=columns["amps"],
        power_w=power,
        air_k=columns["air"],
        water_k=columns["water"],
        spilling=columns["spilling"],
        fluctuates=fluctuates,
        note=note,
        static_pa=static,
        troubles=tuple(troubles),
    ).take(taken)
    return replace(whole, jets=whole.jets.astype(int))


def _floats(table: pd.DataFrame, name: str) -> np.ndarray:
    if name not in table:
        return np.full(len(table), np.nan)
    return pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float, copy=True)


def in_order(time: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, str]:
    """Rows as they follow in time, where the file as a whole has them otherwise; and how that was mended.

    A log kept newest first is turned round; lines that follow in no order at all are sorted. Where
    most of them rise, what breaks the order is a clock that jumped.
    """
    seconds = time[rows].astype(np.int64)
    if len(rows) < _FEW_LINES or np.all(np.diff(seconds) > 0):
        return rows, ""
    rising, falling = len(longest_rising(seconds)), len(longest_rising(seconds[::-1]))
    if falling > rising and falling > _IN_ORDER * len(rows):
        return rows[::-1], "the lines stand there newest first; they are read from the last up"
    if max(rising, falling) <= _IN_ORDER * len(rows):
        return (
            rows[np.argsort(seconds, kind="stable")],
            "the lines stand there in no order of time; they are sorted by it",
        )
    return rows, ""


def longest_rising(values: np.ndarray) -> np.ndarray:
    """Positions of the longest strictly rising run of values that need not be neighbours.

    The clock was right for most of a log; what breaks the longest rising order is the jump.
    """
    if len(values) < 2 or np.all(np.diff(values) > 0):
        return np.arange(len(values))
    tails: list[int] = []  # least last value of a rising run of each length
    places: list[int] = []
    before = np.full(len(values), -1)
    for index, value in enumerate(values.tolist()):
        length = bisect_left(tails, value)
        before[index] = places[length - 1] if length else -1
        if length == len(tails):
            tails.append(value)
            places.append(index)
        elif value < tails[length]:  # of two alike the first stays
            tails[length], places[length] = value, index
    chain = []
    index = places[-1]
    while index >= 0:
        chain.append(index)
        index = int(before[index])
    return np.array(chain[::-1])


# --- what people write wrongly --------------------------------------------------------------


def _mend_jets(columns: dict, most: int | None, tell: Any) -> None:
    jets = columns["jets"]
    wrong = np.isfinite(jets) & (
        (jets < 0) | (jets % 1 != 0) | (jets > (np.inf if most is None else most))
    )
    empty = np.isnan(jets)
    jets[wrong] = np.nan
    tell(
        "jets that cannot be open",
        wrong,
        "taken as the line before says"
        if most is None
        else f"there are {most}; taken as the line before says",
    )
    tell("jets not written down", empty, "taken as the line before says")
    columns["jets"] = pd.Series(jets).ffill().to_numpy()


def _mend_pressure(columns: dict, static_pa: float | None, tell: Any) -> float:
    """Mislabelled units, negative readings, readings far above static; the static pressure."""
    pressure, shut = columns["pressure"], columns["jets"] == 0
    with np.errstate(invalid="ignore"):
        positive = pressure[pressure > 0]
        if not len(positive):
            return np.nan if static_pa is None else float(static_pa)
        usual = float(np.median(pressure[pressure > 0])) if static_pa is None else float(static_pa)
        highest = usual / _LEAST_SHARE if static_pa is None else usual
        _mend_single(pressure, usual, highest, tell)
        below = pressure < -0.02 * usual
        tell(
            "negative pressure",
            below,
            "the pressure of that line was left out; a gauge that reads below zero is off",
        )
        pressure[below] = np.nan
        pressure[pressure < 0] = 0.0
        resting = pressure[shut & (pressure > 0.5 * usual)]
        static = (
            float(static_pa)
            if static_pa is not None
            else float(np.median(resting))
            if len(resting)
            else np.nan
        )
        above = pressure > _NOISE * (static if np.isfinite(static) else highest)
        tell(
            "a pressure more than a tenth above that with the jets shut",
            above,
            "left out: a surge, or a slip of the pen",
        )
        pressure[above] = np.nan
    return static


def _refuse_unit(path: Path, table: pd.DataFrame, static_pa: float | None) -> None:
    """Refuse pressures that as a whole cannot be in the unit of their header, with the reason."""
    pressure = _floats(table, "pressure")
    positive = pressure[pressure > 0]
    if static_pa is None or not static_pa > 0 or not len(positive):
        return
    usual = float(np.median(positive))
    whole = _whole_column(usual / static_pa)
    if whole is None:
        return
    unit = table.attrs["units"]["pressure"]
    meant, _, _ = whole[0].partition(" in a column headed ")
    shown, shut = (Q_(each, "Pa").m_as(unit) for each in (usual, static_pa))
    text = (
        f"the pressures stand under [{unit}], half of them above {shown:.3g} {unit}, but with the "
        f"jets shut this plant shows {shut:.3g} {unit}: they read like {meant}; write pressure "
        f"[{meant}] in the title line"
    )
    raise InputError(Mistake(shown_path(path), "the column 'pressure'", text))


def _whole_column(ratio: float) -> tuple[str, float] | None:
    """Unit and factor when the usual pressure shows that the header names another unit."""
    if _LEAST_SHARE / 2 <= ratio <= _NOISE:
        return None
    known = {**_MISLABELLED, **{_turned(text): 1 / factor for text, factor in _MISLABELLED.items()}}
    text, factor = min(known.items(), key=lambda item: abs(np.log(ratio / item[1])))
    return (text, factor) if _LEAST_SHARE / 2 <= ratio / factor <= _NOISE else None


def _mend_single(pressure: np.ndarray, usual: float, highest: float, tell: Any) -> None:
    """Single readings in another unit: only those that are impossible as they stand."""
    names, factors = list(_MISLABELLED), np.array(list(_MISLABELLED.values()))
    impossible = np.flatnonzero(pressure > 3 * usual)
    nearest = np.argmin(np.abs(np.log(pressure[impossible, None] / usual / factors)), axis=1)
    meant = pressure[impossible] / factors[nearest]
    believable = (meant > _LEAST_SHARE * usual) & (meant < _NOISE * highest)
    for index, name in enumerate(names):
        which = np.zeros(len(pressure), dtype=bool)
        which[impossible[believable & (nearest == index)]] = True
        tell(f"a pressure that reads like {name}", which, f"divided by {factors[index]:.4g}")
        pressure[which] /= factors[index]


def _turned(text: str) -> str:
    one, _, other = text.partition(" in a column headed ")
    return f"{other} in a column headed {one}"


def _mend_meters(columns: dict, tell: Any) -> None:
    """Volts in the amps column, and watts below zero."""
    volts, amps, watts = columns["volts"], columns["amps"], columns["watts"]
    with np.errstate(invalid="ignore"):
        running_volts, running_amps = volts[volts > 0], amps[amps > 0]
        if len(running_volts) and len(running_amps):
            usual_volts, usual_amps = (
                float(np.median(running_volts)),
                float(np.median(running_amps)),
            )
            like_volts = (np.abs(amps / usual_volts - 1) < _NEAR_VOLTS) & (amps > 3 * usual_amps)
            swapped = like_volts & (volts < 0.5 * usual_volts)
            tell("volts and amps in each other's column", swapped, "swapped back")
            volts[swapped], amps[swapped] = amps[swapped], volts[swapped].copy()
            tell(
                "volts in the amps column",
                like_volts & ~swapped,
                "the amps, and the watts with them, were left out",
            )
            amps[like_volts & ~swapped] = np.nan
        for name, values in (("volts", volts), ("amps", amps), ("watts", watts)):
            tell(f"{name} below zero", values < 0, "left out")
            values[values < 0] = np.nan


def _fluctuates(table: pd.DataFrame, tell: Any) -> np.ndarray:
    if "needle" not in table:
        return np.full(len(table), np.nan)
    word = table["needle"].astype(str).str.strip().str.lower()
    found = np.where(
        word.str.startswith(("fluct", "hunt", "swing", "jump")),
        1.0,
        np.where(word.str.startswith(("stead", "still")), 0.0, np.nan),
    )
    shut_in = word.str.startswith(("fall", "stand"))  # said of a pipe shut at both ends
    tell(
        "a word not known in the column 'needle'",
        np.isnan(found) & ((word != "") & ~shut_in).to_numpy(),
        "write steady or fluctuates; left out",
    )
    return found
