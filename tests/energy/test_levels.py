"""The levels of reliability stand in one list."""

import json
import subprocess
import sys

import small_study

ONE_MORE = """
import json, sys
import hydrokit.energy.levels as levels
levels.LEVELS = (50, 75, 90, 95, 99)  # the one line
from hydrokit.report.pages.p05 import year as page
from hydrokit.study.answers import numbers
from hydrokit.study.opening import open_study
study = open_study(sys.argv[1])
answers = {level: study.answer(f"energy.annual.p{level}").value for level in levels.LEVELS}
print(json.dumps({
    "answers": [float(answers[level]) for level in levels.LEVELS],
    "months": study.answer("energy.month.p95") is not None,
    "columns": [*page.sure_table(study, study.view()).columns, *page.month_table(study, study.view()).columns],
    "results": list(numbers(study)["uncertainty"]),
}))
"""


def test_one_more_level_is_one_line(tmp_path):
    small_study.write(tmp_path)
    told = subprocess.run(
        [sys.executable, "-c", ONE_MORE, str(tmp_path)], capture_output=True, text=True, check=True
    )
    found = json.loads(told.stdout)
    assert found["answers"] == sorted(found["answers"], reverse=True)
    assert len(set(found["answers"])) == 5 and found["months"]
    assert found["columns"].count("P95 [kWh]") == 2
    assert "annual_p95_kwh" in found["results"]
