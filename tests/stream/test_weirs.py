"""Weirs, the gauging over a plate, and the choice of a notch."""

import numpy as np
import pytest
from scipy.integrate import quad

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.stream.v_notch import v_notch, v_notch_coefficients
from hydrokit.stream.weir_plate import design_weir, weir_coefficient, weir_gauging, weir_head
from hydrokit.stream.weirs import broad_crested, cipolletti, francis_weir, rectangular_weir
from hydrokit.units import Q_, UnitsError

G = 9.80665


def messages(result):
    return " | ".join(each.message for each in result.findings)


def test_v_notch_is_the_integral_of_free_fall_times_its_coefficient():
    """Analytic: strips of the notch at depth z pass sqrt(2gz), integrated by quadrature."""
    head, angle = 0.25, np.radians(60)
    coefficient, correction = v_notch_coefficients.si(angle)
    effective = head + correction
    strips = quad(
        lambda z: 2 * (effective - z) * np.tan(angle / 2) * np.sqrt(2 * G * z), 0, effective
    )[0]
    assert v_notch.si(head, angle) == pytest.approx(coefficient * strips, rel=1e-9)


def test_weirs_pass_nothing_below_the_crest_and_keep_nan():
    heads = np.array([-0.1, 0.0, np.nan, 0.2])
    for flow in (
        v_notch.si(heads, np.radians(90)),
        rectangular_weir.si(heads, 0.5, 1.0, 0.3),
        cipolletti.si(heads, 0.5),
        broad_crested.si(heads, 1.0),
        francis_weir.si(heads, 1.0),
    ):
        assert flow[0] == flow[1] == 0 and np.isnan(flow[2]) and flow[3] > 0


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: v_notch("40 mm"), "below 50 mm"),
        (lambda: v_notch("0.5 m"), "above 380 mm"),
        (lambda: v_notch("0.2 m", "110 deg"), "outside 20"),
        (lambda: v_notch("0.2 m", notch_depth="0.15 m"), "top of the notch"),
        (lambda: v_notch("0.2 m", crest_height="0.3 m"), "0.4 of the height"),
        (lambda: v_notch("0.2 m", channel_width="0.8 m"), "0.2 of the approach"),
        (lambda: rectangular_weir("20 mm", "0.5 m", "1 m", "0.3 m"), "below 30 mm"),
        (lambda: rectangular_weir("0.1 m", "0.1 m", "1 m", "0.3 m"), "shorter than 150 mm"),
        (lambda: francis_weir("0.5 m", "1 m"), "third of the crest"),
        (lambda: cipolletti("50 mm", "1 m"), "below 60 mm"),
        (lambda: broad_crested("0.2 m", "1 m", crest_length="0.3 m"), "0.08 to 0.33"),
    ],
)
def test_weirs_say_when_they_are_out_of_their_range(call, sentence):
    with pytest.warns(RangeWarning, match=sentence):
        call()


def test_twenty_and_hundred_degrees_are_inside():
    assert v_notch.check(["0.2 m"], "20 deg") == [] and v_notch.check(["0.2 m"], "100 deg") == []


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: rectangular_weir("0.1 m", "2 m", "1 m", "0.3 m"), "longer than the approach"),
        (lambda: rectangular_weir("0.1 m", "0.5 m", "1 m", "0.3 m", "Rehbock"), "full-width"),
        (lambda: rectangular_weir("0.1 m", "0.5 m", "1 m", "0.3 m", "Bazin"), "method must be"),
        (lambda: broad_crested("0.1 m", "1 m", 1.1), "between 0 and 1"),
        (lambda: weir_coefficient("1 L/s", "0 m", "1 m"), "above zero"),
    ],
)
def test_weirs_refuse(call, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        call()


def test_a_pressure_is_no_head():
    with pytest.raises(UnitsError, match="not a pressure"):
        v_notch("1 psi")


def test_full_width_formulas_agree():
    """Published: Rehbock, Ackers, Fenton and Kindsvater-Carter are fits of like experiments; 2 %."""
    flows = [
        rectangular_weir.si(0.2, 1.0, 1.0, 0.5, method)
        for method in ("Kindsvater-Carter", "Fenton", "Rehbock", "Ackers")
    ]
    assert np.ptp(flows) / np.mean(flows) < 0.02


def test_table_and_fenton_agree_over_all_contractions():
    """Independent: Fenton's formula, written out here, against the table of Kindsvater-Carter."""
    contraction, ratio = np.meshgrid(np.linspace(0.05, 1, 60), np.linspace(0.1, 1.5, 15))
    head, width = 0.3, 1.0
    fenton = (
        2
        / 3
        * (0.589 - 0.008 * ratio + contraction**2 * (0.013 + 0.083 * ratio))
        * np.sqrt(2 * G)
        * width
        * (head + 0.001) ** 1.5
    )
    ours = rectangular_weir.si(head, width, width / contraction, head / ratio)
    # 1.5 %: the table is straight between its rows.
    np.testing.assert_allclose(ours, fenton, rtol=0.015)


@pytest.mark.parametrize(
    "kind, shape",
    [
        ("v-notch", {"angle": "60 deg"}),
        ("rectangular", {"width": "0.5 m", "channel_width": "1 m", "crest_height": "0.3 m"}),
        ("cipolletti", {"width": "0.5 m"}),
        ("broad-crested", {"width": "1 m"}),
    ],
)
def test_head_is_the_inverse_of_flow(kind, shape):
    function = {
        "v-notch": v_notch,
        "rectangular": rectangular_weir,
        "cipolletti": cipolletti,
        "broad-crested": broad_crested,
    }[kind]
    heads = Q_(np.array([0.07, 0.12, 0.15]), "m")
    np.testing.assert_allclose(
        weir_head(function(heads, **shape), kind, **shape).m_as("m"), heads.m_as("m"), rtol=1e-9
    )
    assert weir_head("0 L/s", kind, **shape).m_as("m") == 0


def test_two_millimetres_of_head():
    """Analytic: dQ/Q = 2.5 dh/(h + kh) for a V-notch, 1.5 dh/h for Cipolletti."""
    notch = weir_gauging("60 mm", angle="90 deg")
    correction = v_notch_coefficients("90 deg")[1].m_as("mm")
    assert notch.parts["head"] == pytest.approx(2.5 * 2 / (60 + correction), rel=1e-3)
    assert notch.parts["opening"] == pytest.approx(
        np.radians(1) / 2 / (np.sin(np.pi / 4) * np.cos(np.pi / 4)), rel=0.03
    )
    trapezoid = weir_gauging("100 mm", kind="cipolletti", width="0.6 m")
    assert trapezoid.parts["head"] == pytest.approx(1.5 * 2 / 100, rel=1e-3)
    assert trapezoid.parts["opening"] == pytest.approx(3 / 600, rel=1e-9)


def test_weir_gauging_carries_its_findings():
    assert "below 50 mm" in messages(weir_gauging("45 mm", angle="90 deg"))
    over = weir_gauging("0.3 m", angle="90 deg", notch_depth="0.25 m")
    assert [each.level for each in over.findings] == ["problem"] and "not measured" in messages(
        over
    )
    assert weir_gauging(["98 mm", "102 mm"], angle="90 deg").flow_m3s == pytest.approx(
        v_notch.si(0.1, np.pi / 2)
    )
    full = weir_gauging(
        "0.1 m", kind="rectangular", width="1 m", channel_width="1 m", crest_height="0.4 m"
    )
    assert full.parts["opening"] == pytest.approx(0.003, rel=0.02)


@pytest.mark.parametrize(
    "options, sentence",
    [
        ({"head": "0 m", "angle": "90 deg"}, "above zero"),
        ({"head": "0.1 m"}, "needs angle"),
        (
            {"head": "0.1 m", "kind": "rectangular", "width": "1 m"},
            "needs channel_width and crest_height",
        ),
        ({"head": "0.1 m", "kind": "labyrinth"}, "kind of weir must be"),
    ],
)
def test_weir_gauging_refuses(options, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        weir_gauging(**options)


def test_designer_prefers_a_notch_for_small_flows_and_a_crest_for_large():
    small = design_weir("0.5 L/s", "15 L/s", "1.5 m", "0.5 m")
    large = design_weir("20 L/s", "400 L/s", "3 m", "0.5 m")
    assert small.chosen.kind == "v-notch" and large.chosen.kind == "rectangular"
    for design in (small, large):
        chosen = design.chosen
        assert chosen.rise_m[-1] <= 0.5
        assert np.all(np.diff(chosen.head_m) > 0) and np.all(np.diff(chosen.uncertainty) < 0)
        np.testing.assert_allclose(
            chosen.flow_m3s[[0, -1]], [0.0005, 0.015] if design is small else [0.02, 0.4]
        )
        np.testing.assert_allclose(chosen.rise_m - chosen.head_m, 0.06)


def test_designer_head_error_is_what_two_millimetres_do():
    """Independent: the flow function itself, 2 mm up and down."""
    chosen = design_weir("0.5 L/s", "15 L/s", "1.5 m", "0.5 m").chosen
    above, below = (
        v_notch.si(chosen.head_m + error, chosen.angle_rad) for error in (0.002, -0.002)
    )
    np.testing.assert_allclose(chosen.head_error, (above - below) / 2 / chosen.flow_m3s, rtol=1e-6)


def test_designer_says_when_nothing_fits():
    design = design_weir("0.2 L/s", "500 L/s", "1 m")
    assert "no plate keeps its limits" in messages(design)
    tight = design_weir("5 L/s", "200 L/s", "2.5 m", available_rise="0.2 m")
    assert any("more than there is room for" in each.message for each in tight.options[-1].findings)
    with pytest.raises(HydrokitError, match="below highest"):
        design_weir("5 L/s", "2 L/s", "1 m")
