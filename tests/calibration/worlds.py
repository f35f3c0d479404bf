"""Worlds worked by hydrokit through site files: which of its 90 % intervals hold what is true.

``python tests/calibration/worlds.py 415`` writes the table that the verification page shows. With
``--only q50,q95`` only these answers are tried, and their counts printed.
"""

from __future__ import annotations

import argparse
import csv
import pickle
import sys
import tempfile
import warnings
from collections import defaultdict
from collections.abc import Collection, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import true_world as true  # noqa: E402
from backtest import RECORDS, backtest, further  # noqa: E402
from small_study import toml  # noqa: E402

TABLE = Path(__file__).resolve().parents[1] / "published" / "calibration.csv"
LIFE, RISK = 20, 0.3  # of the intake
NAMES = {
    "q5": "flow exceeded on 5 % of the days", "q50": "flow exceeded on 50 % of the days", "q95": "flow exceeded on 95 % of the days",
    "residual": "residual flow, a share of the curve",
    "monthly": "available flow on the median day of a month", "usable": "mean available flow",
    "year": "energy of one year to come", "ten": "mean energy of ten years to come", "life": "mean energy of many years",
    "lowest": "lowest 7 days in 10 years", "flood": "flood of the intake, mean of its day", "bracket": "bracket of a year from gaugings alone",
}  # fmt: skip


Row = tuple[str, float, float, float]
Counted = tuple[str, int, int, int, int, float]


def series(path: Path, head: str, date: np.ndarray, values: np.ndarray) -> None:
    path.write_text(
        f"{head}\n" + "".join(f"{day},{value:.6g}\n" for day, value in zip(date, values))
    )


@dataclass(frozen=True, eq=False)
class World:
    """What is true of one creek and plant, the month that is asked for (0 to 11) and the rule of residual flow."""

    truth: true.Truth
    month: int
    rule: str


def prepared(seed: int, folder: Path) -> World:
    """One creek measured: its site file and sheets, written to a folder."""
    random = np.random.default_rng((2026, seed))
    kind = list(true.KINDS)[seed % 4]
    way = ("logger", "neighbour", "logger", "neighbour", "gaugings")[seed // 4 % 5]
    likeness = random.uniform(0.80, 0.98)
    creek, other = true.creeks(random, kind, likeness)
    years = int(random.integers(1, 4) if way == "neighbour" else random.integers(2, 13))
    method = str(random.choice(list(true.METHODS)))
    gaugings = int(random.integers(3, 21))
    seen = true.measured(random, creek, years, gaugings, method)

    here = creek.flow[creek.between(true.TODAY - np.timedelta64(3652, "D"), true.TODAY)]
    full = round(float(np.quantile(here, random.uniform(0.4, 0.8))), 4)
    keep = (
        None
        if random.random() < 0.5
        else round(float(np.quantile(here, random.uniform(0.02, 0.1))), 4)
    )
    licence = round(full * random.uniform(0.9, 1.5), 4)
    bore = round(float(np.sqrt(4 * full / np.pi / random.uniform(1.0, 1.8))), 4)
    head, length, whole = round(random.uniform(20, 80), 1), round(random.uniform(100, 500)), 0.6
    plant = true.Plant(
        head * (1 + 0.01 * random.standard_normal()),
        bore,
        length,
        full * np.exp(0.03 * random.standard_normal()),
        whole * np.exp(0.05 * random.standard_normal()),
        float(np.exp(0.15 * random.standard_normal())),
    )
    period = 1 / (1 - (1 - RISK) ** (1 / LIFE))
    truth = true.truth_of(creek, plant, keep, licence, period)

    stream: dict[str, Any] = {
        "gaugings": "gaugings.csv",
        "cease_to_flow": f"{seen.cease_to_flow:.3f} m",
        "control": seen.control,
    }
    staged = way != "gaugings"
    lines = ["date,stage [m],flow [L/s],uncertainty [%],method"]
    for day, stage, flow in zip(seen.gauged_date, seen.gauged_stage, seen.gauged_flow):
        if stage > float(f"{seen.cease_to_flow:.3f}"):
            lines.append(
                f"{day},{stage:.3f},{1000 * flow:.4g},{100 * seen.uncertainty:g},{seen.method}"
            )
    (folder / "gaugings.csv").write_text("\n".join(lines) + "\n")
    (folder / "maker.csv").write_text("flow [%],efficiency [%]\n2,80\n100,80\n")
    if staged:
        series(folder / "stage.csv", "date,stage [m]", seen.date, seen.stage)
        stream |= {"stage": "stage.csv", "fill_gaps": 20}
    if way == "neighbour":
        span = other.between(
            true.TODAY - np.timedelta64(int(365.25 * random.integers(12, 36)), "D"), true.TODAY
        )
        series(
            folder / "neighbour.csv",
            "date,flow [L/s]",
            other.date[span],
            1000 * other.flow[span],
        )
        stream["neighbour_record"] = "neighbour.csv"
    rule = (
        {"rule": "percentile", "exceedance": "95 %"}
        if keep is None
        else {"rule": "fixed", "flow": f"{1000 * keep:g} L/s"}
    )
    if not staged:
        rule = {"rule": "fixed", "flow": f"{1000 * truth.keep:.6g} L/s"}
    site = {
        "site": {"name": "World", "place": "nowhere", "altitude": "300 m", "water_temperature": "10 degC"},
        "stream": stream,
        "rights": {"licence": f"{1000 * licence:g} L/s", "residual": [rule]},
        "intake": {"life": LIFE, "flood_risk": f"{100 * RISK:g} %"},
        "penstock": {"head": f"{head} m ± {0.01 * head:.3g} m", "length": f"{length} m", "entry": 1.5, "pipe": [{"inside_diameter": f"{1000 * bore:g} mm", "roughness": "0.03 mm"}]},
        "turbine": {"kind": "pelton", "jets": 1, "jet_kind": "spear", "design_flow": f"{1000 * full:g} L/s", "efficiency_table": "maker.csv"},
        "generator": {"water_to_wire": f"{100 * whole:g} % ± {100 * 0.05 * whole:g} %"},
        "uncertainty": {"draws": 1000},
    }  # fmt: skip
    (folder / "site.toml").write_text(toml(site), encoding="utf-8")
    return World(truth, int(random.integers(12)), rule["rule"])


def answers(folder: Path, world: World, only: Collection[str] = NAMES) -> Any:
    """What hydrokit says of a study, beside the truth; nothing where it says it cannot tell."""
    import hydrokit as hk
    from hydrokit.errors import HydrokitError

    truth, month = world.truth, world.month
    try:
        study = hk.open_study(folder)
        regime = study.flow_regime
    except HydrokitError:
        return  # such as a neighbour that is too unlike: refused, so nothing is claimed
    if study.record is None:
        if study.bracket is not None and "bracket" in only:
            yield "bracket", study.bracket.low_kwh, study.bracket.high_kwh, truth.energy_mean
        return
    for name, share in (("q5", 0.05), ("q50", 0.5), ("q95", 0.95)):
        row = next(each for each in regime.steps if abs(each.exceeded - share) < 1e-9)
        yield name, row.low_m3s, row.high_m3s, truth.exceeded[share]

    def asked(name: str, key: str, value: float, at: int | None = None) -> Any:
        found = study.answer(key) if name in only else None
        if found is not None:
            found = found if at is None else found.month(at + 1)
            if np.isfinite(found.low) and np.isfinite(found.high):
                yield name, float(found.low), float(found.high), value

    if world.rule == "percentile":
        yield from asked("residual", "water.residual", truth.keep, month)
    yield from asked("monthly", "water.usable", truth.monthly_usable[month], month)
    yield from asked("usable", "water.usable_mean", truth.usable_mean)
    yield from asked("year", "energy.annual.p50", truth.energy_next)
    yield from asked("ten", "energy.ten_years.p50", truth.energy_ten)
    yield from asked("life", "energy.mean.p50", truth.energy_mean)
    yield from asked("flood", "flood.intake", truth.flood)
    if "lowest" in only:
        lowest = dict(study.low_flows)["lowest 7 days in 10 years"]
        if hasattr(lowest, "low_m3s") and np.isfinite(lowest.high_m3s):
            yield "lowest", lowest.low_m3s, lowest.high_m3s, truth.lowest_week


def world(seed: int, only: Collection[str] = NAMES, kept: Path | None = None) -> list[Row]:
    """One creek measured and worked out: answer, low, high, truth.

    What was measured is kept in a folder of `kept`, where it is given, for the next trial.
    """
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as place:
        # a rating that reaches beyond its gaugings is what is tried here
        warnings.simplefilter("ignore")
        folder = Path(place) if kept is None else kept / str(seed)
        told = folder / "world.pickle"
        if not told.exists():
            folder.mkdir(parents=True, exist_ok=True)
            told.write_bytes(pickle.dumps(vars(prepared(seed, folder))))
        found = World(**pickle.loads(told.read_bytes()))
        return [row for row in answers(folder, found, only) if row[0] in only]


def tried(
    seeds: Sequence[int],
    only: Collection[str] = NAMES,
    processes: int = 2,
    kept: Path | None = None,
) -> dict[str, np.ndarray]:
    """Low, high and truth of each answer in all worlds."""
    found = defaultdict(list)
    with ProcessPoolExecutor(processes) as pool:
        for rows in pool.map(partial(world, only=only, kept=kept), seeds, chunksize=4):
            for name, *numbers in rows:
                found[name].append(numbers)
    return {name: np.array(found[name]) for name in NAMES if name in found}


def counted(found: np.ndarray) -> tuple[int, int, int, int]:
    """Worlds, those whose interval holds the truth, those with the truth below and above it."""
    low, high, value = found.T
    slack = 1e-9 * np.abs(value)
    below, above = int((value < low - slack).sum()), int((value > high + slack).sum())
    return len(value), len(value) - below - above, below, above


def fault_sizes(draws: int) -> tuple[int, int, int, int]:
    """Seeded faults of drawn plants: sizes within their 90 % interval. Outside is counted as below."""
    from seeded import seeded
    from true_plant import PLANTS

    found = [
        each.in_interval
        for number, site in enumerate(PLANTS.values())
        for each in seeded(site, draws, seed=100 + number)
        if each.state not in ("well", "stuck")  # neither has a size
    ]
    return len(found), sum(found), len(found) - sum(found), 0


def table(
    worlds: int, processes: int = 2, kept: Path | None = None, more: Path | None = None
) -> list[Counted]:
    """Each answer with its counts, and how many independent cases they are worth: invented worlds, seeded faults, real records."""
    trial = tried(range(worlds), processes=processes, kept=kept)
    numbers = [(NAMES[name], *counted(found)) for name, found in trial.items()]
    numbers.append(("size of a fault", *fault_sizes(3)))
    return [(*each, float(each[1])) for each in numbers] + real_years(more)


def real_years(more: Path | None = None) -> list[Counted]:
    """The rows of real records: as they are, with their trends taken out, and beside those of a folder."""
    others = [] if more is None else further(more)
    ways = [("a real record", {}), ("a real record, its trend taken out", {"steady": True})]
    if others:
        ways.append((f"any of {len(RECORDS) + len(others)} real records", {"more": others}))
    return [
        (
            f"P90 of one year, from {years} year{'s' if years > 1 else ''} of {what}",
            count,
            above,
            count - above,
            0,
            round(worth, 1),
        )
        for what, how in ways
        for years, (count, above, worth) in backtest(**how).items()
    ]


def write(
    worlds: int, processes: int = 2, kept: Path | None = None, more: Path | None = None
) -> None:
    """Try so many worlds and write the table."""
    day = f"{datetime.now(UTC):%Y-%m-%d}"
    found = table(worlds, processes, kept, more)
    with TABLE.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["date", "answer", "worlds", "held", "below", "above", "worth"])
        rows.writerows([day, *each] for each in found)


def told(found: dict[str, np.ndarray]) -> None:
    """Counts of a trial, and how wide the median interval is."""
    for name, numbers in found.items():
        count, held, below, above = counted(numbers)
        width = np.median(numbers[:, 1] / np.maximum(numbers[:, 0], 1e-9))
        print(
            f"{name:9s} {count:4d} {held:4d} {held / count:6.1%}  below {below:3d} above {above:3d}  high/low {width:.2f}"
        )


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("worlds", type=int)
    asked.add_argument("--only", help="only these answers, such as q50,q95; nothing is written")
    asked.add_argument("--first", type=int, default=0, help="first world; nothing is written")
    asked.add_argument("--kept", type=Path, help="folder that keeps what was measured")
    asked.add_argument("--more", type=Path, help="folder of further real records (date, flow_m3s)")
    asked.add_argument("--processes", type=int, default=2)
    given = asked.parse_args()
    if given.only is None and given.first == 0:
        write(given.worlds, given.processes, given.kept, given.more)
    else:
        names = tuple(NAMES) if given.only is None else tuple(given.only.split(","))
        seeds = range(given.first, given.first + given.worlds)
        told(tried(seeds, names, given.processes, given.kept))
