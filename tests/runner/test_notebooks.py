"""The notebooks, run as people run them, on real water."""

import shutil
import tomllib
from pathlib import Path

import pytest
import shared

from hydrokit.files import text_hash

ROOT = Path(__file__).resolve().parents[2]
STUDIES = sorted(each.parent.name for each in ROOT.glob("studies/*/results.toml"))
DATA = ROOT / "tests" / "data"


@pytest.fixture(scope="module")
def real_study(tmp_path_factory):
    """Black Earth Creek as a study of its own."""
    folder = tmp_path_factory.mktemp("studies") / "black-earth"
    shutil.copytree(DATA / "black-earth", folder)
    shutil.copy(DATA / "black_earth_creek_usgs05406500.csv", folder / "flow.csv")
    return folder


@pytest.mark.slow
def test_notebooks_on_a_real_record(real_study):
    from hydrokit.runner.run import run_study

    outcome = run_study(real_study, progress=lambda *_: None)
    reports = real_study / "reports"
    assert (reports / "index.html").is_file()
    pages = sorted(each.name for each in reports.glob("0*.html"))
    assert pages == sorted(
        each.with_suffix(".html").name for each in (ROOT / "notebooks").glob("0*.ipynb")
    )
    found = tomllib.loads((reports / "results.toml").read_text(encoding="utf-8"))
    # USGS hydrologic-index output for this record: mean 36.034 cfs, median 31.0 cfs.
    assert found["creek"]["mean_flow_m3s"] == pytest.approx(36.034 * 0.028316846592, rel=1e-4)
    assert found["creek"]["flow_50_percent_m3s"] == pytest.approx(31.0 * 0.028316846592, rel=1e-4)
    # The whole chain against an independent plain loop stands in test_year.py; here only that the
    # run's own number is a plausible share of what the water could give at most.
    head, flow = 18 * 0.3048, found["creek"]["usable_mean_m3s"]
    most_kwh = 999.7 * 9.80665 * flow * head * 8.766
    assert 0.3 * most_kwh < found["energy"]["annual_kwh"] < 0.8 * most_kwh
    assert outcome is not None


@pytest.mark.parametrize("study", STUDIES)
def test_accepted_results_still_come_out(study):
    """The committed headline numbers of the demos; a deliberate change edits that file in the same commit."""
    from hydrokit.runner.results import moved

    accepted = tomllib.loads(
        (ROOT / "studies" / study / "results.toml").read_text(encoding="utf-8")
    )
    # The fit to the readings is an optimiser: it ends within its own tolerance, and all that rests on it with it.
    fitted = ("works.", "plant.", "today.", "bracket.", "upgrades.")
    moves = moved(accepted, shared.demo(study).results())
    assert not [
        each
        for each in moves
        if not (each.name.startswith(fitted) and each.share is not None and abs(each.share) < 1e-4)
    ]


@pytest.mark.parametrize("name", STUDIES)
def test_accepted_results_are_of_the_files_that_lie_there(name):
    folder = ROOT / "studies" / name
    accepted = tomllib.loads((folder / "results.toml").read_text(encoding="utf-8"))["run"]["inputs"]
    now = {
        file: text_hash(
            ROOT / "data" / file.removeprefix("../data/")
            if file.startswith("../")
            else folder / file
        )
        for file in accepted
    }
    assert accepted == now, (
        "the study has changed since its numbers were accepted: run it, look, and accept them anew"
    )
