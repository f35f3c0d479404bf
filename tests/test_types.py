"""What an editor shows of a study and of public functions, and what is said to be anything at all."""

import ast
import re
from pathlib import Path

import hydrokit

ROOT = Path(hydrokit.__file__).parent


def completed(code):
    jedi = __import__("jedi")
    return {each.name: each for each in jedi.Script(code).complete()}


def test_an_editor_completes_a_study_and_its_results():
    opened = "from hydrokit.study.opening import open_study\ns = open_study('x')\n"
    study = completed(opened + "s.")
    assert {"duration", "penstock", "year", "answer", "described"} <= set(study)
    for result, names in {
        "duration": {"days", "mean_m3s", "flow_at"},
        "penstock": {"pipes", "length_m", "loss_si"},
        "year": {"annual_kwh", "winter_kwh", "monthly_kwh"},
        "rating": {"flow", "stage", "band"},
        "head": {"value", "relative"},
        "money": {"first_money", "case"},
        "upgrades": {"base", "end"},
        "answer('flow.median')": {"value", "low", "high", "evidence"},
        "diagnose()": {"findings"},
    }.items():
        assert names <= set(completed(f"{opened}s.{result}.")), result
