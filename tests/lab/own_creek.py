"""A made-up learner's numbers for the cells in which the lessons write a study of one's own, in both unit systems."""

import ast
from pathlib import Path

import nbformat

LESSONS = Path(__file__).resolve().parents[2] / "notebooks" / "lessons"

NUMBERS = {
    "metric": {
        "site.name": "Wren Beck",
        "site.place": "a cottage, invented",
        "site.altitude": "380 m",
        "site.stage_of_work": "existing",
        "site.display": "metric",
        "stream.gaugings": [
            ("2026-02-20", "6.2 L/s", "4 %", "bucket"),
            ("2026-06-01", "8.4 L/s", "4 %", "bucket"),
            ("2026-10-12", "14 L/s", "12 %", "float"),
        ],
        "penstock.static_pressure": "4.5 bar ± 0.1 bar",
        "penstock.length": "250 m ± 10 m",
        "penstock.pipe.size": "PE100 SDR 17 110 mm",
        "turbine.kind": "pelton",
        "turbine.jets": 2,
        "turbine.jet_diameter": "14 mm",
        "generator.water_to_wire": "55 % ± 5 %",
        "rights.licence": "9 L/s",
        "rights.residual.rule": "fixed",
        "rights.residual.flow": "1 L/s",
        "stream.lowest_known_flow": "3 L/s",
        "site.catchment": "0.9 km^2",
        "part.kind": "screen",
        "part.area": "0.10 m^2",
        "part.open": "40 %",
        "part.head": "0.10 m",
        "penstock.profile": [("0 m", "445.9 m"), ("120 m", "421.5 m"), ("250 m", "400 m")],
        "penstock.cover": "0.3 m",
        "site.coldest": "-15 degC",
        "loads.demand": "500 kWh",
        "cable.length": "60 m",
        "cable.size": "16 mm2",
        "cable.voltage": "230 V",
        "site.currency": "crowns",
        "costs.value": "0.25 per kWh",
        "costs.fixed": 9000,
        "costs.per_power": "1400 per kW",
        "costs.laying": "18 per m",
        "readings.file": [
            ("2026-06-02", 0, "4.50 bar", None, "yes"),
            ("2026-06-02", 1, "4.43 bar", "1000 W", "yes"),
            ("2026-06-02", 2, "4.22 bar", "1870 W", "yes"),
        ],
    },
    "us": {
        "site.name": "Sedge Creek",
        "site.place": "a cabin, invented",
        "site.altitude": "1300 ft",
        "site.stage_of_work": "existing",
        "site.display": "us",
        "stream.gaugings": [
            ("2026-02-20", "100 gpm", "4 %", "bucket"),
            ("2026-06-01", "150 gpm", "4 %", "bucket"),
        ],
        "penstock.static_pressure": "65 psi ± 1 psi",
        "penstock.length": "800 ft ± 30 ft",
        "penstock.pipe.size": "4 in PVC Sch 40",
        "turbine.kind": "pelton",
        "turbine.jets": 2,
        "turbine.jet_diameter": "0.5 in",
        "generator.water_to_wire": "55 % ± 5 %",
        "rights.licence": "140 gpm",
        "rights.residual.rule": "fixed",
        "rights.residual.flow": "15 gpm",
        "stream.lowest_known_flow": "50 gpm",
        "site.catchment": "0.4 mi^2",
        "part.kind": "screen",
        "part.area": "1.1 ft^2",
        "part.open": "40 %",
        "part.head": "4 in",
        "penstock.profile": [("0 ft", "1450 ft"), ("400 ft", "1380 ft"), ("800 ft", "1300 ft")],
        "penstock.cover": "1 ft",
        "site.coldest": "5 degF",
        "loads.demand": "500 kWh",
        "cable.length": "200 ft",
        "cable.size": "6 AWG",
        "cable.voltage": "240 V",
        "site.currency": "dollars",
        "costs.value": "0.14 per kWh",
        "costs.fixed": 9000,
        "costs.per_power": "1400 per kW",
        "costs.laying": "6 per ft",
        "readings.file": [
            ("2026-06-02", 0, "65 psi", None, "yes"),
            ("2026-06-02", 1, "64.1 psi", "780 W", "yes"),
            ("2026-06-02", 2, "61.5 psi", "1480 W", "yes"),
        ],
    },
}


def own_cells():
    """Each lesson's stem with the source of its cell."""
    for path in sorted(LESSONS.glob("*.ipynb")):
        (cell,) = (
            each
            for each in nbformat.read(path, as_version=4).cells
            if "own" in each.metadata.get("tags", [])
        )
        yield path.stem, cell.source


def asked(source):
    """The keys that a cell asks for, in their order."""
    (first,) = (each for each in ast.parse(source).body if ast.unparse(each).startswith("mine = "))
    return list(ast.literal_eval(first.value))


def filled(source, numbers, sure=True):
    """The cell as a learner leaves it, with their numbers; what they lack stays None."""
    given = {key: numbers.get(key) for key in asked(source)}
    start, end = source.index("mine = {"), source.index("\n}\n") + 2
    text = source[:start] + f"mine = {given!r}" + source[end:]
    assert "sure = False" in text
    return text.replace("sure = False", f"sure = {sure}")
