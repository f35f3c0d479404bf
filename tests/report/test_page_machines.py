"""Several machines from the site file to the page."""

import copy
import re

import pytest
from small_study import SITE, write

from hydrokit.errors import InputError
from hydrokit.report.display import Picture
from hydrokit.report.pages.p04 import parts_list
from hydrokit.report.pages.p05 import machines as page
from hydrokit.study.opening import open_study

TWO = [
    {"name": "<big>", "design_flow": "14 L/s"},
    {"name": "small", "design_flow": "5 L/s", "efficiency": "70 %"},
]


@pytest.fixture(scope="module")
def study_of(tmp_path_factory):
    made = {}

    def opened(name, turbine=None, **sections):
        if name not in made:
            site = copy.deepcopy(SITE) | {"turbine": turbine or {"kind": "francis"}} | sections
            site.pop("upgrade")  # of jets, which these have not
            made[name] = open_study(write(tmp_path_factory.mktemp("machines") / name, site))
        return made[name]

    return opened


def said(study, system="metric"):
    # efficiency at part load is any plant's
    sets = [name for name in page.__all__ if name.startswith("sets_")]
    shown = [getattr(page, name)(study, study.view(system)) for name in sets]
    return "\n".join(each.alt if isinstance(each, Picture) else str(each) for each in shown)


def test_a_big_and_a_small_one(study_of):
    study = study_of("two", machine=TWO)
    text = said(study)
    assert study.plant.jets.sets == (("small",), ("<big>",), ("small", "<big>"))
    assert (
        "share the head loss of the penstock" in text
        and "&lt;big&gt;" in text
        and not re.search(r"\b(nan|inf|None)\b", text)
    )
    assert "gpm" in said(study, "us") and "L/s" not in said(study, "us")
    kwh = [row[-1] for row in page.sets_table(study, study.view()).rows]
    # of the record's days as they come; the year of the page takes off no stops here either
    assert sum(kwh) == pytest.approx(study.year.annual_kwh, rel=2e-3)
    listed = str(parts_list.buying_table(study, study.view()))
    assert "Francis turbine 'small'" in listed and "one of 2 on the penstock" in listed
    assert (
        study.energy_uncertainty is not None
        and study.money is not None
        and study.day_by_day is not None
    )


def test_alike_they_are_units_of_one_turbine(study_of):
    alike = study_of(
        "alike",
        machine=[
            {"name": "east", "design_flow": "7 L/s"},
            {"name": "west", "design_flow": "7 L/s"},
        ],
    )
    units = study_of("units", turbine={"kind": "francis", "design_flow": "14 L/s", "jets": 2})
    assert alike.year.annual_kwh == units.year.annual_kwh and said(alike).strip() == ""


def test_two_kinds_of_machine(study_of):
    study = study_of(
        "kinds",
        machine=[TWO[0], {"design_flow": "5 L/s", "kind": "cross-flow", "minimum_flow": "8 %"}],
    )
    assert [each.part_load.kind for each in study.plant.jets.machines] == [
        "francis",
        "cross-flow",
    ] and "machine 2" in said(study)


@pytest.mark.parametrize(
    "machine, says",
    [
        ([{"design_flow": "5 L/s", "kind": "windmill"}, TWO[0]], "windmill"),
        ([{"design_flow": f"{n} L/s"} for n in range(1, 6)], "1 to 4 machines"),
    ],
)
def test_slips_are_told(study_of, machine, says):
    with pytest.raises(InputError, match=says):
        assert study_of(says, machine=machine).plant


def test_without_several_machines_the_page_is_silent(study_of):
    assert said(study_of("one", turbine=SITE["turbine"])).strip() == ""
