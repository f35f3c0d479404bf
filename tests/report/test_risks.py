"""The register of risks: every problem and caution of a study stands under one risk, with the numbers of the answers."""

import pytest
import shared

from hydrokit.report import registers
from hydrokit.report.next_measurements import everything
from hydrokit.study.build.risks import KINDS, risks
from hydrokit.study.keyed import keys, plain


@pytest.fixture(scope="module", params=["three phases", "sizing decides"])
def study(request):
    return shared.odd(request.param)


def test_every_risk_has_its_row_and_every_finding_one_place(study):
    found = risks(study)
    assert [each.name for each in found][: len(KINDS)] == [each.name for each in KINDS]
    counted = [id(each) for risk in found for each in risk.findings if each.level != "note"]
    wanted = [each for each in study.findings() if each.level != "note"]
    assert len(counted) == len(set(counted)) == len(wanted) > 0
    for risk in found:
        levels = [each.level for each in risk.findings]
        assert levels == sorted(levels, key=("problem", "caution", "note").index)
        assert set(levels) <= {"problem", "caution"} or set(levels) == {"note"}
        graver = levels[:1] if risk.told or "note" not in levels else []
        assert risk.level == (graver[0] if graver else "none found" if risk.told else "not known")


def test_a_place_belongs_to_one_risk():
    wheres = [where for kind in KINDS for where in kind.wheres]
    assert len(wheres) == len(set(wheres))


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_table_has_the_answers_digits(study, system):
    view = study.view(system)
    table = registers.risk_table(study, view)
    told = [one for row in table.rows for one in keys(str(row[2]))]
    assert len(told) > 5
    for key, text in told:
        assert text == plain(view.shown(study.answer(key)))


def test_a_bare_study_knows_nothing_of_its_risks(tmp_path):
    site = '[site]\nname = "Bare Creek"\n'
    (tmp_path / "site.toml").write_text(site, encoding="utf-8")
    from hydrokit.study.opening import open_study

    bare = open_study(tmp_path)
    states = {each.name: each.level for each in risks(bare)}
    assert states["money"] == states["frost and ice"] == "not known"
    table = registers.risk_table(bare, bare.view())
    assert "8 permits not said" in plain(str(table.rows[1][2]))


def test_what_is_owed_is_the_list_of_the_index(study):
    view = study.view()
    shown = registers.owed(study, view)
    assert [line.partition(". ")[2] for line in shown.text.splitlines()] == everything(study, view)


def test_a_risk_of_which_only_notes_tell_is_not_called_free_of_findings():
    """A water column that may part is a note; the pipe's row says so, and that of the flood how to know more."""
    study = shared.demo("saltfern-creek")
    found = {each.name: each for each in risks(study)}
    burst, flood = found["burst or collapse of the pipe"], found["flood at intake and weir"]
    assert burst.level == "note" and "surge" in {each.where for each in burst.findings}
    assert flood.level == "not known" and flood.findings
