"""Extreme but possible studies, worked out to the last number: never a traceback, never a bare exception."""

import copy
import random
import re
from datetime import date
from time import process_time

import pytest
import small_study
from test_hostile import assert_told, checked, place

from hydrokit.errors import HydrokitError
from hydrokit.report.pages.p04 import sizing
from hydrokit.study.opening import check_study, open_study

# --- size -----------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_hundred_years_of_days_are_checked_quickly(tmp_path):
    first = date(1925, 10, 1).toordinal()
    days = [date.fromordinal(first + number).isoformat() for number in range(36_525)]
    flow = "date,flow [L/s]\n" + "".join(
        f"{day},{10 + number % 37}\n" for number, day in enumerate(days)
    )
    air = "date,temperature [degC]\n" + "".join(
        f"{day},{number % 41 - 15}\n" for number, day in enumerate(days)
    )
    small_study.write(tmp_path, flow=flow, temperature=air)
    check_study(small_study.write(tmp_path / "warm"))  # so that imports are not timed
    began = process_time()
    assert checked(tmp_path) == "findings"
    assert process_time() - began < 10


# --- deeper: extreme but possible studies, worked out to the last number ----------------------


def changed(*changes, drop=(), **files):
    """A change of the small study: values at paths, paths dropped, other sheets."""

    def make(folder):
        site = small_study.SITE
        for path, value in changes:
            site = place(site, path, value)
        for path in drop:
            site = copy.deepcopy(site)
            held = site
            for step in path[:-1]:
                held = held[step]
            del held[path[-1]]
        return small_study.write(folder, site, **files)

    return make


HEADER, FLOWS = small_study.FILES["flow.csv"].split("\n", 1)
AIR = small_study.FILES["temperature.csv"].splitlines(keepends=True)
ONE_GAUGING = "date,stage [m],flow [L/s]\n2024-03-01,0.2,12\n"
QUICK = {
    "record of three days": changed(flow=HEADER + "\n" + "\n".join(FLOWS.split("\n")[:3]) + "\n"),
    "record of zeros": changed(flow=HEADER + "\n" + re.sub(r",.*", ",0", FLOWS)),
    "record of gaps": changed(flow=HEADER + "\n" + re.sub(r",.*", ",", FLOWS)),
    "one gauging and no record": changed(drop=[("stream", "record")], gaugings=ONE_GAUGING),
    "two equal stages": changed(
        drop=[("stream", "record")], gaugings=ONE_GAUGING + "2024-04-01,0.2,13\n"
    ),
    "residual above everything": changed((("rights", "residual", 0, "flow"), "900 L/s")),
    "no water may be taken": changed((("rights", "licence"), "0 L/s")),
    "a head of a hand": changed(
        (("penstock", "head"), "0.1 m"),
        (("penstock", "length"), "155 m"),
        drop=[("penstock", "profile")],
    ),
    "a head that the profile denies": changed((("penstock", "head"), "0.1 m")),
}
SLOW = {
    **{f"without [{name}]": changed(drop=[(name,)]) for name in small_study.SITE if name != "site"},
    **{f"without {name}": changed(drop=[path]) for name, path in {
        "altitude": ("site", "altitude"), "winter": ("site", "winter"), "gaugings": ("stream", "gaugings"), "record": ("stream", "record"), "temperature": ("stream", "temperature"),
        "licence": ("rights", "licence"), "residual": ("rights", "residual"), "pipe": ("penstock", "pipe"), "profile": ("penstock", "profile"), "jets": ("turbine", "jets"),
        "jet diameter": ("turbine", "jet_diameter"), "efficiency": ("turbine", "efficiency"), "demand": ("loads", "demand"), "value": ("costs", "value"), "prices": ("costs", "pipes"),
        "flows to try": ("sizing", "flows"),
    }.items()},
    "nothing costs anything": changed((("costs",), {"fixed": 0, "per_power": "0 per kW", "value": "0 per kWh"})),
    "one jet": changed((("turbine", "jets"), 1)),
    "a bore of a millimetre": changed((("turbine", "jet_diameter"), "1 mm")),
    "a pipe of a centimetre": changed((("penstock", "pipe", 0), {"inside_diameter": "10 mm", "roughness": "0.01 mm"})),
    "a pipe of ten metres": changed((("penstock", "pipe", 0), {"inside_diameter": "10 m", "roughness": "100 mm"})),
    "an adjustable jet of a drop": changed((("turbine", "jet_kind"), "spear"), (("turbine", "design_flow"), "0.01 L/s")),
    "high up": changed((("site", "altitude"), "5000 m")),
    "water at freezing point": changed((("site", "water_temperature"), "0 degC")),
    "water below freezing point": changed((("site", "water_temperature"), "-5 degC")),
    "air known for a month": changed(temperature="".join(AIR[:31])),
    "air of another century": changed(temperature=AIR[0] + "1950-01-01,3\n"),
    "all clogged": changed((("intake", "clogged"), 1.0)),
    "an intake of nothing": changed((("intake", "capacity"), "0 L/s")),
    "always stopped": changed((("outage",), {"unplanned": 1.0, "planned_days": 365})),
    "no uncertainty at all": changed((("uncertainty",), {"draws": 100, "head": 0, "loss": 0, "efficiency": 0, "jet_area": 0}), (("stream", "record_uncertainty"), 0)),
    "full of uncertainty": changed((("uncertainty",), {"draws": 100, "head": 0.5, "loss": 1.0, "efficiency": 0.5, "jet_area": 0.5})),
    "a need of nothing": changed((("loads", "demand"), "0 kWh")),
    "winter all year": changed((("site", "winter"), list(range(1, 13)))),
    "shut in no time": changed((("penstock", "closing_time"), "0 s")),
    "one flow to try": changed((("sizing",), {"flows": ["1000 m^3/s"], "jets": [8]})),
    "a cable of a hundred kilometres": changed((("cable", "length"), "100 km")),
    "a volt": changed((("cable", "voltage"), "1 V")),
    "a rating of a watt": changed((("generator", "rating"), "1 W")),
}  # fmt: skip


def worked_out(folder):
    """The study with every number worked out, or the sentence that says why that cannot be."""
    try:
        study = open_study(folder)
        numbers, told = study.results(), study.told()
    except HydrokitError as error:
        for line in str(error).splitlines():
            assert_told(line.replace(str(folder), ""))
        return None
    assert not small_study.NOT_A_NUMBER.search(repr(numbers)), numbers
    for finding in told:
        assert_told(finding.message)
    return study


@pytest.mark.parametrize("case", QUICK)
def test_an_extreme_study_gives_results_or_a_sentence(tmp_path, case):
    worked_out(QUICK[case](tmp_path))


# All of them take some five minutes: a sixth is run with the long tests, the rest by hand.
OFTEN = set(random.Random(1).sample([*QUICK, *SLOW], (len(QUICK) + len(SLOW)) // 6))


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, marks=pytest.mark.slow if case in OFTEN else pytest.mark.deep)
        for case in [*QUICK, *SLOW]
    ],
)
def test_its_pages_say_not_known_rather_than_nan(tmp_path, case):
    study = worked_out((QUICK | SLOW)[case](tmp_path))
    if study is None:
        return
    assert list(small_study.told_by_sections(study))


def test_what_cannot_be_worked_out_is_told_and_the_rest_goes_on(tmp_path):
    study = worked_out(QUICK["a head of a hand"](tmp_path))
    told = [
        each.message for each in study.told() if each.level == "problem" and each.where == "sizing"
    ]
    assert len(told) == 1 and "every design loses more than a third of the head" in told[0]
    assert "size" not in study.results() and study.results()["works"][
        "gross_head_m"
    ] == pytest.approx(0.1)
    assert "could not be worked out" in sizing.headline(study, study.view()).text
