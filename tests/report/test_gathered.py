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
        "## Second",
        "42 kWh",
        NO_RECORD,
        "*Left out for want of data: First, Third (a daily record is lacking).*",
    ]


def test_what_explains_nothing_shown_is_left_out_and_what_is_folded_stays():
    """A heading with its method and no result is no section; cautions stay, and a fold keeps a heading that paper does without."""
    heading = [
        new_markdown_cell(f"## {title}\n\nA method.") for title in ("First", "Second", "Third")
    ]
    folded = cell("| a table |")
    folded.metadata["tags"] = ["detail"]
    caution = new_output("display_data", data={"text/html": "<div class='hk-caution'>Mind.</div>"})
    shown = gathered(
        [
            heading[0], cell(""), new_code_cell("cautions()", outputs=[caution]),
            heading[1], new_markdown_cell("An equation."), cell(NO_RECORD), folded,
            heading[2], cell("42 kWh"),
        ]
    )  # fmt: skip
    markdown = [each.source for each in shown if each.cell_type == "markdown"]
    assert markdown == [
        "## Second",
        "## Third\n\nA method.",
        "*Left out for want of data: Second (a daily record is lacking).*",
    ]
    assert shown[0].outputs == [caution] and folded in shown
    assert [bool(each.metadata.get("once")) for each in shown[:4]] == [False, True, True, False]


def test_what_to_measure_is_one_list_the_ranked_first_and_nothing_twice(tmp_path):
    write_thin_study(tmp_path / "mine", "gauge-only", "us")
    study = open_study(tmp_path / "mine")
    told = everything(study, study.view())
    narrowing = ["narrows" in each for each in told]
    assert narrowing == sorted(narrowing, reverse=True) and sum(narrowing) == 3
    assert len(told) == len(set(told)) and any("no daily record" in each for each in told)
    assert not any("There are no gaugings" in each for each in told)  # the bucket's day is one
