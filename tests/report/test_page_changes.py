"""The figures of the changes: a colour belongs to a change wherever it stands, and what does not pay is hatched."""

import pytest
from matplotlib.patches import Rectangle
from small_study import changed

from hydrokit.report.pages.p08 import steps

UPGRADES = [
    {"name": "a third jet", "cost": 200, "jets": 3},
    {"name": "the wider pipe", "cost": 9000, "pipe": "PVC-U PN 10 160 mm"},
    {"name": "fewer stops", "cost": 30, "unplanned": "1 %"},
]


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return changed(
        tmp_path_factory.mktemp("changes") / "s", upgrade=UPGRADES, outage={"unplanned": "8 %"}
    )


def drawn(picture):
    """Colour and hatch of each bar, by its label."""
    axes = picture.figure.axes[0]
    names = {
        round(at): label.get_text().replace("\n", " ")
        for at, label in zip(axes.get_yticks(), axes.get_yticklabels())
    }
    bars = [
        each for each in axes.patches if isinstance(each, Rectangle) and each.get_linewidth() == 0.6
    ]
    return {
        names[round(each.get_y() + each.get_height() / 2)]: (
            each.get_facecolor(),
            bool(each.get_hatch()),
        )
        for each in bars
    }


def test_a_change_keeps_its_colour_and_what_does_not_pay_is_hatched(study):
    view, found = study.view(), study.upgrades
    worth = drawn(steps.worth_figure(study, view))
    stairs = drawn(steps.staircase_figure(study, view))
    assert len(worth) == len(found.steps) > 1 and stairs.items() <= worth.items()
    assert len({colour for colour, _ in worth.values()}) == len(worth)
    for step in found.steps:
        assert worth[" with ".join(step.names)][1] is (step.pays is False)
    other = study.changed({"costs.value": "0.9 per kWh"})  # another order, the same colours
    again = drawn(steps.worth_figure(other, view))
    assert {name: colour for name, (colour, _) in again.items()} == {
        name: colour for name, (colour, _) in worth.items() if name in again
    }


def test_the_figures_say_what_they_show(study):
    view = study.view()
    said = steps.worth_figure(study, view).alt
    assert "does not pay" in said and "money" in said
    stairs = steps.staircase_figure(study, view).alt
    assert "as planned" in stairs and "fewer stops" in stairs
