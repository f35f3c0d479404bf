"""The door between people's units and SI floats."""

import pickle
import subprocess
import sys
import warnings

import numpy as np
import pandas as pd
import pint
import pytest

from hydrokit.errors import RangeWarning
from hydrokit.units import Q_, UnitsError, parse, parse_unit, to_si, units

# Exact by definition: international yard and pound agreement 1959, US gallon 231 in³ (NIST SP 811).
EXACT = [
    ("1 in", "m", 0.0254), ("1 ft", "m", 0.3048), ("1 gal", "L", 3.785411784), ("1 gpm", "m^3/s", 3.785411784e-3 / 60),
    ("1 cfs", "m^3/s", 0.028316846592), ("1 ft3/s", "L/s", 28.316846592), ("1 m3/s", "L/s", 1000), ("1 L/s", "m³/s", 1e-3),
    ("1 MGD", "m^3/s", 3785.411784 / 86400), ("1 acre_ft", "m^3", 1233.48183754752), ("1 ac-ft", "ft^3", 43560),
    ("1 psi", "Pa", 0.45359237 * 9.80665 / 0.0254**2), ("1 bar", "kPa", 100), ("1 hp", "W", 550 * 0.3048 * 0.45359237 * 9.80665),
    ("1 kWh", "J", 3.6e6), ("60 rpm", "Hz", 1), ("32 degF", "K", 273.15), ("20 °C", "degF", 68), ("9 delta_degF", "delta_degC", 5),
    ("180 deg", "rad", np.pi), ("1 fl oz", "gal", 1 / 128), ("1 uS/cm", "S/m", 1e-4), ("1 Btu", "J", 1055.05585262),
    ("95 %", "", 0.95), ("1e3 mm", "m", 1), ("-.5 m", "cm", -50), ("2 L per s", "L/s", 2), ("1 m·s⁻¹", "m/s", 1),
    # As people write them.
    ("1/2 in", "m", 0.0127), ("1 1/2 in", "m", 0.0381), ("1-1/2 in.", "m", 0.0381), ("1½ in", "m", 0.0381), ("¾ in", "m", 0.01905), ("-1/4 in", "m", -0.00635), ("1/3", "", 1 / 3),
    ("2 GPM", "gpm", 2), ("3 CFS", "cfs", 3), ("2 US gpm", "gpm", 2), ("2 gallons per minute", "gpm", 2), ("2 litres per second", "L/s", 2), ("6 lpm", "L/s", 0.1), ("95 percent", "", 0.95),
    ("20 deg C", "degC", 20), ("20 ° C", "degC", 20), ("20 ºC", "degC", 20), ("\u22125 °C", "degC", -5), ("–5 °C", "degC", -5), ("4 FT", "ft", 4), ("5 KPA", "kPa", 5), ("7\u00a0m", "m", 7),
]  # fmt: skip


@pytest.mark.parametrize("text, unit, value", EXACT)
def test_units_are_what_they_are_defined_to_be(text, unit, value):
    assert Q_(text).m_as(parse_unit(unit) if unit else "") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "text, says",
    [
        ("12,5 L/s", "12.5 L/s"), ("12.5", None), ("five m", "not a number with a unit"), ("3 mil", "not a unit known here"),
        ("9**9**9 m", "not a unit"), ("1e400 m", "too large"), ("1e999 m", "too large"), ("3 m; import os", "not a unit"), ("m", "not a number"),
        ("3 galon", "did you mean"), ("", "not a number"), ("5'", "not a unit"), ("1" * 200, "not a number"), ("3 ac", "not a unit known here"),
        ("5'", "sign ' is not a unit here; write ft"), ('4"', 'sign " .*write in'), ("5 ft 6 in", "feet and inches"), ("5' 6''", "feet and inches"), ("1,240 m", '"1240 m" or "1.240 m"'), ("1,240.5 m", 'write "1240.5 m"'),
        ("1.240,5 m", 'write "1240.5 m"'), ("1,240,000 m", 'write "1240000 m"'), ("0,125 m", 'write "0.125 m"'), ("1 240 m", 'write "1240 m"'), ("240-260 m", "is a range"), ("240 to 260 m", "is a range"), ("45 L s-1", "not a unit"),
        ("240 M", "did you mean 'm'"), ("240 masl", "is not a unit known here$"), ("1/0 in", "not a unit"), ("1/2/3 m", "not a unit"),
    ],
)  # fmt: skip
def test_texts_that_are_no_quantity(text, says):
    if says is None:
        assert parse(text).unitless
        return
    with pytest.raises(UnitsError, match=says):
        Q_(text)


@units(
    "m",
    flow="m^3/s",
    diameter="m",
    temperature="K",
    share="ratio",
    jets="count",
    drop="head",
    exceedance="exceedance",
    angle="rad",
    warmer="delta_K",
)
def sample(
    flow,
    diameter,
    temperature="10 degC",
    share="5 %",
    jets=3,
    drop="2 m",
    exceedance="95 %",
    angle="90 deg",
    *,
    warmer="5 delta_degC",
):
    return (
        flow
        + 0 * diameter
        + 0 * temperature
        + 0 * (share + jets + drop + exceedance + angle + warmer)
    )


@sample.valid
def _(flow):
    yield flow > 1, "more than a creek"


def test_defaults_are_converted_once():
    assert sample.si.__defaults__ == (283.15, 0.05, 3.0, 2.0, 0.95, np.pi / 2)
    assert sample.si.__kwdefaults__ == {"warmer": 5.0}
    assert sample.si(0.5, 1.0) == 0.5


@pytest.mark.parametrize("flow", ["350 gpm", Q_(350, "gpm"), Q_("350 gpm").to("L/s"), "22.081 L/s"])
def test_takes_texts_and_quantities(flow):
    assert sample(flow, "4 in").magnitude == pytest.approx(0.022081, rel=1e-4)


def test_arrays_and_lists():
    both = sample(["350 gpm", "22.081 L/s"], "4 in")
    np.testing.assert_allclose(both.magnitude, 0.022081, rtol=1e-4)
    given = np.array([0.1, 0.2])
    assert sample(Q_(given, "m^3/s"), "1 m").shape == (2,)
    np.testing.assert_array_equal(given, [0.1, 0.2])
    assert np.isnan(sample(Q_(np.nan, "m^3/s"), "1 m").magnitude)
    assert isinstance(sample(Q_(np.array(0.1), "m^3/s"), "1 m").magnitude, float)


@pytest.mark.parametrize(
    "arguments, says",
    [
        ({"flow": 0.05}, "flow has no unit .got 0.05."), ({"flow": "0.05"}, "flow has no unit"), ({"flow": "3 ft"}, "flow needs something like"),
        ({"flow": np.array([1.0, 2.0])}, "an array"), ({"flow": True}, "truth value"), ({"flow": "1e308 acre_ft/s"}, "infinite"),
        ({"flow": Q_(np.inf, "m^3/s")}, "infinite"), ({"flow": pint.UnitRegistry()("3 m^3/s")}, "another unit registry"),
        ({"flow": pd.Series([1.0])}, r"pandas Series; write Q_.flow.to_numpy"), ({"drop": "3 psi"}, "pressure_to_head"), ({"exceedance": 95}, "95 %"),
        ({"angle": 1.5}, "angle has no unit"), ({"temperature": "5 delta_degC"}, "not a difference"), ({"warmer": "5 degC"}, "delta_degC"),
        ({"jets": "3 m"}, "plain number"), ({"jets": float("inf")}, "infinite"), ({"flow": "1 L/s ", "diameter": ["1 m", "2"]}, r"diameter\[1\]"),
        ({"flow": object()}, "flow"), ({"flow": "2,5 L/s"}, "comma"),
    ],
)  # fmt: skip
def test_refuses_in_a_sentence(arguments, says):
    with pytest.raises(UnitsError, match=says) as refused:
        sample(**{"flow": "1 L/s", "diameter": "1 m", **arguments})
    assert "sample()" in str(refused.value) and "\n" not in str(refused.value)


def test_validity_warns_and_can_be_asked():
    with pytest.warns(RangeWarning, match="more than a creek"):
        sample("2 m^3/s", "1 m")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        sample.si(2.0, 1.0)
        assert [each.message for each in sample.check("2 m^3/s", "1 m")] == ["more than a creek"]
        assert sample.check("1 L/s", "1 m") == []


def test_raw_body_pickles_across_processes():
    assert pickle.loads(pickle.dumps(sample.si)) is sample.si


def test_to_si_names_the_place():
    with pytest.raises(UnitsError, match=r"^\[penstock\] length has no unit"):
        to_si(3, "m", "[penstock] length")


def test_never_the_application_registry():
    code = "import pint, hydrokit.units as u; assert pint.get_application_registry().get() is not u.ureg; pint.Quantity(1, 'inch'); print('apart')"
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip()
        == "apart"
    )
