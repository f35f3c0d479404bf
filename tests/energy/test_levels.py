"""The levels of reliability stand in one list."""

import json
import subprocess
import sys

import small_study

OTHERS = """
import json, sys
import hydrokit.energy.levels as levels
levels.LEVELS, levels.SECURE, levels.SECURE_NAME = (50, 75, 95, 99), 95, "P95"  # the two lines
from hydrokit.report.comparison import candidate, ordered, table_text
from hydrokit.report.pages import comparison as compared
from hydrokit.report.pages.p05 import year as page, year_figures
from hydrokit.report.registers import risk_table
from hydrokit.study.answers import numbers
from hydrokit.study.opening import open_study
study = open_study(sys.argv[1])
answers = {level: study.answer(f"energy.annual.p{level}").value for level in levels.LEVELS}
order = ordered([candidate(study)])
shown = (page.headline, page.month_table, page.sure_table, page.steps_table, page.uncertainty_words)
drawn = (year_figures.month_figure, year_figures.steps_figure)
view = study.view()
texts = [str(each(study, view)) for each in shown] + [each(study, view).alt for each in drawn]
print(json.dumps({
    "answers": [float(answers[level]) for level in levels.LEVELS],
    "columns": [*page.sure_table(study, view).columns],
    "results": list(numbers(study)["uncertainty"]),
    "texts": [*texts, table_text(order, [""], view), repr(compared.numbers_table(order, view)), repr(risk_table(study, view))],
}))
"""


def test_p95_instead_of_p90_is_said_in_one_place(tmp_path):
    small_study.write(tmp_path)
    told = subprocess.run(
        [sys.executable, "-c", OTHERS, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(told.stdout)
    assert found["answers"] == sorted(found["answers"], reverse=True)
    assert len(set(found["answers"])) == 4
    assert {"annual_p95_kwh", "mean_p95_kwh"} <= set(found["results"])
    assert "P95 [kWh]" in found["columns"]
    for text in found["texts"]:
        assert "P90" not in text
