"""What a study lacks is told once: one line at the end of a page, one list on the page of the whole story."""

from nbformat.v4 import new_code_cell, new_markdown_cell, new_output

from hydrokit.report.arranged import gathered
from hydrokit.report.next_measurements import everything
from hydrokit.site.new_study import write_thin_study
from hydrokit.study.opening import open_study

NO_RECORD = "*Not shown: a daily record is lacking.*"


def cell(*texts):
    outputs = [new_output("display_data", data={"text/markdown": text}) for text in texts]
    return new_code_cell("show()", outputs=outputs)


def test_sections_that_only_lack_are_one_line_and_the_rest_stays():
    heading = [new_markdown_cell(f"## {title}") for title in ("First", "Second", "Third")]
    shown = gathered(
        [
            heading[0], new_markdown_cell("An equation."), cell(NO_RECORD),
            heading[1], cell("42 kWh"), cell(NO_RECORD), cell(NO_RECORD),
            heading[2], cell(NO_RECORD), cell("*Not shown: a weir is lacking. Measure it.*"),
        ]
    )  # fmt: skip
    said = [
        each.source if each.cell_type == "markdown" else each.outputs[0].data["text/markdown"]
        for each in shown
    ]
    assert said == [
        "## Second", "42 kWh", NO_RECORD,
        "*Left out for want of data: First, Third (a daily record is lacking).*",
    ]  # fmt: skip


def test_what_to_measure_is_one_list_the_ranked_first_and_nothing_twice(tmp_path):
    write_thin_study(tmp_path / "mine", "gauge-only", "us")
    study = open_study(tmp_path / "mine")
    told = everything(study, study.view())
    narrowing = ["narrows" in each for each in told]
    assert narrowing == sorted(narrowing, reverse=True) and sum(narrowing) == 3
    assert len(told) == len(set(told)) and any("no daily record" in each for each in told)
    assert not any("There are no gaugings" in each for each in told)  # the bucket's day is one
