"""Notebooks 07 and 08 as workbooks: mostly working, and each sum by hand the study's own answer, with every term of payment given."""

import json
import re
from pathlib import Path

import pandas as pd
import pytest
from IPython.core.interactiveshell import InteractiveShell
from small_study import changed

import hydrokit as hk
from hydrokit.report import workbook
from hydrokit.report.display import Words

ROOT = Path(__file__).parents[2]
COSTS = {
    "yearly": "2 %", "life": 20, "laying": "14 per m", "cable": "9 per m", "export": "0.06 per kWh", "contingency": "10 %", "building_months": 9,
    "grant": 3000, "insurance": 110, "labour_visits": 20, "labour_rate": "12 per h", "residual_value": 1500, "removal": 600, "inflation": "2 %",
    "loan_years": 12, "loan_rate": "5.5 %", "loan_kind": "equal principal", "first_value": "0.5 per kWh", "first_energy": "900 kWh",
    "replacement": [{"name": "bearings", "cost": 500, "every": 7}],
}  # fmt: skip
UPGRADES = [
    {"name": "a third jet", "cost": 200, "jets": 3},
    {"name": "fewer stops", "cost": 30, "unplanned": "1 %"},
]


def cells(number):
    path = next((ROOT / "notebooks").glob(f"{number}_*.ipynb"))
    return [
        "".join(each["source"])
        for each in json.loads(path.read_text(encoding="utf-8"))["cells"]
        if each["cell_type"] == "code"
    ]


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return changed(
        tmp_path_factory.mktemp("workbook") / "s",
        costs=COSTS,
        upgrade=UPGRADES,
        outage={"unplanned": "8 %"},
    )


@pytest.mark.parametrize("number", ["07", "08"])
def test_at_most_half_of_the_cells_are_one_call_of_a_page(number):
    found = cells(number)
    single = [
        each
        for each in found
        if re.fullmatch(r"\w+\.\w+\(s, view.*\)|\w+\.\w+\(.*\)", each.strip())
    ]
    single = [each for each in single if not each.startswith("workbook.")]
    assert len(single) <= len(found) / 2, single


@pytest.mark.parametrize("number, sums", [("07", 7), ("08", 3)])
def test_sums_by_hand_are_the_answers_with_every_term_given(study, monkeypatch, number, sums):
    shell = InteractiveShell()
    shell.extension_manager.reload_extension("hydrokit.report.workbook")
    shell.push({"s": study, "view": study.view(), "hk": hk, "pd": pd, "workbook": workbook})
    said = []
    monkeypatch.setattr(workbook, "show", lambda *things: said.extend(things))
    for cell in cells(number):
        if "agreement(" in cell or "hk.annuity_factor" in cell or "change.apply" in cell:
            ran = shell.run_cell(cell)
            assert ran.error_in_exec is None
            said += [ran.result] if isinstance(ran.result, Words) else []
    text = [each.text for each in said]
    assert len(text) == sums
    assert all("the study says the same" in each for each in text), text


def test_results_give_a_table_that_draws_itself(study):
    from matplotlib.figure import Figure

    cover = study.debt_cover.table()
    assert list(cover) == ["p50", "p90_ten", "p90", "p99"] and len(cover) == 12
    axes = Figure().subplots()
    assert cover.plot(ax=axes) is axes and len(axes.lines) == 4
    assert study.accounts.table()["owner"].to_numpy() == pytest.approx(study.accounts.owner)
