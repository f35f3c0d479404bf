"""Cells that step back where data lack, sums by hand held against answers, results that show themselves."""

from dataclasses import is_dataclass

import pytest
import shared
from IPython.core.interactiveshell import InteractiveShell

import hydrokit as hk
from hydrokit.plant.parts import FixedJets
from hydrokit.report import workbook
from hydrokit.report.showing import table_of
from hydrokit.result import Result
from hydrokit.sentences import plain_number
from hydrokit.study.answer import Answer
from hydrokit.study.study import Study
from hydrokit.study.view import View


@pytest.fixture(scope="module")
def study():
    return shared.small()


@pytest.fixture
def shell(study):
    made = InteractiveShell()
    made.extension_manager.reload_extension("hydrokit.report.workbook")
    made.push({"s": study, "view": study.view("us"), "hk": hk})
    return made


def test_a_cell_runs_where_the_study_has_what_it_needs(shell):
    worth = shell.run_cell("%%needs head\nheight = s.head\nheight.value * 2").result
    assert worth == 2 * shell.user_ns["height"].value


def test_a_cell_steps_back_in_one_line_where_it_has_not(shell):
    said = shell.run_cell("%%needs head, log\nnever = 1 / 0").result
    assert said.text == "*Not shown: a log of readings is lacking.*"
    assert "never" not in shell.user_ns


def test_a_cell_steps_back_where_an_answer_is_not_known(shell):
    said = shell.run_cell("%%needs heat.needed\n1 / 0").result
    assert (
        said.text == "*Not worked here: the heat that the rooms need is not known to this study.*"
    )


def test_a_cell_steps_back_quietly_where_a_part_is_not_there(shell, study):
    assert shell.run_cell("%%needs site.weir.kind\n1 / 0").result is None
    assert shell.run_cell("%%needs site.site.name\n1 + 1").result == 2


def test_an_error_in_such_a_cell_is_an_error(shell):
    ran = shell.run_cell("%%needs head\n1 / 0", silent=True)
    assert isinstance(ran.error_in_exec, ZeroDivisionError)


def test_a_frame_is_a_table_of_the_page():
    import numpy as np
    import pandas as pd

    frame = pd.DataFrame(
        {"energy [kWh]": [1820.4, 12510.0], "more": [np.nan, 670.0]}, index=["1 L/s", "2 L/s"]
    )
    shown = workbook.table(frame.rename_axis("size"), "Each size")
    assert repr(shown).splitlines() == [
        "size | energy [kWh] | more", "1 L/s | 1,820 | ", "2 L/s | 12,500 | 670"
    ]  # fmt: skip
    assert "<caption>Each size</caption>" in shown._repr_html_()


def test_the_extension_is_loaded_again_without_a_word(shell, capsys):
    shell.extension_manager.reload_extension("hydrokit.report.workbook")
    assert capsys.readouterr().out == ""


JETS = FixedJets((0.012, 0.012), 0.95)
HEAD = Answer("head.gross", 50.0, "head", digits=3)


@pytest.mark.parametrize(
    "by_hand, said",
    [
        ("50.02 m", "the same to 3 digits"),
        ("164.05 ft", "the same to 3 digits"),
        ("51 m", "2 % apart"),
    ],
)
def test_a_sum_by_hand_is_held_against_the_answer(by_hand, said):
    assert said in workbook.agreement(View(), "the head", hk.Q_(by_hand), HEAD).text


def test_a_result_has_the_digits_that_it_has_elsewhere_on_the_page():
    fills = hk.Q_("2177 s")
    said = workbook.agreement(View(), "the filling", fills, fills, kind="duration", digits=2).text
    assert "36 minutes" in said and "36.3" not in said


def test_energy_by_hand_is_in_kwh():
    answer = Answer("energy.net", 1000.0, "kWh", digits=3)
    assert "the same" in workbook.agreement(View(), "the energy", hk.Q_("3.6 GJ"), answer).text


def test_what_is_not_known_is_not_held_against_anything():
    assert "not known" in workbook.agreement(View(), "the head", hk.Q_("50 m"), None).text


def test_answers_stand_with_interval_evidence_and_source(study):
    table = workbook.answers(
        study, study.view("metric"), {"gross head": "head.gross", "heat": "heat.needed"}
    )
    known, unknown = table.rows
    assert known[0] == "gross head" and "38 m" in known[1] and known[3] and known[4]
    assert unknown[1] == "not known"


def test_a_result_shows_itself_in_the_readers_units(shell, study):
    html = shell.display_formatter.formatters["text/html"](JETS)
    assert "0.472 in" in html and "hk-table" in html
    assert "mm" in str(table_of(JETS, View("metric")))


def test_what_shows_itself_still_does(shell, study):
    html = shell.display_formatter.formatters["text/html"]
    assert html(1.5) is None and html(study) is None


def test_a_parameter_that_the_notebook_has_not_is_refused():
    own, given = 'study = "a"\ndisplay = ""', '# Parameters\nstuddy = "b"\ndisplay = "us"'
    with pytest.raises(hk.InputError, match="studdy: .*did you mean 'study'"):
        workbook.refuse_unknown([own, given])
    workbook.refuse_unknown([own, given.replace("studdy", "study")])


def test_bad_input_is_told_in_a_notebook_without_a_traceback(shell, capsys):
    shell.run_cell('hk.open_study("no-such-study")')
    said = capsys.readouterr().out
    assert "there is no such study" in said and "Traceback" not in said and "find_study" not in said


def test_a_result_is_drawn_in_one_call_and_shown_where_it_ends_a_cell(shell, study):
    demo = shared.demo("alder-burn")
    shell.push({"s": demo, "workbook": workbook})
    for cell, label in (
        ("workbook.plot(s.record)", "flow [gpm]"),
        ("workbook.plot(s.duration)", "flow [gpm]"),
        ("workbook.plot(s.rating)", "flow [gpm]"),
        ("workbook.plot(s.plant.curves()[0])", "power [W]"),
        ("workbook.plot(s.answer('energy.month.p50'))", "energy.month.p50 [kWh]"),
    ):
        axes = shell.run_cell(cell).result
        assert axes.get_ylabel() == label and axes.has_data()
    data, told = shell.display_formatter.format(axes)
    assert data["image/png"][:4] == b"\x89PNG" and "kWh" in told["image/png"]["alt"]
    kwh = demo.answer("energy.month.p50").value
    least, most = (plain_number(each, 3) for each in (min(kwh), max(kwh)))
    assert told["image/png"]["alt"].endswith(f", from {least} to {most}")
    # Into axes of one's own.
    assert workbook.plot(demo.duration, ax=axes, view=demo.view("metric")) is axes
    with pytest.raises(hk.HydrokitError, match="no figure of a Chain.*plot.s.duration"):
        workbook.plot(demo.plant)


def test_results_give_table_and_figure_without_a_notebook_and_in_its_units_within_one(shell, study):
    flow = hk.float_gauging("0.45 m/s", "0.35 m^2", 0.8)
    shell.extension_manager.unload_extension("hydrokit.report.workbook")
    assert flow.table().loc["flow", "value"] == View().amount(flow.flow_m3s, "flow")
    shell.extension_manager.load_extension("hydrokit.report.workbook")
    shell.push({"flow": flow})
    told = shell.run_cell("flow.table()").result
    assert list(told) == ["value"] and told.loc["flow", "value"].endswith("gpm")
    assert told.loc["flow", "value"] in flow._repr_html_()
    for cell, label in (
        ("s.duration.plot()", "flow [gpm]"),
        ("s.profile.plot()", "level [ft]"),
        ("s.year.plot()", "energy of a mean month [kWh]"),
        ("s.answer('energy.month.p50').plot()", "energy.month.p50 [kWh]"),
    ):
        assert shell.run_cell(cell).result.get_ylabel() == label
    axes = study.rating.plot()
    assert study.rating.plot(axes) is axes
    with pytest.raises(hk.HydrokitError, match="no figure of a Gauging"):
        flow.plot()


# What the site file or a sheet holds is no result; the tables that a diagnosis is weighed with are none to read.
NO_RESULTS = {"FieldGaugings", "Finding", "Measured", "Readings", "Signatures", "Visit"}


def results(value):
    """All that is a dataclass of hydrokit's in what a study hands out."""
    if is_dataclass(value) and type(value).__module__.startswith("hydrokit."):
        yield value
    elif isinstance(value, (tuple, list)):
        for each in value:
            yield from results(each)


def test_every_result_of_a_study_gives_table_and_figure(study):
    """One form for all: whoever adds a result has it from Result."""
    seen = set()
    for name in (each for each in dir(Study) if not each.startswith("_")):
        for each in results(getattr(study, name)):
            if type(each).__name__ not in NO_RESULTS and type(each) not in seen:
                seen.add(type(each))
                assert isinstance(each, Result), f"{name}: {type(each).__name__} is no Result"
                assert list(each.table()) == ["value"] or "table" in vars(type(each)), name
    assert len(seen) > 50
