"""What must hold of the year of any study: more head, less loss, less residual flow never cost useful energy; how it is written changes nothing."""

import numpy as np
import pytest
from odd_studies import POND
from small_study import FILES, changed

RNG = np.random.default_rng(20)
# random small studies: bore, jets, pipe, residual flow, licence, need, how it is run
CASES = [
    {
        "turbine": {"jets": int(RNG.integers(1, 5)), "jet_diameter": f"{RNG.uniform(12, 24):.1f} mm"},
        "penstock": {"pipe": [{"inside_diameter": f"{RNG.uniform(95, 150):.1f} mm", "roughness": f"{RNG.uniform(0.01, 0.3):.2f} mm", "fittings": float(round(RNG.uniform(0, 4), 1))}]},
        "rights": {"licence": f"{RNG.uniform(8, 25):.1f} L/s", "residual": [{"rule": "fixed", "flow": f"{RNG.uniform(1, 5):.2f} L/s"}]},
        "loads": {"demand": f"{RNG.uniform(300, 1500):.0f} kWh"},
        "operation": {"jet_dead_band": f"{RNG.uniform(0, 15):.0f} %", "visit_days": int(RNG.integers(1, 9))} if number % 2 else None,
        "part": [POND] if number % 3 == 0 else None, "upgrade": None, "sizing": None, "costs": None, "intake": None,
    }
    for number in range(6)
]  # fmt: skip


def with_pipe(case, **changes):
    return case | {"penstock": {"pipe": [case["penstock"]["pipe"][0] | changes]}}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_more_water_and_head_and_less_loss_never_cost_useful_energy(tmp_path, case):
    """With the jets set each day as they are best: a hand that comes each week may happen to do worse with more water.

    Head and loss with needles in the jets: a fixed bore takes more under more head, and is then under-fed sooner.
    """
    case = case | {"operation": None}
    spear = case | {
        "turbine": {
            "jets": case["turbine"]["jets"],
            "jet_kind": "spear",
            "jet_diameter": None,
            "design_flow": f"{RNG.uniform(5, 9):.2f} L/s",
        }
    }
    base, needle = (
        changed(tmp_path / "base", **case).year,
        changed(tmp_path / "needle", **spear).year,
    )
    keep = float(case["rights"]["residual"][0]["flow"].split()[0])
    rough = float(case["penstock"]["pipe"][0]["roughness"].split()[0])
    better = {
        "head": (
            spear,
            {"penstock": "chainage [m],elevation [m]\n0,301\n2,299.3\n60,285\n150,262\n"},
        ),
        "residual": (
            case
            | {
                "rights": case["rights"]
                | {"residual": [{"rule": "fixed", "flow": f"{0.8 * keep:.3f} L/s"}]}
            },
            (),
        ),
        "smooth": (with_pipe(spear, roughness=f"{rough / 3:.4f} mm"), ()),
        "fittings": (with_pipe(spear, fittings=0.0), ()),
    }
    for name, (sections, files) in better.items():
        year, before = (
            changed(tmp_path / name, files, **sections).year,
            base if name == "residual" else needle,
        )
        for of in ("useful_annual_kwh", "annual_kwh", "gross_annual_kwh"):
            assert getattr(year, of) >= getattr(before, of) * (1 - 2e-5), (
                name,
                of,
            )  # what the straight lines of the curve leave


@pytest.mark.parametrize("case", CASES)
def test_how_it_is_written_changes_nothing(tmp_path, case):
    """A pipe in two equal lengths, other units, another order of sections and rows: the same year to 1e-9, visits, pond and all."""
    pipe, rights = case["penstock"]["pipe"][0], case["rights"]
    base = changed(tmp_path / "base", **case)
    length = base.penstock.length_m
    halves = [
        pipe | {"length": f"{length / 2!r} m"},
        pipe | {"length": f"{length / 2!r} m", "fittings": 0.0},
    ]
    rate = float(rights["licence"].split()[0])
    rows = FILES["flow.csv"].splitlines()
    litres = [row.split(",") for row in rows[1:]]
    same = {
        "split": (case | {"penstock": {"pipe": halves}}, ()),
        "units": (
            case
            | {
                "rights": {"licence": f"{rate / 1000!r} m^3/s"},
                "turbine": case["turbine"]
                | {
                    "jet_diameter": f"{float(case['turbine']['jet_diameter'].split()[0]) / 10!r} cm"
                },
            },
            (),
        ),
        "sheet": (
            case,
            {
                "flow": "date,flow [m3/s]\n"
                + "".join(f"{day},{float(flow) / 1000!r}\n" for day, flow in litres)
            },
        ),
        "order": (dict(reversed(case.items())), ()),
    }
    for name, (sections, files) in same.items():
        if name == "units":
            sections = sections | {"rights": rights | sections["rights"]}
        other = changed(tmp_path / name, files, **sections)
        np.testing.assert_allclose(
            other.year.kwh, base.year.kwh, rtol=1e-9, atol=1e-7, err_msg=name
        )
        np.testing.assert_allclose(
            other.year.useful_kwh, base.year.useful_kwh, rtol=1e-9, atol=1e-7, err_msg=name
        )
        assert [step.name for step in other.year.steps] == [step.name for step in base.year.steps]
        for ours, theirs in zip(base.year.steps, other.year.steps):
            np.testing.assert_allclose(theirs.kwh, ours.kwh, rtol=1e-7, atol=1e-6, err_msg=name)


@pytest.mark.parametrize("case", CASES)
def test_parts_add_up(tmp_path, case):
    year = changed(
        tmp_path, outage={"planned_days": 9, "planned_months": [2, 8], "unplanned": "4 %"}, **case
    ).year
    left = year.gross_kwh - sum(step.kwh for step in year.steps)
    np.testing.assert_allclose(left, year.monthly_kwh, rtol=1e-9, atol=1e-6)
    days = year.days_full + year.days_part + year.days_under_fed + year.days_stopped
    np.testing.assert_allclose(days, np.asarray(year.hours) / 24, rtol=1e-9)
    assert (year.useful_monthly_kwh <= year.monthly_kwh * (1 + 1e-9)).all() and (
        year.monthly_kwh <= year.gross_kwh * (1 + 1e-9)
    ).all()
    # nine planned days fall on February and August by their lengths, of what is left 4 % is lost
    share = 9 / (28.25 + 31)
    for month, planned in ((2, share), (8, share), (5, 0.0)):
        stopped = year.days_out[month - 1] / (float(year.hours[month]) / 24)
        assert stopped == pytest.approx(1 - (1 - planned) * 0.96)
