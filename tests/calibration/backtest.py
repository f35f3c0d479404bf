"""Real records: fitted on some years through a site file, the other years foretold."""

from __future__ import annotations

import tempfile
import warnings
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np
import true_world as true
from small_study import toml

RECORDS = ("black_earth_creek_usgs05406500.csv", "yaak_usgs12304500.csv")
CFS = 0.028316846592  # m³/s
WINDOWS, YEARS = 6, (1, 2, 5, 10)


def record(name: str) -> true.Creek:
    """A record of tests/data in m³/s."""
    path = Path(__file__).resolve().parents[1] / "data" / name
    rows = [line.split(",") for line in path.read_text().splitlines() if line[:1].isdigit()]
    first = np.datetime64(rows[0][0])
    return true.Creek("real", first, CFS * np.array([float(row[1]) for row in rows]))


def foretold(creek: true.Creek, start: int, years: int) -> tuple[float, np.ndarray]:
    """P90 of one year from `years` water years on, and what each other year would have brought."""
    import hydrokit as hk

    begins, ends = np.datetime64(f"{start}-10-01"), np.datetime64(f"{start + years}-10-01")
    here = creek.between(begins, ends)
    full = 1.2 * float(np.median(creek.flow))
    bore = float(np.sqrt(4 * full / np.pi / 1.5))
    plant = true.Plant(40.0, bore, 200.0, full, 0.6)
    site: dict[str, Any] = {
        "site": {"name": "Record", "place": "as measured", "altitude": "300 m", "water_temperature": "10 degC"},
        "stream": {"record": "flow.csv", "record_uncertainty": "1 %"},
        "rights": {"residual": [{"rule": "fixed", "flow": f"{1000 * 0.2 * full:g} L/s"}]},
        "penstock": {"head": "40 m ± 0.01 m", "length": "200 m", "entry": 1.5, "pipe": [{"inside_diameter": f"{1000 * bore:g} mm", "roughness": "0.03 mm"}]},
        "turbine": {"kind": "pelton", "jets": 1, "jet_kind": "spear", "design_flow": f"{1000 * full:g} L/s", "efficiency_table": "maker.csv"},
        "generator": {"water_to_wire": "60 %"},
        "uncertainty": {"draws": 1000, "efficiency": "1 %", "loss": "1 %", "jet_area": "1 %"},
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(place)
        (folder / "site.toml").write_text(toml(site), encoding="utf-8")
        (folder / "maker.csv").write_text("flow [%],efficiency [%]\n2,80\n100,80\n")
        (folder / "flow.csv").write_text(
            "date,flow [L/s]\n"
            + "".join(
                f"{day},{1000 * flow:.5g}\n"
                for day, flow in zip(creek.date[here], creek.flow[here])
            )
        )
        secure = float(hk.open_study(folder).answer("energy.annual.p90").value)
    kwh = plant.power(np.maximum(creek.flow - 0.2 * full, 0.0)) * 24 / 1000
    labels = true.water_years(creek.date)
    others = ~np.isin(labels, np.unique(labels[here]))
    whole = [each for each in np.unique(labels[others]) if np.sum(labels == each) >= 365]
    return secure, np.array([kwh[labels == each].sum() for each in whole])


def backtest() -> dict[int, tuple[int, int]]:
    """Years foretold and those above the P90, by how many years it rests on."""
    found = defaultdict(lambda: np.zeros(2, dtype=int))
    for name in RECORDS:
        creek = record(name)
        first, last = (int(str(day)[:4]) for day in (creek.date[0], creek.date[-1]))
        for years in YEARS:
            starts = np.linspace(first, last - 1 - years, WINDOWS).astype(int)
            for start in np.unique(starts):
                secure, others = foretold(creek, int(start), years)
                found[years] += len(others), int((others > secure).sum())
    return {years: (int(count), int(above)) for years, (count, above) in found.items()}
