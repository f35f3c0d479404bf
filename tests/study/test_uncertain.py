"""What stands behind ± in a site file: every one widens the year, or is said to do nothing."""

import numpy as np
import pytest
import shared
import small_study

from hydrokit.energy.intake import with_intake
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
from hydrokit.study.build import uncertain
from hydrokit.works.rated import Rated


def width(study):
    """From P90 to P10 of the long-run mean, as a share of the median, without what two years leave open."""
    kwh = study.energy_uncertainty.years_kwh.sum(axis=2).mean(axis=1)
    return float(np.ptp(np.quantile(kwh, (0.1, 0.9))) / np.median(kwh))


def said(study):
    return " | ".join(each.message for each in study.uncertainty_findings)


NARROW = [{"size": "PVC-U PN 10 110 mm"}]
PLANT = {
    "turbine": {"jet_diameter": "24 mm"},
    "uncertainty": {"draws": 1000},
    "stream": {"record_uncertainty": "1 %"},
}


@pytest.mark.parametrize(
    "sure, unsure",
    [
        ({"intake": {"capacity": "9 L/s ± 0.1 L/s"}}, {"intake": {"capacity": "9 L/s ± 2 L/s"}}),
        (
            {"generator": {"efficiency": "85 % ± 0.5 %"}},
            {"generator": {"efficiency": "85 % ± 12 %"}},
        ),
        (
            {
                "penstock": {
                    "profile": None,
                    "head": "38 m",
                    "length": "155 m ± 1 m",
                    "pipe": NARROW,
                }
            },
            {
                "penstock": {
                    "profile": None,
                    "head": "38 m",
                    "length": "155 m ± 60 m",
                    "pipe": NARROW,
                }
            },
        ),
        (
            {"penstock": {"profile": None, "head": "38 m ± 0.1 m", "length": "155 m"}},
            {"penstock": {"profile": None, "head": "38 m ± 4 m", "length": "155 m"}},
        ),
    ],
    ids=["intake", "generator", "length", "head"],
)
def test_what_stands_behind_plus_or_minus_widens_the_year(tmp_path, sure, unsure):
    narrow, wide = (
        small_study.changed(tmp_path / name, **{**PLANT, **change})
        for name, change in (("sure", sure), ("unsure", unsure))
    )
    assert width(wide) > 1.02 * width(narrow)


def test_energy_where_the_intake_limits_goes_with_what_it_passes():
    """analytic: without loss of head and below its full flow a spear's energy is proportional to the flow."""
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0),
        Adjustable(0.02),
        Runner(steady(0.6)),
        supply=(Rated(0.010),),
    )
    power = [float(with_intake(chain, factor).at_si(0.5).power_w) for factor in (0.8, 1.0, 1.2)]
    np.testing.assert_allclose(np.array(power) / power[1], (0.8, 1.0, 1.2), rtol=1e-9)


def test_uncertainty_of_the_intake_is_the_uncertainty_of_the_energy_it_limits(tmp_path):
    """A creek that always brings more than the intake passes: 10 % of its capacity is near 10 % of the energy, a little less for the head that less flow saves."""
    flow = "date,flow [L/s]\n" + "".join(
        f"{line.split(',')[0]},50\n" for line in small_study.FILES["flow.csv"].splitlines()[1:]
    )
    change = {
        "intake": {"capacity": "9 L/s ± 0.9 L/s"},
        "rights": {"licence": None},
        "turbine": {"jet_kind": "spear", "jets": 1, "jet_diameter": None, "design_flow": "14 L/s"},
    }
    study = small_study.changed(tmp_path, files={"flow": flow}, **(PLANT | change))
    sd = study.energy_uncertainty.tornado.loc["intake", "sd_kwh"] / study.year.annual_kwh
    assert 0.07 < sd < 0.115
    assert any(
        "what the intake passes" in str(each) for each in study.energy_uncertainty.next_measurements
    )


def test_table_and_run_hold_one_head(tmp_path):
    for change in (
        {"uncertainty": {"head": "0.7 %"}},
        {},
        {"penstock": {"head": "38 m ± 0.5 m"}},
        {"penstock": {"head": "38 m ± 0.5 m"}, "uncertainty": {"head": "3 %"}},
    ):
        study = small_study.changed(tmp_path / str(len(str(change))), **change)

        assert uncertain.uncertainties(study).head == pytest.approx(
            study.head.sd / study.head.value, rel=1e-12
        )
    assert "[penstock] head is given ± 1.3 %, which is used; [uncertainty] head says 3 %" in said(
        study
    )


@pytest.mark.parametrize(
    "change, told",
    [
        ({"uncertainty": {"head": "40 %"}}, "[uncertainty] head is 40 %"),
        ({"uncertainty": {"loss": "80 %"}}, "[uncertainty] loss is 80 %"),
        ({"uncertainty": {"efficiency": "50 %"}}, "[uncertainty] efficiency is 50 %"),
        ({"stream": {"record_uncertainty": "60 %"}}, "[stream] record_uncertainty is 60 %"),
        ({"generator": {"efficiency": "50 % ± 40 %"}}, "[generator] efficiency is given ± 80 %"),
        (
            {"uncertainty": {"efficiency": "4 %"}, "generator": {"efficiency": "85 % ± 9 %"}},
            "the ± of [generator] efficiency is not used",
        ),
        ({"penstock": {"length": "300 m"}}, "length is 300 m, but the profile is"),
        (
            {"intake": {"level": "250 m"}},
            "level is 250 m, but the profile of the penstock begins at 300 m",
        ),
        ({"intake": {"level": "300.1 m"}}, "agrees with the first station"),
    ],
)
def test_beyond_belief_or_in_vain_is_told(tmp_path, change, told):
    study = small_study.changed(tmp_path, **change)
    assert told in said(study)
    assert any(told in each.message for each in study.findings())
    assert told not in said(shared.small())
