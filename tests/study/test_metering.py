"""Where a watt is counted: one current, and each power at its place along the wire."""

import numpy as np
import odd_studies
import pytest
import shared
from small_study import changed

from hydrokit.report.pages.p09 import card as build_card
from hydrokit.report.pages.p09 import running

TRANSFORMER = [
    {
        "name": "step-up",
        "at": "powerhouse",
        "rating": "6 kW",
        "no_load_loss": "50 W",
        "full_load_loss": "120 W",
    }
]
WHOLE = {"efficiency": None, "water_to_wire": "60 %"}
PLACES = ("generator terminals", "sending end", "receiving end")
OHM = 2 * 60 * 1.15e-3 * 270 / 250  # 60 m of 16 mm², out and back, IEC 60228 at 40 °C


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


def test_powers_along_the_wire_by_hand(study):
    s = study(transformer=TRANSFORMER)
    found = s.powers
    assert found.terminals_w - found.sending_w == pytest.approx(
        50 + 120 * (found.sending_w / 6000) ** 2, rel=1e-9
    )
    assert found.sending_w - found.receiving_w == pytest.approx(
        OHM * (found.sending_w / 230) ** 2, rel=1e-6
    )
    assert found.loads_w == pytest.approx(float(s.plant.running().at_si(np.inf).power_w), rel=1e-9)
    assert s.wires.sent_w == found.sending_w


@pytest.mark.parametrize("place", PLACES)
def test_a_plant_known_by_its_watts_is_counted_where_they_are_metered(study, place):
    bare = study(generator=WHOLE, cable=None)
    metered = float(bare.plant.running().at_si(np.inf).power_w)
    s = study(generator=WHOLE, transformer=TRANSFORMER, readings={"metered_at": place})
    at = dict(zip(PLACES, (s.powers.terminals_w, s.powers.sending_w, s.powers.receiving_w)))
    assert at[place] == pytest.approx(metered, rel=1e-9) and not s.meter_findings
    assert at[PLACES[0]] - at[PLACES[1]] == pytest.approx(
        50 + 120 * (at[PLACES[1]] / 6000) ** 2, rel=1e-6
    )
    assert at[PLACES[1]] - at[PLACES[2]] == pytest.approx(
        OHM * (at[PLACES[1]] / 230) ** 2, rel=1e-5
    )
    # the year counts what comes to the loads
    assert float(s.plant.running().at_si(np.inf).power_w) == pytest.approx(at[PLACES[2]], rel=1e-9)


def test_the_farther_from_the_loads_the_meter_the_fewer_kwh_are_of_use(study):
    years = [
        study(
            generator=WHOLE, transformer=TRANSFORMER, readings={"metered_at": place}
        ).year.annual_kwh
        for place in PLACES
    ]
    assert years[0] < years[1] < years[2]


def test_a_meter_whose_place_nobody_told_is_a_caution(study):
    found = study(generator=WHOLE).meter_findings
    assert len(found) == 1 and "metered_at" in found[0].message and found[0].level == "caution"
    assert not study().meter_findings  # known by its parts


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"transformer": TRANSFORMER},
        {"generator": WHOLE},
        {"cable": {"size": "4 mm2"}},
        {"inverter": {"rating": "5 kW", "idle": "30 W", "efficiency": "93 %"}},
        # the generator gives more than it passes on: the wire carries all of it
        {"inverter": {"rating": "2 kW", "idle": "30 W", "efficiency": "93 %"}},
    ],
)
def test_card_and_cable_have_one_current(study, changes):
    s = study(**changes)
    assert s.card.rows[-1].amps == pytest.approx(s.answer("cable.current").value, rel=1e-6)
    assert s.answer("cable.current").value == pytest.approx(
        s.answer("power.sending").value / 230, rel=1e-9
    )


@pytest.mark.parametrize("name", odd_studies.NAMES)
def test_no_power_grows_on_its_way(name):
    found = shared.odd(name).powers
    if found is not None:
        assert found.loads_w <= found.receiving_w <= found.sending_w <= found.terminals_w


def test_what_a_log_metered_at_the_powerhouse_is_counted_at_the_loads(tmp_path):
    need = {"loads": {"demand": "2000 kWh"}}
    here, there = (
        odd_studies.opened(
            tmp_path / place.split()[0],
            "log and no record",
            readings={"log": "log.csv", "metered_at": place},
            **need,
        )
        for place in ("receiving end", "sending end")
    )
    hours = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert here.use.made_kwh == pytest.approx(here.log_year.monthly_kwh)
    assert there.use.made_kwh == pytest.approx(there.log_year.monthly_kwh)
    # the cable takes its share of the watts of each reading, so more than that of the mean watts
    watts = here.log_year.monthly_kwh * 1000 / hours
    mean = (watts - OHM * (watts / 230) ** 2) * hours / 1000
    assert (there.use.made_kwh <= mean * (1 + 1e-9)).all()
    log = there.log
    sent, came = (
        float(np.trapezoid(each, log.seconds))
        for each in (log.power_w, log.power_w - OHM * (log.power_w / 230) ** 2)
    )
    assert there.log_year.annual_kwh / there.log_year.metered_kwh == pytest.approx(
        came / sent, rel=5e-4
    )
    assert there.money.energy.made_kwh < here.money.energy.made_kwh


def test_the_card_says_where_its_watts_are_counted(study):
    s = study(transformer=TRANSFORMER)
    assert (
        "watts at the loads" in build_card.card_sheet(s, s.view()).columns
        and "at the loads" in running.headline(s, s.view()).text
    )
    columns = "jets,pressure [bar],volts [V],amps [A],spilling\n0,3.70,,,yes\n1,3.55,230,7.6,yes\n2,3.18,230,12.9,yes\n"
    read = study(
        {"readings": columns}, readings={"file": "readings.csv", "metered_at": "sending end"}
    )
    assert "watts at the sending end" in build_card.card_sheet(read, read.view()).columns
    assert read.powers.sending_w == pytest.approx(float(read.baseline.power_w[-1]), rel=1e-6)
    # the volts were read with the amps: the card's current is that of the meter
    assert read.card.rows[-1].amps == pytest.approx(
        float(read.baseline.power_w[-1]) / 230, rel=1e-6
    )
