"""What the plant's power is used for: jets by flow and month, wires, heat; from the site file to the words."""

import datetime

import numpy as np
import pandas as pd
import pytest
from small_study import changed

from hydrokit.errors import InputError
from hydrokit.report.pages.p06 import warmth, wires

ROOMS = [
    {
        "name": "kitchen",
        "walls": "30 m^2",
        "u_walls": "0.5 W/m^2/K",
        "windows": "4 m^2",
        "u_windows": "2 W/m^2/K",
        "floor": "20 m^2",
        "u_floor": "0.6 W/m^2/K",
        "volume": "50 m^3",
        "air_changes": 0.6,
    },
    {"name": "loft", "ua": "21 W/K"},
]


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


# --- wires ----------------------------------------------------------------------------------

CIRCUITS = [
    {"name": "heater", "kind": "heater", "power": "1.5 kW", "length": "20 m", "size": "2.5 mm2"},
    {
        "name": "<b>saw</b>",
        "kind": "motor",
        "power": "500 W",
        "power_factor": 0.8,
        "length": "40 m",
        "size": "1.5 mm2",
    },
    {"name": "lamp at the machine", "power": "50 W", "length": "3 m", "begins": "powerhouse"},
]


def test_wires_by_hand(study):
    """IEC 60228: 1.15, 7.41, 12.1 ohm/km at 20 °C; (230 + 40)/250 warmer; out and back."""
    s = study(circuit=CIRCUITS)
    found, warm = s.wires, 270 / 250
    main = found.main
    amps = found.sent_w / 230
    assert main.asks.current_a == pytest.approx(amps) and main.asks.rating_a == pytest.approx(
        1.25 * amps
    )
    drop = amps * 2 * 60 * 1.15e-3 * warm
    assert main.load_v == pytest.approx(230 - drop, rel=1e-6) and main.run.loss_w == pytest.approx(
        amps * drop, rel=1e-6
    )
    heater, saw, lamp = found.circuits
    assert heater.load_v == pytest.approx(
        230 - drop - 1500 / 230 * 2 * 20 * 7.41e-3 * warm, rel=1e-6
    )
    saw_amps = 500 / 230 / 0.8
    own = saw_amps * 2 * 40 * 0.8 * (12.1e-3 * warm + 0.08e-3 * 0.6 / 0.8)
    assert saw.load_v == pytest.approx(230 - drop - own, rel=1e-5)
    # the generator's voltage behind a reactance of 0.2, cables, what is on already, a locked rotor: one circuit
    start, size = 6 * 500 / 0.8, s.plant.electric[0].size_w
    one = 230**2 / size
    main_z = complex(2 * 60 * 1.15e-3 * warm, 2 * 60 * 0.08e-3) / one
    rotor = size / start * complex(0.35, np.sqrt(1 - 0.35**2))
    branch = rotor + complex(2 * 40 * 12.1e-3 * warm, 2 * 40 * 0.08e-3) / one
    others = size / (found.sent_w - 500)
    behind = 1 + 0.2j / (main_z + others)
    both = branch * others / (branch + others)
    at_motor = behind * both / (0.2j + main_z + both) * rotor / branch
    assert saw.starting_v == pytest.approx(230 * abs(at_motor), rel=1e-5)
    # the plain divider without cables and other loads is near
    assert saw.start.found.dip == pytest.approx(start * 0.2 / (size + start * 0.2), abs=0.03)
    weak = study(circuit=[CIRCUITS[1] | {"power": "1 kW"}], generator={"kind": "induction"})
    assert np.isnan(weak.wires.circuits[0].starting_v) and "the voltage collapses" in " ".join(
        each.message for each in weak.wires.findings
    )
    assert lamp.run is None and np.isnan(lamp.load_v) and lamp.smallest.conductor.name == "1.5 mm2"
    # a meter's scale holds the reading with a quarter to spare, and not ten times it
    for each in (main, *found.circuits):
        assert 1.25 <= each.asks.ammeter_a / each.asks.current_a < 2.1
    assert (
        found.ballast.asked.total_w == pytest.approx(1.1 * found.sent_w)
        and found.ballast.heaters_w == 1500
    )
    assert "starts" in " ".join(each.message for each in weak.wires.findings)
    view = s.view()
    assert (
        f"{found.sent_w:,.0f}"[:3] in wires.wire_words(s, view).text
        and "<b>" not in wires.wire_words(s, view).text
    )
    assert "<b>" not in wires.wire_table(s, view)._repr_html_()


def test_the_cheapest_cable_is_that_of_a_plain_sum(study):
    prices = {"2.5 mm2": 3.0, "6 mm2": 5.0, "16 mm2": 9.0, "50 mm2": 22.0}
    sheet = "size,price [money/m]\n" + "".join(
        f"{size},{price}\n" for size, price in prices.items()
    )
    s = study({"cables": sheet}, costs={"cables": "cables.csv", "life": 20})
    ohm = {"2.5 mm2": 7.41e-3, "6 mm2": 3.08e-3, "16 mm2": 1.15e-3, "50 mm2": 0.387e-3}
    power = np.asarray(s.plant.curve().power_si(s.usable)) / s.plant.curve().rated_w
    hours = sum(
        (power[s.usable.index.month == month] ** 2).mean() * days * 24
        for month, days in zip(range(1, 13), [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    )
    assert s.wires.full_hours == pytest.approx(hours, rel=1e-4)
    worth = sum(1.04**-year for year in range(1, 21))
    total = {
        size: 60 * price
        + (s.wires.sent_w / 230) ** 2 * 2 * 60 * ohm[size] * 270 / 250 / 1000 * hours * 0.2 * worth
        for size, price in prices.items()
    }
    assert {
        each.run.conductor.name: pytest.approx(each.total, rel=1e-4) for each in s.wires.main.costs
    } == total
    cheapest = min(total, key=total.get).replace("mm2", "mm²")
    assert cheapest in wires.cable_words(s, s.view()).text


def test_ballast_that_is_too_small_is_a_problem(study):
    s = study(ballast={"power": "500 W", "stages": 2})
    assert [each.level for each in s.wires.findings if each.where == "ballast"] == ["problem"]
    assert "takes only 500 W" in wires.ballast_words(s, s.view()).text


def test_transformer_and_inverter_stand_in_the_chain(study):
    plain = study()
    before = float(plain.plant.at_si(np.inf).power_w)
    s = study(
        transformer=[
            {
                "at": "powerhouse",
                "rating": "6 kW",
                "no_load_loss": "50 W",
                "full_load_loss": "120 W",
            }
        ],
        inverter={"rating": "20 kW", "idle": "40 W", "efficiency": "94 %"},
    )
    after = float(s.plant.at_si(np.inf).power_w)
    # lost: 50 W and 120 W times the square of the load, then some 6 %; never less
    assert before - after == pytest.approx(50 + 120 * (before / 6000) ** 2 + 0.06 * before, rel=0.1)
    assert s.year.annual_kwh < plain.year.annual_kwh
    assert [each.kind for each in s.wires.between] == ["transformer", "inverter"]
    assert len(wires.between_table(s, s.view()).rows) == 2


def test_battery_for_a_day(study):
    """A steady 217 W against 100 W through twenty hours and 700 W through four: the four hours' lack must be stored."""
    flow = "date,flow [L/s]\n" + "".join(
        f"{day:%Y-%m-%d},8.46\n" for day in pd.date_range("2021-10-01", "2023-09-30")
    )
    battery = {
        "voltage": "48 V",
        "charge": "50 Ah",
        "depth": "50 %",
        "day_use": ["100 W"] * 20 + ["700 W"] * 4,
    }
    s = study({"flow": flow}, battery=battery)
    watts = float(s.plant.curve().power_si(0.00546))
    plenty, _, (_, power, stored, charge) = s.wires.store.needs
    # both years have a February of 28 days, and a month is counted with 28.25
    assert (
        power == pytest.approx(watts * 28 / 28.25, rel=1e-6)
        and 210 < watts < 225
        and plenty[2] == 0
    )
    assert stored == pytest.approx((700 - power) * 4 * 3600, rel=1e-6) and charge == pytest.approx(
        stored / 3600 / 48 / 0.5, rel=1e-6
    )
    assert (
        "50 Ah is too small for a median month and the leanest month"
        in wires.store_words(s, s.view()).text
    )
    # what is there comes to 5.2 kWh a day; a day of 6 kWh no battery can help
    s = study({"flow": flow}, battery=battery | {"day_use": ["250 W"] * 24})
    assert (
        np.isnan(s.wires.store.needs[-1][2])
        and "no battery can change that" in wires.store_words(s, s.view()).text
    )
    with pytest.raises(InputError, match="24 values"):
        study(battery={"voltage": "48 V", "day_use": ["1 W"]}).read()


@pytest.mark.parametrize(
    "changes, says",
    [
        (
            {"circuit": [{"name": "x", "power": "1 kW", "length": "5 m", "size": "17 mm2"}]},
            "not a standard section",
        ),
        ({"cable": None, "circuit": [{"name": "x", "power": "1 kW"}]}, "no voltage"),
        (
            {"circuit": [{"name": "x", "power": "1 kW", "phases": "dc", "power_factor": 0.8}]},
            "no power factor",
        ),
        ({"circuit": [{"name": "x", "power": "1 psi"}]}, "power"),
        ({"room": [{"name": "x", "walls": "3 m^2"}]}, "u_walls"),
        ({"room": [{"name": "x"}]}, "says nothing of its heat"),
        ({"room": [{"name": "x", "volume": "3 m^3"}]}, "air_changes"),
        (
            {"loads": {"night": [{"power": "2 kW", "inside": "3 degC", "outside": "5 degC"}]}},
            "warmer than outside",
        ),
        ({"inverter": {"rating": "3 kW"}}, "rating, idle and efficiency together"),
        ({"battery": {"day_use": ["1 W"] * 24}}, "needs its voltage"),
        ({"costs": {"cables": "prices.csv"}}, "neither a section"),
    ],
)
def test_slips_are_told_at_the_check(study, changes, says):
    with pytest.raises(InputError, match=says):
        study(**changes).read()


# --- what counts for nothing, what no plant has ----------------------------------------------


@pytest.mark.parametrize(
    "changes, where, says",
    [
        ({"cable": {"loss": "3 %"}}, "cable", "loss has no effect"),
        ({"cable": {"length": None}}, "cable", "size has no effect without length"),
        ({"costs": {"loan_rate": "5 %"}}, "costs", "loan_rate has no effect"),
        (
            {"room": [{"name": "hall", "ua": "70 W/K", "walls": "10 m^2"}]},
            "house",
            "walls have no effect beside ua",
        ),
        ({"battery": {"voltage": "48 V", "charge": "50 Ah"}}, "battery", "without day_use"),
        (
            {"generator": {"reactance": 0.9}},
            "[generator] reactance",
            "it is 90 %; 5 % to 50 % is usual",
        ),
        ({"costs": {"yearly": "40 %"}}, "[costs] yearly", "it is 40 %"),
        (
            {
                "transformer": [
                    {
                        "at": "powerhouse",
                        "rating": "6 kW",
                        "no_load_loss": "900 W",
                        "full_load_loss": "90 W",
                    }
                ]
            },
            "transformer",
            "15 % of its rating",
        ),
        (
            {
                "loads": {"inside_temperature": "39 degC"},
                "room": [{"name": "hall", "ua": "70 W/K"}],
            },
            "[loads] inside_temperature",
            "39 °C; 5 °C to 27 °C is usual",
        ),
        (
            {
                "loads": {
                    "night": [
                        {"power": "2 kW", "inside": "20 degC", "outside": "0 degC", "hours": "1 h"}
                    ]
                }
            },
            "[[loads.night]] 1 hours",
            "it is 1 h",
        ),
        ({"costs": {"discount_rate": "60 %"}}, "[costs] discount_rate", "it is 60 %"),
        (
            {"circuit": [{"name": "x", "power": "1 kW", "drop": "40 %"}]},
            "[[circuit]] 1 drop",
            "it is 40 %",
        ),
    ],
)
def test_values_that_count_for_nothing_or_that_no_plant_has_are_told(study, changes, where, says):
    found = study(**changes)
    assert [each for each in found.findings() if each.where == where and says in each.message]


def test_sound_values_are_not_told(study):
    assert study().questionable_findings == ()


def test_a_minute_is_no_night(study):
    with pytest.raises(InputError, match="30 min to 24 h"):
        study(
            loads={
                "night": [
                    {"power": "2 kW", "inside": "20 degC", "outside": "0 degC", "hours": "1 min"}
                ]
            }
        )


def test_names_and_dates_are_shown(study):
    s = study(
        transformer=[
            {
                "name": "step-up",
                "at": "powerhouse",
                "rating": "6 kW",
                "no_load_loss": "50 W",
                "full_load_loss": "120 W",
            }
        ],
        room=ROOMS,
        loads={
            "night": [
                {
                    "power": "2 kW",
                    "inside": "20 degC",
                    "outside": "-5 degC",
                    "date": datetime.date(2022, 1, 18),
                }
            ]
        },
    )
    assert wires.between_table(s, s.view()).rows[0][0] == "step-up"
    text = warmth.house_words(s, s.view()).text
    assert "kitchen" in text and "loft" in text
    assert "that of 2022-01-18" in text


def test_a_bank_is_not_held_against_a_month_nobody_knows(study):
    """Without a record the plant's full power stands for no month."""
    battery = {"voltage": "48 V", "charge": "400 Ah", "day_use": ["300 W"] * 20 + ["4 kW"] * 4}
    s = study(
        stream={
            "record": None,
            "record_uncertainty": None,
            "gaugings": None,
            "temperature": None,
            "cease_to_flow": None,
            "control": None,
        },
        battery=battery,
    )
    assert [name for name, *_ in s.wires.store.needs] == ["times of plenty"]
    assert "a lean month is not known" in wires.store_words(s, s.view()).text
