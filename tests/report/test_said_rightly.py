"""Sentences that fit what is there: no jets where there are gates, no mesh where there are bars, one of a thing as one."""

from __future__ import annotations

import re

import odd_studies
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import holding, water_way
from hydrokit.report.pages.p09 import card, faults, schedule, winter

RACK = odd_studies.RACK | {"clogged": {"october": "40 %"}}


@pytest.mark.parametrize("name", ["francis", "several machines"])
def test_machines_with_gates_have_no_jets(name):
    study = shared.odd(name)
    view = study.view()
    for section in (
        winter.calendar_table,
        winter.penstock_steps_table,
        faults.weekly_table,
        card.card_sheet,
        schedule.month_words,
    ):
        assert not re.search(r"\bjets?\b|table of bands", str(section(study, view))), (
            section.__name__
        )


# Where a machine with gates is told what it lacks or is spared for want of jets.
_OF_JETS = re.compile(
    r"jets? of one fixed bore|no schedule of jets|A jet machine has|the jets or gates|fixed jets"
    r"|speed of the generator with \d jets?"  # of another machine that might stand there
)


@pytest.mark.parametrize("name", ["francis", "several machines"])
def test_no_page_tells_a_machine_with_gates_of_its_jets(name):
    study = shared.odd(name)
    told = [*small_study.told_by_sections(study)]
    told += [("finding", each.message) for each in study.findings()]
    told += [("assumed", f"{each.what}") for each in study.assumptions]
    spoken = [
        (section, text[max(0, found.start() - 60) : found.end() + 40])
        for section, whole in told
        for text in [_OF_JETS.sub("", whole)]
        for found in re.finditer(r"\bjets?\b", text)
    ]
    assert not spoken


def test_a_spear_has_needles_and_no_table_of_bands():
    study = shared.odd("spear")
    text = (
        str(winter.calendar_table(study, study.view()))
        + str(faults.weekly_table(study, study.view()))
        + str(schedule.month_words(study, study.view()))
    )
    assert (
        "bore of every jet" not in text
        and "jet blocked" not in text
        and "table of bands" not in text
        and "needles and their seats" in text
    )


@pytest.mark.parametrize(
    "parts, brushed, mesh",
    [
        ([RACK, odd_studies.POND], "Brush the fine rack", False),
        (
            [
                {
                    "kind": "drilled pipe",
                    "name": "creek pipe",
                    "holes": 600,
                    "hole": "10 mm",
                    "head": "0.1 m",
                    "mesh_open": "36 %",
                    "clogged": {"october": "40 %"},
                }
            ],
            "Brush the creek pipe",
            True,
        ),
        (
            [odd_studies.LEAKS | {"loss": "2 %", "clogged": {"october": "40 %"}}, odd_studies.POND],
            "Clear the leat",
            False,
        ),
    ],
)
def test_what_clogs_is_cleared(parts, brushed, mesh, tmp_path):
    study = small_study.changed(tmp_path, part=parts, intake={"capacity": None})
    jobs = [each.job for each in study.jobs]
    assert any(job.startswith(brushed) for job in jobs)
    assert any("mesh" in job for job in jobs) == mesh


def test_what_did_not_come_about_names_its_own_cause(tmp_path):
    """A line too narrow for its flow: pressures are not 'lacking a described penstock'."""
    study = small_study.changed(
        tmp_path,
        turbine={"jets": None, "jet_diameter": None, "jet_kind": "spear", "design_flow": "300 L/s"},
        penstock={"pipe": [{"size": "PVC-U PN 10 63 mm"}]},
        upgrade=None,
    )
    shown = str(holding.surge_table(study, study.view()))
    assert study.pressures is None and study.refused
    assert "a described penstock is lacking" not in shown and "could not be worked out" in shown


def test_examples_of_gates_and_orifices_raise_no_finding():
    from hydrokit.site.schema import PART_KINDS
    from hydrokit.units import Q_
    from hydrokit.works.openings import fit_gate, fit_orifice

    def values(kind, key):
        return [Q_(each).to_base_units().magnitude for each in eval(PART_KINDS[kind][key].example)]  # noqa: S307  a list of our own schema

    gate = fit_gate.si(
        *(values("gate", key) for key in ("gauged_lift", "gauged_head", "gauged_flow")), 0.4
    )
    orifice = fit_orifice.si(
        *(values("orifice", key) for key in ("gauged_head", "gauged_flow")), 3.14159 / 4 * 0.12**2
    )
    for fitted in (gate, orifice):
        assert (
            fitted.findings == ()
            and fitted.coefficient == pytest.approx(0.61, abs=0.02)
            and fitted.scatter < 0.05
        )


def test_a_plan_says_nothing_of_today(tmp_path):
    study = small_study.changed(tmp_path, turbine={"jets_open": [1] * 12})
    assert not study.exists
    for section in (schedule.month_table, schedule.month_words, water_way.headline):
        assert "today" not in str(section(study, study.view())).lower()
