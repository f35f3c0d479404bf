"""The invented data of the demo studies: written again to the byte, and true to the laws they claim.

The oracles here import nothing from hydrokit nor from the scripts: the constants are written out
once more, and the operating points come from scipy.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import simpson
from scipy.optimize import brentq

ROOT = Path(__file__).resolve().parents[1]
ALDER, HAZEL, SALTFERN = (
    ROOT / "studies" / name for name in ("alder-burn", "hazel-beck", "saltfern-creek")
)
SCRIPTS = {
    ROOT / "data" / "make_long_gauge.py": {"long-gauge.csv"},
    ALDER / "make_data.py": {
        "flow.csv",
        "temperature.csv",
        "gaugings.csv",
        "stage.csv",
        "sheet_current_meter.csv",
        "sheet_salt.csv",
        "bucket.csv",
        "sheet_float.csv",
        "sheet_section.csv",
        "sheet_flood.csv",
        "penstock.csv",
        "points.csv",
        "diversion.csv",
    },
    HAZEL / "make_data.py": {"flow.csv", "gaugings.csv", "stage.csv", "penstock.csv"},
    SALTFERN / "make_data.py": {
        "temperature.csv",
        "gaugings.csv",
        "sheet_float.csv",
        "sheet_section.csv",
        "readings.csv",
        "line.csv",
        "penstock.csv",
        "log.csv",
        "events_truth.csv",
    },
}
DAILY = {
    ROOT / "data" / "long-gauge.csv": ("1993-10-01", "2025-09-30"),
    ALDER / "flow.csv": ("2011-10-01", "2025-09-30"),
    ALDER / "temperature.csv": ("2011-10-01", "2025-09-30"),
    SALTFERN / "temperature.csv": ("2020-09-01", "2025-08-31"),
}

FOOT, INCH, PSI, GPM = 0.3048, 0.0254, 6894.757, 6.30902e-5  # m, m, Pa, m3/s
WEIGHT = 999.75 * 9.80665  # of water at 9 degC, N/m3 (IAPWS density, standard gravity)


def read(path, **options):
    return pd.read_csv(path, comment="#", **options)


def name(path):
    return f"{path.parent.name}/{path.name}"


@pytest.mark.parametrize("script", SCRIPTS, ids=name)
def test_written_again_to_the_byte(script, tmp_path):
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True)
    made = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert set(made) == SCRIPTS[script]
    for file, content in made.items():
        assert b"\r" not in content
        committed = (
            (script.parent / file).read_bytes().replace(b"\r\n", b"\n")
        )  # a checkout on Windows may add CR
        assert content == committed, file


def test_headers_carry_units_and_the_whole_is_small():
    files = [script.parent / file for script, names in SCRIPTS.items() for file in names]
    assert sum(path.stat().st_size for path in files) < 1.5e6
    plain = {
        "date",
        "time",
        "method",
        "ice",
        "spilling",
        "needle",
        "note",
        "commissioning",
        "name",
        "part",
        "start",
        "end",
        "event",
        "size",
        "unit",
    }
    for path in files:
        for column in read(path).columns:
            assert column in plain or ("[" in column and column.endswith("]")), (path, column)


@pytest.mark.parametrize("path", DAILY, ids=name)
def test_daily_records_are_whole(path):
    days = pd.to_datetime(read(path)["date"])
    assert list(days) == list(pd.date_range(*DAILY[path]))


@pytest.mark.parametrize(
    "path", [ROOT / "data" / "long-gauge.csv", ALDER / "flow.csv", HAZEL / "flow.csv"], ids=name
)
def test_no_negative_flow(path):
    flow = read(path).iloc[:, 1]
    assert flow.notna().all() and (flow > 0).all()


def test_the_burn_is_believable():
    flow = read(ALDER / "flow.csv", index_col="date", parse_dates=True)["flow [L/s]"]
    assert 50 < flow.mean() < 60
    assert 0.12 < flow.quantile(0.05) / flow.mean() < 0.18
    assert 0.6 < flow.autocorr(1) < 0.9
    by_month = flow.groupby(flow.index.month).mean()
    assert by_month.idxmin() in (6, 7, 8) and by_month.idxmax() in (12, 1, 2)
    by_year = flow.groupby(flow.index.year + (flow.index.month >= 10)).mean()
    assert by_year.min() < 0.55 * flow.mean()  # the very dry year
    low = flow[flow.index.year > 2011].groupby(lambda day: day.year).min()
    assert (
        low.between(5, 18).all() and (low < 10).sum() >= 7
    )  # most summers are dry enough to stop a plant


def test_neighbours_rise_and_fall_together():
    flows = {
        path: read(path, index_col="date", parse_dates=True).iloc[:, 0]
        for path in (ROOT / "data" / "long-gauge.csv", ALDER / "flow.csv", HAZEL / "flow.csv")
    }
    together = np.log(pd.concat(flows.values(), axis=1).sort_index().dropna())
    assert len(together) > 2.2 * 365
    correlation = np.corrcoef(together.to_numpy().T)
    assert (correlation > 0.93).all() and (correlation[np.triu_indices(3, 1)] < 0.995).all()


RATINGS = {ALDER: (1300.0, 0.050, 2.05), HAZEL: (900.0, 0.035, 1.9)}


@pytest.mark.parametrize("study", RATINGS, ids=lambda path: path.name)
def test_gaugings_follow_the_true_rating(study):
    a, zero, exponent = RATINGS[study]
    gaugings = read(study / "gaugings.csv")
    rated = a * (gaugings["stage [m]"] - zero) ** exponent
    from_stage = (
        100 * exponent * 0.0025 / (gaugings["stage [m]"] - zero)
    )  # 2.5 mm of noise in the stage
    allowed = np.hypot(gaugings["uncertainty [%]"], from_stage)
    off = 100 * (gaugings["flow [L/s]"] / rated - 1) / allowed
    frozen = gaugings["ice"] == "yes"
    assert (off[~frozen].abs() < 3).all()
    assert (off[frozen] < -2).all()  # ice lifts the stage: the rating reads too much
    logged = (
        read(study / "flow.csv", index_col="date")["flow [L/s]"]
        .reindex(gaugings["date"])
        .to_numpy()
    )
    assert (
        np.abs(gaugings["flow [L/s]"] / logged - 1)
        < 3 * np.hypot(gaugings["uncertainty [%]"], 4) / 100
    ).all()


def test_low_gaugings_are_few():
    gaugings = read(ALDER / "gaugings.csv")
    assert (
        len(gaugings) == 14
        and (gaugings["flow [L/s]"] < 12).sum() == 3
        and (gaugings["ice"] == "yes").sum() == 1
    )
    assert len(read(HAZEL / "gaugings.csv")) == 7


def test_stage_record_follows_flow():
    a, zero, exponent = RATINGS[ALDER]
    stage = read(ALDER / "stage.csv", index_col="date", parse_dates=True)
    flow = read(ALDER / "flow.csv", index_col="date", parse_dates=True)["flow [L/s]"]
    off = stage["stage [m]"] - (zero + (flow.reindex(stage.index) / a) ** (1 / exponent))
    frozen = stage["ice"] == "yes"
    assert off[~frozen].abs().max() < 0.010 and 0.001 < off[~frozen].std() < 0.003
    assert (off[frozen] > 0.02).all()
    steps = stage.index.to_series().diff().dt.days.dropna()
    assert sorted(steps.unique()) == [1, 7] and (steps == 7).sum() == 1  # one gap of six days


def test_field_sheets_add_up():
    gaugings = read(ALDER / "gaugings.csv", index_col="date")["flow [L/s]"]
    sheet = read(ALDER / "sheet_current_meter.csv")
    distance, depth, velocity = (sheet[column].to_numpy() for column in sheet)
    edges = np.r_[distance[0], (distance[1:] + distance[:-1]) / 2, distance[-1]]
    assert gaugings["2024-04-10"] == pytest.approx(
        1000 * (np.diff(edges) * depth * velocity).sum(), rel=0.002
    )
    salt = read(ALDER / "sheet_salt.csv")
    rise = salt["conductivity [uS/cm]"] - salt["conductivity [uS/cm]"][:6].mean()
    # 150 g; 0.486 mg/L for each uS/cm; 1 %: a background read to 0.1 uS/cm over ten minutes
    assert gaugings["2024-07-04"] == pytest.approx(
        150e3 / (0.486 * simpson(rise, x=salt["time [s]"])), rel=0.01
    )
    assert rise.iloc[-10:].mean() < 0.01 * rise.max()  # the tail has passed
    bucket = read(ALDER / "bucket.csv")
    assert gaugings["2025-08-06"] == pytest.approx(
        bucket["volume [L]"].sum() / bucket["time [s]"].sum(), rel=0.002
    )


@pytest.mark.parametrize(
    "study, fall, length", [(ALDER, 46.0, 380), (HAZEL, 31.0, 255), (SALTFERN, 134.4, 1110)]
)
def test_penstocks_stay_below_their_running_grade(study, fall, length):
    line = read(study / "penstock.csv")
    chainage, elevation = line.iloc[:, 0].to_numpy(), line.iloc[:, 1].to_numpy()
    assert (np.diff(chainage) > 0).all() and chainage[-1] == length
    assert elevation[0] - elevation[-1] == pytest.approx(fall, abs=0.1)
    running = (
        elevation[0] - fall / 3 * chainage / length
    )  # a third of the fall lost: more than any sensible plant
    assert (elevation[1:] < running[1:]).all()
    assert ((np.diff(elevation) > 0).any()) == (study == ALDER)  # the gentle hump


@pytest.mark.parametrize(
    "sheet, fall, high_points",
    [(ALDER / "diversion.csv", 1.25, 1), (SALTFERN / "line.csv", 16.1, 2)],
)
def test_diversions_fall_over_high_points(sheet, fall, high_points):
    elevation = read(sheet).iloc[:, 1].to_numpy()
    assert elevation[0] - elevation[-1] == pytest.approx(fall)
    inner = elevation[1:-1]
    assert ((inner > elevation[:-2]) & (inner > elevation[2:])).sum() == high_points
    assert (elevation[1:] < elevation[0]).all()


# ---- saltfern-creek ----------------------------------------------------------------------------------
AREA, COEFFICIENT, ROUGHNESS = np.pi / 4 * (0.75 * INCH) ** 2, 0.935, 8e-6
PIPES = (
    (6.065 * INCH, 915 * FOOT, 0.0),
    (4.154 * INCH, 195 * FOOT, 2.2),
)  # bore, length, loss coefficients of what is on it
STATIC = 134.4 * FOOT


def running_psi(jets):
    """Pressure at the jets with the settling box spilling: scipy's root of the energy equation, Colebrook inside."""

    def left_over(flow):
        loss = 0.0
        for bore, length, fittings in PIPES:
            velocity = flow / (np.pi / 4 * bore**2)
            reynolds = velocity * bore / 1.342e-6

            def colebrook(friction):
                return 1 / friction**0.5 + 2 * np.log10(
                    ROUGHNESS / bore / 3.7 + 2.51 / (reynolds * friction**0.5)
                )

            loss += (
                (brentq(colebrook, 0.005, 0.1) * length / bore + fittings) * velocity**2 / 19.6133
            )
        return STATIC - loss - (flow / (jets * COEFFICIENT * AREA)) ** 2 / 19.6133

    flow = brentq(left_over, 1e-4, 0.1)
    return (flow / (jets * COEFFICIENT * AREA)) ** 2 / 19.6133 * WEIGHT / PSI


def water_to_wire(jets, pressure_psi, watts):
    """Efficiency from the reading alone: the jets and the gauge are the flow meter."""
    head = pressure_psi * PSI / WEIGHT
    return watts / (WEIGHT * jets * COEFFICIENT * AREA * np.sqrt(19.6133 * head) * head)


def test_readings_obey_jets_and_pipe():
    readings = read(SALTFERN / "readings.csv")
    shut, running = readings[readings["jets [-]"] == 0], readings[readings["jets [-]"] > 0]
    at_rest = STATIC * WEIGHT / PSI
    assert (abs(shut["pressure [psi]"] - at_rest) < 0.03 * at_rest).all() and (
        running["pressure [psi]"] < at_rest
    ).all()
    first_day = running[running["date"] == "2023-03-11"]
    assert (
        list(first_day["jets [-]"]) == [1, 2, 3, 4]
        and (first_day["pressure [psi]"].diff().dropna() < 0).all()
    )
    for _, row in running.iterrows():
        healthy = running_psi(row["jets [-]"])
        if row["spilling"] == "yes":
            assert row["pressure [psi]"] == pytest.approx(
                healthy, rel=0.03
            )  # three times the gauge's noise, half a psi read
            # meters, and three gauge noises to the power 1.5
            assert (
                0.48
                < water_to_wire(row["jets [-]"], row["pressure [psi]"], row["watts [W]"])
                < 0.61
            )
        else:
            assert row["pressure [psi]"] < 1.01 * healthy and row["needle"] == "fluctuates"


def test_closing_an_under_fed_jet_pays():
    day = read(SALTFERN / "readings.csv").query("date == '2023-06-24'").set_index("jets [-]")
    assert day.loc[2, "watts [W]"] > 2 * day.loc[3, "watts [W]"]


def test_log_holds_what_was_seeded():
    log = read(SALTFERN / "log.csv", parse_dates=["time"], keep_default_na=False)
    assert log["time"].is_monotonic_increasing and log["time"].is_unique
    truth = read(SALTFERN / "events_truth.csv", parse_dates=["start", "end"])
    only = truth.drop_duplicates("event", keep=False).set_index("event")
    during = {
        event: log["time"].between(row.start, row.end, inclusive="left")
        for event, row in only.iterrows()
    }

    stopped = log[during["flume iced"]]
    assert len(stopped) >= 3 and (stopped[["jets [-]", "pressure [psi]", "watts [W]"]] == 0).all(
        axis=None
    )
    assert (log[during["flume icing"]]["pressure [psi]"] < 10).all()
    assert (log[during["slide"]]["pressure [psi]"] < 25).all()
    tripped = log[during["breaker tripped"]]
    assert (
        len(tripped) >= 2
        and (tripped["watts [W]"] == 0).all()
        and (tripped["pressure [psi]"] > 40).all()
    )
    assert (
        abs(log[during["regulator low"]]["volts [V]"] - only.loc["regulator low", "size"]) < 4
    ).all()
    assert (
        abs(log[(log["watts [W]"] > 0) & ~during["regulator low"]]["volts [V]"] - 240) < 5
    ).all()

    wear, high = only.loc["jet worn"], only.loc["gauge high"]
    for _, row in log[(log["spilling"] == "yes") & (log["jets [-]"] > 0)].iterrows():
        gained = (
            wear["size"]
            / 100
            * np.clip((row["time"] - wear["start"]) / (wear["end"] - wear["start"]), 0, 1)
        )
        off = high["size"] if high["start"] <= row["time"] < high["end"] else 0
        assert row["pressure [psi]"] == pytest.approx(
            running_psi(row["jets [-]"] + gained) + off, rel=0.04
        ), row["time"]

    brushed = truth[truth["event"] == "brushed"]["start"]
    assert (
        set(brushed) == set(log[log["note"].str.startswith("needles brushed")]["time"])
        and len(brushed) >= 10
    )
    brought = []
    for moment in brushed:
        row = log.index[log["time"] == moment][0]
        before, after = log.loc[row - 1], log.loc[row]
        assert (
            after["jets [-]"] == before["jets [-]"]
            and after["watts [W]"] > 0.96 * before["watts [W]"]
        )
        brought.append(after["watts [W]"] > 1.03 * before["watts [W]"])
    assert sum(brought) >= len(brought) - 1  # once the creek itself was short by then
    # two pages are lost
    gaps = log["time"].diff().dt.days
    assert (gaps > 12).sum() >= 2


def test_saltfern_is_mild_wet_and_thin():
    air = read(SALTFERN / "temperature.csv", index_col="date", parse_dates=True)[
        "temperature [degF]"
    ]
    assert (
        air[air.index.month == 1].mean() == pytest.approx(35, abs=1.5) and air.min() < 10
    )  # maritime, with outbreaks
    gaugings = read(SALTFERN / "gaugings.csv")
    assert len(gaugings) == 8 and gaugings["stage [ft]"].isna().any()
    assert not (SALTFERN / "flow.csv").exists()


def test_the_floats_make_the_gauging_of_their_day():
    runs, sections = read(SALTFERN / "sheet_float.csv"), read(SALTFERN / "sheet_section.csv")
    areas = [
        np.trapezoid(each["depth [ft]"], each["across [ft]"])
        for _, each in sections.groupby("station [ft]")
    ]
    mean = 0.82 * np.mean(runs["length [ft]"] / runs["time [s]"])  # a shallow bed of fine gravel
    gauged = read(SALTFERN / "gaugings.csv").query("method == 'float'")["flow [gpm]"].iloc[0]
    assert gauged == pytest.approx(np.mean(areas) * mean * FOOT**3 / GPM, rel=0.01)
