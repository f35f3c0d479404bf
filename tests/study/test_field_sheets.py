"""Gaugings from field sheets: sections, mixing, floats, plates, flood marks, verticals, salt."""

import numpy as np
import pytest
import small_study
from test_creek import GRAVITY, lines, salt_text, study_of

from hydrokit.errors import HydrokitError, InputError
from hydrokit.report.pages.p01 import gauging
from hydrokit.stream.cross_section import cross_section
from hydrokit.stream.mixing import mixing_length
from hydrokit.study.opening import check_study

# --- sections and mixing, by themselves -----------------------------------------------------


def test_a_half_circle_of_many_points_has_its_area_and_arc():
    angle = np.linspace(0, np.pi, 2001)
    area, perimeter = cross_section.si(-2 * np.cos(angle), 2 * np.sin(angle))
    assert area == pytest.approx(2 * np.pi, rel=1e-5) and perimeter == pytest.approx(
        2 * np.pi, rel=1e-5
    )


def test_steep_banks_are_wetted_and_the_tape_may_run_either_way():
    assert cross_section.si([0, 1, 2], [0.5, 0.5, 0.5]) == (1.0, 3.0)
    assert cross_section.si([3, 1, 0], [0, 1, 0]) == pytest.approx(
        cross_section.si([0, 2, 3], [0, 1, 0])
    )


@pytest.mark.parametrize(
    "across, depth, says",
    [
        ([0, 1], [0, 0], "three points"),
        ([0, 2, 1], [0, 1, 0], "one way"),
        ([0, 1, 2], [0, -1, 0], "negative"),
        ([0, 1, 2], [0, 0, 0], "above zero"),
    ],
)
def test_a_section_refuses(across, depth, says):
    with pytest.raises(HydrokitError, match=says):
        cross_section.si(across, depth)


@pytest.mark.parametrize("where, at", [("middle", 0.5), ("bank", 0.0)])
def test_at_the_mixing_length_the_cosine_series_is_even_to_five_per_cent(where, at):
    """Plane mixing between two banks, C = 1 + 2 sum cos(n pi y0) cos(n pi y) exp(-n^2 pi^2 x'), x' = x e / (V W^2)."""
    flow, width, depth, slope = 0.1, 3.0, 0.2, 0.01
    length = mixing_length.si(flow, width, depth, slope, where)
    relative = (
        length
        * 0.6
        * depth
        * np.sqrt(GRAVITY * depth * slope)
        / (flow / (width * depth) * width**2)
    )
    across, n = np.linspace(0, 1, 201), np.arange(1, 200)[:, None]

    def worst(relative):
        series = 1 + 2 * np.sum(
            np.cos(n * np.pi * at)
            * np.cos(n * np.pi * across)
            * np.exp(-(n**2) * np.pi**2 * relative),
            axis=0,
        )
        return np.abs(series - 1).max()

    assert worst(relative) < 0.05 < worst(0.8 * relative)


# --- field sheets ---------------------------------------------------------------------------


def test_floats_cross_their_sections(tmp_path):
    """Area and depth of two triangles, the coefficient of the logarithmic profile, written out."""
    sections = [(0, 0, 0), (0, 1, 0.4), (0, 2, 0), (5, 0, 0), (5, 1, 0.5), (5, 2, 0)]
    stream = {"float": "runs.csv", "float_section": "section.csv", "float_bed": "gravel"}
    sheets = {
        "runs": lines("length [m],time [s]", [(5, 10), (5, 11), (5, 9)]),
        "section": lines("station [m],across [m],depth [m]", sections),
    }
    found = study_of(tmp_path, stream, sheets).field_sheets["float"]
    coefficient = 1 - 1 / (np.log(0.225 / 0.1) + 3.4)
    assert found.flow_m3s == pytest.approx(coefficient * 0.45 * np.mean([5 / 10, 5 / 11, 5 / 9]))
    given = study_of(
        tmp_path / "b", {**stream, "float_coefficient": "0.8 ± 0.04"}, sheets
    ).field_sheets["float"]
    assert given.flow_m3s == pytest.approx(found.flow_m3s * 0.8 / coefficient) and given.parts[
        "coefficient"
    ] == pytest.approx(0.05)


def test_heads_over_a_plate_in_us_units(tmp_path):
    """Kindsvater-Shen by hand: 4.28 C tan(45 deg) (h + 0.0029 ft)^2.5, C 0.578."""
    found = study_of(
        tmp_path,
        {"weir": "heads.csv"},
        {"heads": "head [in]\n6\n6.2\n5.8\n"},
        weir={"kind": "v-notch", "angle": "90 deg"},
    ).field_sheets["weir"]
    assert found.flow.to("cfs").magnitude == pytest.approx(
        4.28 * 0.578 * (0.5 + 0.0029) ** 2.5, rel=0.002
    )
    above = study_of(
        tmp_path / "b",
        {"weir": "heads.csv"},
        {"heads": "head [in]\n6\n"},
        weir={"kind": "v-notch", "angle": "90 deg", "notch_depth": "5 in"},
    )
    assert "above the notch" in " ".join(
        each.message for each in above.field_sheets["weir"].findings
    )
    crest = study_of(
        tmp_path / "c",
        {"weir": "heads.csv"},
        {"heads": "head [mm]\n100\n"},
        weir={"kind": "cipolletti", "width": "1 m"},
    )
    assert crest.field_sheets["weir"].flow.to("L/s").magnitude == pytest.approx(
        1859 * 0.1**1.5, rel=0.01
    )  # 1.859 b h^1.5


def test_a_rectangular_crest_has_francis_beside_it(tmp_path):
    """Q = 3.33 (L - 0.2 H) H^1.5 in feet, both ends contracted."""
    plate = {
        "kind": "rectangular",
        "width": "2 ft",
        "channel_width": "6 ft",
        "crest_height": "2 ft",
    }
    found = study_of(tmp_path, {"weir": "heads.csv"}, {"heads": "head [ft]\n0.4\n"}, weir=plate)
    francis = 3.33 * (2 - 0.2 * 0.4) * 0.4**1.5
    assert found.field_sheets["weir"].flow.to("cfs").magnitude == pytest.approx(francis, rel=0.03)
    assert f"by Francis's formula {francis * 448.831:.0f} gpm" in repr(
        gauging.sheets_table(found, found.view("us"))
    )


def test_flood_marks_are_manning_in_an_even_reach(tmp_path):
    rows = [
        (station, 10 - 0.02 * station, across, depth)
        for station in (0, 50, 100)
        for across, depth in ((0, 0.5), (2, 0.5), (4, 0.5))
    ]
    stream = {"slope_area": "flood.csv", "slope_area_manning": "0.04 ± 0.01"}
    found = study_of(
        tmp_path, stream, {"flood": lines("station [m],level [m],across [m],depth [m]", rows)}
    ).field_sheets["flood marks"]
    assert found.flow_m3s == pytest.approx(2 * (2 / 5) ** (2 / 3) * np.sqrt(0.02) / 0.04, rel=1e-9)
    assert found.parts["roughness"] == pytest.approx(0.25)


def test_water_beside_the_bucket_is_added(tmp_path):
    sheets = {"fills": "volume [L],time [s]\n10,5\n10,5\n10,5\n"}
    alone = study_of(tmp_path, {"bucket": "fills.csv"}, sheets).field_sheets["bucket"]
    both = study_of(
        tmp_path / "b", {"bucket": "fills.csv", "bucket_beside": "6 L/s ± 0.3 L/s"}, sheets
    ).field_sheets["bucket"]
    assert alone.flow_m3s == pytest.approx(0.002) and both.flow_m3s == pytest.approx(0.008)
    assert both.uncertainty * 8 == pytest.approx(np.hypot(2 * alone.uncertainty, 0.3))


def test_verticals_of_one_two_three_and_five_points(tmp_path):
    """A 1/6-power profile, whose mean is known: the more points, the nearer."""
    at = {
        "velocity at surface": 1.0,
        "velocity at 0.2": 0.8,
        "velocity at 0.6": 0.4,
        "velocity at 0.8": 0.2,
        "velocity at bed": 0.02,
    }
    true, depths = 6 / 7, [0, 0.3, 0.4, 0.3, 0]

    def flow(folder, *names):
        header = "distance [m],depth [m]," + ",".join(f"{name} [m/s]" for name in names)
        rows = [
            (float(place), float(depth), *(at[name] ** (1 / 6) if depth else 0.0 for name in names))
            for place, depth in enumerate(depths)
        ]
        return study_of(
            folder, {"current_meter": "meter.csv"}, {"meter": lines(header, rows)}
        ).field_sheets["current meter"]

    two = flow(tmp_path / "2", "velocity at 0.2", "velocity at 0.8")
    five = flow(tmp_path / "5", *at)
    one = flow(tmp_path / "1", "velocity at 0.6")
    for found, off in ((one, 0.01), (two, 0.01), (five, 0.03)):
        assert found.flow_m3s == pytest.approx(1.0 * true, rel=off)
    assert five.uncertainty < two.uncertainty < one.uncertainty


def test_a_shallow_vertical_may_have_fewer_points(tmp_path):
    text = "distance [m],depth [m],velocity [m/s],velocity at 0.2 [m/s],velocity at 0.8 [m/s]\n0,0,,,\n1,0.2,0.3,,\n2,0.6,,0.5,0.3\n3,0,,,\n"
    found = study_of(tmp_path, {"current_meter": "meter.csv"}, {"meter": text}).field_sheets[
        "current meter"
    ]
    assert found.flow_m3s == pytest.approx(0.2 * 0.3 + 0.6 * 0.4)
    ways = study_of(tmp_path, {"current_meter": "meter.csv"}, {"meter": text}).meter_ways
    assert [(panels, uncertainty) for panels, uncertainty, _ in ways] == [
        ("mid-section", "ISO 748"),
        ("mean-section", "ISO 748"),
    ]  # too few for the interpolated variance
    mean = 0.3 / 2 * 0.1 + (0.3 + 0.4) / 2 * 0.4 + 0.4 / 2 * 0.3
    assert ways[1][2].flow_m3s == pytest.approx(mean)


def test_salt_with_its_own_calibration_and_a_drift(tmp_path):
    text, area = salt_text()
    stream = {"salt": "salt.csv", "salt_mass": "0.2 kg", "salt_background": "80 uS/cm"}
    plain = study_of(tmp_path, stream, {"salt": text}).field_sheets["salt"]
    assert plain.flow.to("L/s").magnitude == pytest.approx(
        200e3 / (0.486 * area), rel=0.005
    )  # mg over mg/L for each uS/cm times uS/cm s
    steps = [(0, 84.7), (5, 124.9), (10, 163.8), (15, 202.0), (20, 239.0)]
    own = {
        **stream,
        "salt_calibration": "cal.csv",
        "salt_solution": "1.99 g/L",
        "salt_sample": "0.5 L",
    }
    found = study_of(
        tmp_path / "b", own, {"salt": text, "cal": lines("added [mL],conductivity [uS/cm]", steps)}
    ).field_sheets["salt"]
    added = np.array([each for each, _ in steps]) / 1000
    slope = np.polyfit([each for _, each in steps], 1990 * added / (0.5 + added), 1)[0]
    assert found.flow_m3s / plain.flow_m3s == pytest.approx(0.486 / slope, rel=1e-6)


def test_salt_read_cold_and_by_two_probes(tmp_path):
    text, area = salt_text(header="time [s],conductivity [uS/cm],temperature [degC]", more="5")
    stream = {"salt": "salt.csv", "salt_mass": "0.2 kg", "salt_background": "80 uS/cm"}
    cold = study_of(tmp_path, stream, {"salt": text}).field_sheets["salt"]
    assert cold.flow.to("L/s").magnitude == pytest.approx(
        200e3 / (0.486 * area) * (1 - 0.019 * 20), rel=0.005
    )
    rows = salt_text()[0].splitlines()[1:]
    second = "time [s],conductivity [uS/cm],second probe [uS/cm]\n" + "".join(
        f"{row},{80 + 0.7 * (float(row.split(',')[1]) - 80):.4f}\n" for row in rows
    )
    both = study_of(tmp_path / "b", stream, {"salt": second}).field_sheets["salt"]
    assert any("had not mixed" in each.message for each in both.findings)


def test_a_leak_is_told_against_both_uncertainties(tmp_path):
    reach = {"name": "ditch", "above": "10 L/s ± 0.5 L/s", "below": "9 L/s ± 0.5 L/s"}
    ((name, above, found),) = study_of(tmp_path, {"reach": [reach]}).leaks
    assert (name, above) == ("ditch", pytest.approx(0.010)) and not found.certain
    assert found.change_m3s == pytest.approx(-0.001) and found.uncertainty_m3s == pytest.approx(
        0.0005 * np.sqrt(2)
    )
    ((_, _, shared),) = study_of(tmp_path / "b", {"reach": [reach | {"shared": "5 %"}]}).leaks
    own = np.sqrt((0.5 / 9) ** 2 - 0.05**2) * 9  # above, all the uncertainty is shared
    assert (
        shared.uncertainty_m3s == pytest.approx(np.hypot(own, 0.05 * 1) / 1000) and shared.certain
    )
    with pytest.raises(InputError, match="shared is 8.0 %, more than the whole"):
        check_study(
            small_study.write(
                tmp_path / "c",
                {"site": {"name": "x"}, "stream": {"reach": [reach | {"shared": "8 %"}]}},
            )
        )
