"""Creeks that fall dry, never vary, have hardly been watched or are too large for a plate: what is worked out and said of them."""

import copy

import numpy as np
import pandas as pd
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.pages.p01 import gauge_next, gauging
from hydrokit.report.pages.p01 import rating as build_rating
from hydrokit.report.pages.p02 import duration, extremes, years
from hydrokit.report.pages.p02 import rights as build_rights
from hydrokit.stream.gauging import Gauging
from hydrokit.stream.rights import _within_ramp
from hydrokit.stream.weir_plate import design_weir
from hydrokit.study.build.days import fed_steps
from hydrokit.study.opening import check_study, open_study


def study_of(folder, stream=None, sheets=None, **sections):
    """A study with that [stream] and those sheets."""
    return open_study(
        small_study.write(
            folder, {"site": {"name": "x"}, "stream": stream or {}, **sections}, **(sheets or {})
        )
    )


def record_text(days, flow):
    return "date,flow [L/s]\n" + "".join(
        f"{day:%Y-%m-%d},{each:.4f}\n" for day, each in zip(days, flow)
    )


def words(section, study, system="metric"):
    return section(study, study.view(system)).text


# --- salt -----------------------------------------------------------------------------------

FLOW, FACTOR, TEMPERATURE = 50.0, 0.486, 8.0  # L/s, mg/L for each µS/cm at 25 °C, °C
TIME = np.arange(0, 600, 5.0)
RAISED = np.where(TIME > 60, ((TIME - 60) / 30) ** 2 * np.exp(-np.maximum(TIME - 60, 0) / 40), 0)
AT_25 = (
    60 + 500e3 / FLOW * RAISED / np.trapezoid(RAISED, TIME) / FACTOR
)  # of 500 g in that flow, by the mass balance
COLD = 1 + 0.019 * (TEMPERATURE - 25)  # what a probe without compensation reads of it


def salt_study(folder, sheet, **more):
    stream = {
        "salt": "salt.csv",
        "salt_mass": "500 g",
        **{key: value for key, value in more.items() if key != "calibration"},
    }
    return study_of(
        folder,
        stream,
        {"salt": sheet} | ({"cal": more["calibration"]} if "calibration" in more else {}),
    )


def calibration_text(warm):
    added = np.array([0, 5, 10, 15, 20.0])
    read = (60 * 500 / (500 + added) + 2000 * added / (500 + added) / FACTOR) * (
        1 if warm else COLD
    )
    return (
        "added [mL],conductivity [uS/cm]"
        + ("" if warm else ",temperature [degC]")
        + "\n"
        + "".join(
            f"{v:g},{c:.4f}{'' if warm else f',{TEMPERATURE}'}\n" for v, c in zip(added, read)
        )
    )


def test_a_calibration_read_cold_is_brought_to_25_degrees_like_the_slug(tmp_path):
    sheet = "time [s],conductivity [uS/cm],temperature [degC]\n" + "".join(
        f"{t:g},{c * COLD:.5f},{TEMPERATURE}\n" for t, c in zip(TIME, AT_25)
    )
    told = {
        "salt_background": f"{60 * COLD} uS/cm",
        "salt_calibration": "cal.csv",
        "salt_solution": "2 g/L",
        "salt_sample": "0.5 L",
    }
    found = salt_study(
        tmp_path / "both", sheet, calibration=calibration_text(warm=False), **told
    ).field_sheets["salt"]
    assert 1000 * found.flow_m3s == pytest.approx(
        FLOW, rel=0.02
    )  # the additions thin the creek's own water a little
    with pytest.raises(
        InputError, match="give both that column, or neither"
    ):  # a third too low before
        salt_study(tmp_path / "one", sheet, calibration=calibration_text(warm=True), **told).read()


def test_a_second_probe_that_reads_otherwise_is_no_lack_of_mixing(tmp_path):
    sheet = "time [s],conductivity [uS/cm],second probe [uS/cm]\n" + "".join(
        f"{t:g},{c:.5f},{c + 4:.5f}\n" for t, c in zip(TIME, AT_25)
    )
    found = salt_study(tmp_path, sheet, salt_background="60 uS/cm")
    slug = found.field_sheets["salt"]
    assert 1000 * slug.flow_m3s == pytest.approx(FLOW, rel=1e-3) and slug.parts[
        "mixing"
    ] == pytest.approx(0.01)
    assert found.salt_plan.from_sheet and found.salt_plan.passage_s == pytest.approx(
        np.trapezoid(RAISED, TIME) / RAISED.max(), rel=1e-3
    )
    empty = "time [s],conductivity [uS/cm],second probe [uS/cm]\n" + "".join(
        f"{t:g},{c:.5f},\n" for t, c in zip(TIME, AT_25)
    )
    with pytest.raises(InputError, match="second probe has fewer than 5 readings"):
        assert salt_study(tmp_path / "b", empty, salt_background="60 uS/cm").field_sheets


# --- other sheets ---------------------------------------------------------------------------


def test_floats_over_stones_that_reach_through_are_told(tmp_path):
    sheets = {
        "f": "length [m],time [s]\n10,20\n10,21\n10,22\n",
        "s": "across [m],depth [m]\n0,0\n1,0.2\n2,0\n",
    }
    told = [
        each.message
        for each in study_of(
            tmp_path, {"float": "f.csv", "float_section": "s.csv", "float_bed": "cobbles"}, sheets
        )
        .field_sheets["float"]
        .findings
    ]
    assert any("stones reach through" in each for each in told)
    given = study_of(
        tmp_path / "b",
        {
            "float": "f.csv",
            "float_section": "s.csv",
            "float_bed": "cobbles",
            "float_coefficient": "0.7 ± 0.1",
        },
        sheets,
    )
    assert not any("stones" in each.message for each in given.field_sheets["float"].findings)


def test_one_section_of_flood_marks_and_a_plate_half_told_are_named_by_their_keys(tmp_path):
    marks = "station [m],level [m],across [m],depth [m]\n0,3,0,0\n0,3,1,1\n0,3,2,0\n"
    with pytest.raises(InputError, match="two sections at least"):
        assert study_of(
            tmp_path / "a", {"slope_area": "m.csv", "slope_area_manning": 0.05}, {"m": marks}
        ).field_sheets
    with pytest.raises(InputError, match="needs channel_width and crest_height under"):
        assert study_of(
            tmp_path / "b",
            {"weir": "w.csv"},
            {"w": "head [mm]\n80\n"},
            weir={"kind": "rectangular", "width": "0.5 m"},
        ).field_sheets


# --- rating and stages ----------------------------------------------------------------------


def gaugings_text(stages, flows):
    return "date,stage [m],flow [L/s],uncertainty [%],method\n" + "".join(
        f"2022-{1 + n % 12:02d}-{1 + n // 12:02d},{h:.3f},{q:.3f},5,salt\n"
        for n, (h, q) in enumerate(zip(stages, flows))
    )


@pytest.mark.parametrize("control, exponent", [("v-notch", 2.5), ("rectangular", 1.5)])
def test_six_gaugings_at_three_stages_still_lean_on_the_control(tmp_path, control, exponent):
    text = gaugings_text([0.3, 0.3, 0.25, 0.25, 0.2, 0.2], [60, 62, 33, 32, 12, 12.5])
    found = study_of(
        tmp_path, {"gaugings": "g.csv", "control": control, "cease_to_flow": "0.1 m"}, {"g": text}
    )
    assert found.rating.b == exponent and not any(
        "is not said" in each.message for each in found.rating.findings
    )
    assert "fewer than five stages" in words(build_rating.rating_words, found)


def test_two_curves_through_six_gaugings_are_refused_by_their_key(tmp_path):
    text = gaugings_text(np.linspace(0.2, 0.5, 6), 1000 * np.linspace(0.1, 0.4, 6) ** 2)
    with pytest.raises(
        InputError, match=r"\[stream\] pieces: two curves need 10 gaugings.*; leave pieces out"
    ):
        assert study_of(tmp_path, {"gaugings": "g.csv", "pieces": 2}, {"g": text}).rating


def test_a_datum_above_no_flow_gives_no_double_sign(tmp_path):
    stage = np.linspace(0.05, 0.4, 7)
    found = study_of(
        tmp_path, {"gaugings": "g.csv"}, {"g": gaugings_text(stage, 2000 * (stage + 0.1) ** 2)}
    )
    assert "(h + 0.100)" in words(build_rating.rating_words, found)


STAGE = np.linspace(0.15, 0.45, 7)
RATED = gaugings_text(STAGE, 2000 * (STAGE - 0.1) ** 2)


def test_days_without_an_air_temperature_are_told(tmp_path):
    days = pd.date_range("2022-12-01", "2023-03-31")
    stages = "date,stage [m]\n" + "".join(f"{day:%Y-%m-%d},0.3\n" for day in days)
    air = "date,temperature [degC]\n" + "".join(f"{day:%Y-%m-%d},5\n" for day in days[:31])
    found = study_of(
        tmp_path,
        {"gaugings": "g.csv", "stage": "s.csv", "temperature": "t.csv"},
        {"g": RATED, "s": stages, "t": air},
    )
    assert [
        each.message
        for each in found.stage_record.findings
        if f"air temperature of {len(days) - 31} days is not known" in each.message
    ]


def test_a_winter_all_under_ice_is_no_mistake(tmp_path):
    stages = "date,stage [m]\n" + "".join(
        f"{day:%Y-%m-%d},0.3\n" for day in pd.date_range("2023-01-05", "2023-02-20")
    )
    found = study_of(
        tmp_path,
        {"gaugings": "g.csv", "stage": "s.csv", "ice_months": [1, 2]},
        {"g": RATED, "s": stages},
    )
    assert found.record is None and "47 days under ice left out" in words(
        build_rating.stage_words, found
    )
    assert check_study(tmp_path)
    low = stages.replace("0.3", "0.05")
    with pytest.raises(InputError, match="at or below 0.100 m, where the rating ends"):
        assert study_of(
            tmp_path / "low",
            {"gaugings": "g.csv", "stage": "s.csv", "ice_months": [7]},
            {"g": RATED, "s": low},
        ).record


@pytest.mark.parametrize(
    "step, told",
    [("1min", "one every minute."), ("60min", "one every hour."), ("7D", "one every 7 days.")],
)
def test_the_step_of_a_logger_is_told_in_its_own_unit(tmp_path, step, told):
    text = "time,stage [m]\n" + "".join(
        f"{at:%Y-%m-%d %H:%M},0.3\n"
        for at in pd.date_range("2023-05-01", periods=3000 if step == "1min" else 40, freq=step)
    )
    assert told in words(
        build_rating.stage_words,
        study_of(tmp_path, {"gaugings": "g.csv", "stage": "s.csv"}, {"g": RATED, "s": text}),
    )


# --- what a station must read ---------------------------------------------------------------

DAYS = pd.date_range("2016-10-01", "2022-09-30")
FALLS_DRY = np.maximum(50 * np.cos(2 * np.pi * (DAYS.day_of_year.to_numpy() - 60) / 365.25), 0) * (
    1 + 0.2 * np.sin(np.arange(len(DAYS)))
)


@pytest.mark.slow
def test_a_creek_that_falls_dry_is_read_on_the_days_it_flows(tmp_path):
    found = study_of(
        tmp_path,
        {"record": "f.csv", "gaugings": "g.csv", "cease_to_flow": "0.1 m"},
        {"f": record_text(DAYS, FALLS_DRY), "g": RATED},
    )
    flowing = np.round(FALLS_DRY, 4)[np.round(FALLS_DRY, 4) > 0] / 1000
    low, high = found.expected_range
    assert low == pytest.approx(
        np.quantile(flowing, 0.10, method="weibull")
    ) and high == pytest.approx(np.quantile(flowing, 0.90, method="weibull"))
    assert "Below 0" not in words(gauging.headline, found) and "at 0 L/s" not in words(
        build_rating.rating_words, found
    )
    dry = 365 * np.mean(np.round(FALLS_DRY, 4) == 0)
    assert f"dry on {dry:.0f} days a year" in words(duration.headline, found)
    assert "creek is dry" in words(extremes.low_words, found) and "not known" not in words(
        extremes.low_words, found
    )
    for page in (gauge_next, extremes):
        small_study.said(page, found)
    for section in (build_rating.rating_figure, duration.curve_figure, years.years_figure):
        assert section(found, found.view())._repr_mimebundle_()[0]["image/png"]


def test_the_plant_is_not_blamed_for_days_the_creek_is_dry_by_itself(tmp_path):
    kept = {"residual": [{"rule": "fixed", "flow": "5 L/s"}]}
    natural = words(
        build_rights.bypassed_words,
        study_of(
            tmp_path / "a", {"record": "f.csv"}, {"f": record_text(DAYS, FALLS_DRY)}, rights=kept
        ),
    )
    assert "with or without it" in natural and "**It falls dry" not in natural
    taken = words(
        build_rights.bypassed_words,
        study_of(tmp_path / "b", {"record": "f.csv"}, {"f": record_text(DAYS, FALLS_DRY)}),
    )
    assert "**It falls dry on 365 days a year" in taken and "of them without the plant too" in taken


def test_a_spring_that_never_varies_still_gets_a_plate(tmp_path):
    found = study_of(
        tmp_path, {"record": "f.csv"}, {"f": record_text(DAYS, np.full(len(DAYS), 8.0))}
    )
    assert found.expected_range == pytest.approx((0.008, 0.012)) and found.weir_plan is not None


def test_a_field_sheet_alone_is_a_known_flow(tmp_path):
    found = study_of(
        tmp_path, {"bucket": "b.csv"}, {"b": "volume [L],time [s]\n10,5\n10,5\n10,5\n"}
    )
    assert found.expected_range == pytest.approx((0.0014, 0.003))


def test_a_range_upside_down_is_refused_by_check(tmp_path):
    small_study.write(
        tmp_path, {"site": {"name": "x"}, "weir": {"lowest": "5 L/s", "highest": "2 L/s"}}
    )
    with pytest.raises(InputError, match=r"\[weir\] lowest: it must be below highest"):
        check_study(tmp_path)


def test_where_no_plate_fits_the_nearest_comes_first_and_is_not_ordered_cut(tmp_path):
    design = design_weir.si(1.3, 22.0, 18.0)
    fits = [
        option.rise_m[-1]
        for option in design.options
        if not any(each.level == "problem" for each in option.findings)
    ]
    assert not fits and design.chosen.rise_m[-1] == min(
        option.rise_m[-1] for option in design.options
    )  # 10 m before
    found = study_of(
        tmp_path,
        {},
        {},
        weir={"lowest": "1.3 m^3/s", "highest": "22 m^3/s", "channel_width": "18 m"},
    )
    assert "no weir plate fits this place" in words(
        gauge_next.weir_words, found
    ) and "cut a" not in words(gauge_next.weir_words, found)


# --- hardly any record ----------------------------------------------------------------------


def test_a_spring_of_record_is_not_called_a_year(tmp_path):
    days = pd.date_range("2025-03-10", "2025-06-20")
    found = study_of(
        tmp_path, {"record": "f.csv"}, {"f": record_text(days, np.linspace(40, 8, len(days)))}
    )
    told = words(duration.headline, found)
    assert (
        "no year of record" in told
        and "July to February" in told
        and "Half the days of a year" not in told
    )
    assert "March to June only" in words(duration.month_words, found)
    line = years.years_figure(found, found.view()).figure.axes[0].get_lines()[0].get_ydata()
    assert (
        np.flatnonzero(np.isfinite(line))[0]
        == (pd.Timestamp("2025-03-10") - pd.Timestamp("2024-10-01")).days
    )  # in March, not in October


def test_a_neighbour_with_nothing_to_tie_it_to_is_told(tmp_path):
    found = study_of(
        tmp_path, {"neighbour_record": "n.csv"}, {"n": record_text(DAYS, np.full(len(DAYS), 5.0))}
    )
    assert any("neighbour_record is not used" in each.message for each in found.record_findings)


def test_a_year_of_weekly_readings_can_be_lengthened_by_a_neighbour(tmp_path):
    rng, days = np.random.default_rng(4), pd.date_range("2010-10-01", "2022-09-30")
    there = 200 * np.exp(
        0.8 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 30) / 365.25)
        + rng.normal(0, 0.3, len(days))
    )
    here = 0.05 * there**1.1 * rng.lognormal(0, 0.1, len(days))
    weekly = (days >= "2021-10-01") & (days.day_of_week == 0)
    stream = {"record": "f.csv", "neighbour_record": "n.csv"}
    found = study_of(
        tmp_path,
        stream,
        {"f": record_text(days[weekly], here[weekly]), "n": record_text(days, there)},
    )
    assert found.extension.overlap_days == weekly.sum() == 52
    assert found.record.mean() == pytest.approx(here.mean() / 1000, rel=0.1)
    assert any("share 52 days only" in each.message for each in found.extension.findings)
    half = weekly & (days < "2022-05-01")
    with pytest.raises(InputError, match="40 spread over all twelve months"):
        assert study_of(
            tmp_path / "half",
            stream,
            {"f": record_text(days[half], here[half]), "n": record_text(days, there)},
        ).record


# --- a yearly volume, a ramp ----------------------------------------------------------------


def test_water_the_plant_cannot_take_uses_up_no_yearly_volume(tmp_path):
    site = copy.deepcopy(small_study.SITE)
    site["rights"] |= {"licence_volume": "150000 m^3", "ramp": "2 L/s/day"}
    site["intake"] = {"capacity": "100 L/s"}
    found = open_study(small_study.write(tmp_path, site))
    most, before, left, taken = (
        max(curve.most_used_m3s for curve in found.plant.curves()),
        np.inf,
        0.0,
        [],
    )
    for day, flow in found.record.items():  # day by day, by hand
        if (day.month, day.day) == (10, 1):
            left = 150000 / 86400
        before = min(max(flow - 0.003, 0.0), 0.020, most, before + 0.002, left)
        left -= before
        taken.append(before)
    for _, full, fed in fed_steps(found):
        assert fed == pytest.approx(365 * np.mean(np.array(taken) >= full * (1 - 1e-9)))
    assert "150,000 m³ in a year" in words(build_rights.rights_words, found)
    assert found.base_case.water.mean() == pytest.approx(np.mean(taken))
    # Wasted on what the jets cannot take, the volume would be gone sooner and the year be told too small.
    days = found.record.index < "2023-10-01"
    power = [
        float(found.plant.at_si(flow, day.month).power_w)
        for day, flow in zip(found.record.index[days], np.array(taken)[days])
    ]
    assert found.year.annual_kwh == pytest.approx(0.024 * sum(power) / 2, rel=0.005)


def test_the_ramp_leaves_no_hair_below_what_may_be_taken():
    usable = np.r_[0.0, np.full(40, 0.016)]
    ramped = _within_ramp(usable, np.array(np.inf), 0.0007)
    assert np.all(ramped[24:] == 0.016) and ramped[:4] == pytest.approx([0, 0.0007, 0.0014, 0.0021])


def test_two_slugs_keep_what_their_pulses_showed():
    from hydrokit.stream.salt import mixing_check

    slugs = [
        Gauging.from_parts(
            1.0,
            {"mass": 0.01},
            "salt slug",
            details={"area_ssm": a, "peak_sm": 1.0, "passage_s": a},
        )
        for a in (100.0, 120.0)
    ]
    assert mixing_check(*slugs).details["passage_s"] == 110.0


# --- rules ----------------------------------------------------------------------------------


@pytest.mark.parametrize("winter, lean", [([12, 1, 2], 0.1), ([6, 7, 8], 0.3)])
def test_tennants_half_years_follow_the_winter_and_a_rule_its_months(tmp_path, winter, lean):
    text = record_text(DAYS, 20 + 5 * np.cos(np.arange(len(DAYS)) / 58))
    site = {
        "site": {"name": "x", "winter": winter},
        "stream": {"record": "f.csv"},
        "rights": {"residual": [{"rule": "tennant", "class": "fair", "months": [11, 12, 1]}]},
    }
    found = open_study(small_study.write(tmp_path, site, f=text))
    keep = found.rights.keep_m3s / found.record.mean()
    assert keep[[10, 11, 0]] == pytest.approx(lean) and np.all(
        keep[1:10] == 0
    )  # the months were read and not heeded
    assert "in November to January" in words(build_rights.rights_words, found)


def test_months_a_licence_does_not_name_are_told(tmp_path):
    found = study_of(tmp_path, {}, {}, rights={"licence": {"may": "20 L/s", "june": "20 L/s"}})
    assert any("no abstraction in July to April" in each.message for each in found.rights.findings)
    assert not any(
        "licence" in each.message
        for each in study_of(tmp_path / "b", {}, {}, rights={"licence": "20 L/s"}).rights.findings
    )
