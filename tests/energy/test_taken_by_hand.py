"""The water taken at the creek and the water used at the jets, on a plant of the demos walked day by day from outside.

The demo has a leat that loses 12 %, a larger pond, a yearly volume, a ramp; the walk of walked_year.py
knows its site file and sheets only.
"""

import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
import small_study
from walked_year import number, offered, plant_of, record_of, stays_of, walked

from hydrokit.energy.cases import year_kwh
from hydrokit.study.opening import open_study

STUDIES = Path(__file__).resolve().parents[2] / "studies"
LEAT = {
    "kind": "channel",
    "name": "leat",
    "length": "150 m",
    "slope": "0.5 %",
    "width": "0.5 m",
    "depth": "0.4 m",
    "lining": "concrete",
    "loss": "12 %",
}
FROM = "2020-10-01"  # of the record, to be quick
NEVER = {"licence_volume": "9000000 m^3", "ramp": "1 m^3/s/day"}
LIMITS = {"licence_volume": "330000 m^3", "ramp": "0.5 L/s/day"}


@pytest.fixture(scope="module")
def burn(tmp_path_factory):
    """Alder Burn's last years with no habits and no stops; opened once for each leat, pond and right."""
    made = {}

    def opened(leak=False, area=None, rights=None, **sections):
        name = repr((leak, area, rights, sections))
        if name not in made:
            folder = tmp_path_factory.mktemp("burn") / "alder-burn"
            shutil.copytree(
                STUDIES / "alder-burn", folder, ignore=shutil.ignore_patterns("reports", "*.py")
            )
            sheet = folder / "flow.csv"
            head, *days = sheet.read_text(encoding="utf-8").splitlines()
            kept = [each for each in days if each >= FROM or each.startswith("#")]
            sheet.write_text("\n".join([head, *kept]) + "\n", encoding="utf-8")
            site = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
            for section in ("operation", "outage"):
                del site[section]
            if leak:
                site["part"].insert(1, LEAT)
            if area:
                site["part"][-1]["area"] = area
            site["rights"] |= rights or {}
            site |= sections
            (folder / "site.toml").write_text(small_study.toml(site), encoding="utf-8")
            made[name] = folder, site, open_study(folder)
        return made[name]

    return opened


def machine_of(chain):
    """What the walk is handed of a plant: bores, coefficient, bore of the pipe, size of the generator."""
    return (
        chain.jets.diameters_m,
        chain.jets.coefficient,
        float(chain.penstock.line.pipes[0].diameter_m),
        float(chain.electric[0].size_w),
    )


def jet_speed(folder, site, chain):
    """Of the jets of a plant, all open and fed."""
    bores, coefficient, *rest = machine_of(chain)
    flow = plant_of(folder, site, bores, coefficient, *rest)(np.array([1.0]), len(bores))[1]
    return flow / (coefficient * np.pi / 4 * bores[0] ** 2 * len(bores))


def by_hand(folder, site, chain, suits=None, *, keep=True, rate=True, **limits):
    """kWh of a mean year of that plant, by the walk."""
    record, lost = record_of(folder, site), 0.12 * (LEAT in site["part"])
    plant, jets = (*machine_of(chain), suits), len(chain.jets.diameters_m)
    pond = site["part"][-1]
    volume = float(pond["area"].split()[0]) * number(pond["depth"]) * limits.pop("pond", True)
    if "volume" in limits:  # what a plant cannot take uses none of it up
        full = plant_of(folder, site, *plant)(np.array([1.0]), jets)[1]
        limits["most"] = full / (1 - lost)
    taken = offered(
        record,
        keep=stays_of(record, site) if keep else 0.0,
        rate=number(site["rights"]["licence"]) if rate else np.inf,
        **limits,
    )
    gate = number(site["intake"]["capacity"].split("±")[0].strip())
    return walked(folder, taken, jets, plant, lost=lost, gate=gate, pond_m3=volume)


@pytest.mark.parametrize(
    "leak, rights",
    [(True, None), *(pytest.param(leak, NEVER, marks=pytest.mark.slow) for leak in (False, True))],
)
def test_the_year_is_that_of_the_walk(burn, leak, rights):
    """independent: gross kWh within 0.3 %; a volume and a ramp that never limit change no digit of it."""
    folder, site, study = burn(leak, rights=rights)
    assert study.year.gross_annual_kwh == pytest.approx(
        by_hand(folder, site, study.plant), rel=3e-3
    )
    assert study.year.gross_annual_kwh == pytest.approx(
        burn(leak)[2].year.gross_annual_kwh, rel=1e-9
    )


def test_the_worth_of_each_rule_is_that_of_the_walk(burn):
    """independent: with a leat that loses 12 %, what the residual flow and the licence cost, within 2 %."""
    folder, site, study = burn(leak=True, rights={"licence": "9 L/s"})

    def made(**of):
        return by_hand(folder, site, study.plant, pond=False, **of)

    found, whole = study.rules_price, made()
    assert found.kwh == pytest.approx(whole, rel=3e-3)
    assert found.together_kwh == pytest.approx(made(keep=False, rate=False) - whole, rel=0.02)
    assert found.prices[-1].kwh == pytest.approx(made(rate=False) - whole, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("area", ["50 m^2", "200 m^2", "600 m^2"])
def test_a_forebay_is_worth_what_the_walk_says(burn, area):
    """independent: what a pond keeps of one day for the next, refilled from what the jets leave, within 3 %."""
    folder, site, study = burn(leak=True, area=area)
    won = by_hand(folder, site, study.plant) - by_hand(folder, site, study.plant, pond=False)
    assert won > 10
    assert -float(study.day_by_day.remembered.cost_kwh["pond"].sum()) == pytest.approx(
        won, rel=0.03
    )


@pytest.mark.slow
@pytest.mark.parametrize("leak", [False, True])
@pytest.mark.parametrize("limit", ["licence_volume", "ramp"])
def test_a_change_takes_its_own_water(burn, leak, limit):
    """independent: under a volume or a ramp that limits, kWh of each change alone, its water taken anew: within 0.1 %."""
    folder, site, study = burn(leak, rights={limit: LIMITS[limit]})
    value = LIMITS[limit].split()[0]
    held = {"volume": float(value)} if limit == "licence_volume" else {"ramp": float(value) / 1000}
    worth = year_kwh()
    base = worth(study.base_case)["kwh"]
    assert base == pytest.approx(by_hand(folder, site, study.plant, pond=False, **held), rel=1e-3)
    bought = jet_speed(folder, site, study.plant)  # the runner of today keeps its speed
    wider = [each for each in study.changes if "pipe" in each.name or "jets" in each.name]
    assert len(wider) == 2
    for change in wider:
        case = change.apply(study.base_case)
        assert worth(case)["kwh"] == pytest.approx(
            by_hand(folder, site, case.chain, bought, pond=False, **held), rel=1e-3
        ), change.name


@pytest.mark.slow
def test_the_size_recommended_reads_the_same_water(burn):
    """With a leat and limits that never limit, size and money are those without limits; the worth lies within its own range."""
    plain, limited = (burn(leak=True, rights=rights)[2] for rights in (None, NEVER))
    assert limited.sizing.best.kwh == pytest.approx(plain.sizing.best.kwh, rel=1e-9)
    worth = limited.answer("money.npv")
    assert worth.low < worth.value < worth.high
    assert worth.value == pytest.approx(plain.answer("money.npv").value, rel=1e-6)
