"""The creek from the site file: field sheets, rating, stages, extremes; and what a slip in a sheet is told."""

import numpy as np
import pandas as pd
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.pages.p01 import gauge_next
from hydrokit.report.pages.p01 import rating as build_rating
from hydrokit.report.pages.p02 import extremes, years
from hydrokit.stream.ice import without_backwater
from hydrokit.stream.rating import fit_rating
from hydrokit.study.opening import check_study, open_study
from hydrokit.units import Q_


def salt_text(scale=1.0, header="time [s],conductivity [uS/cm]", more=""):
    time = np.arange(0, 400, 5.0)
    pulse = 60 * np.exp(-((time - 150) ** 2) / (2 * 30**2))
    return lines(
        header,
        [(at, 80 + scale * rise, *([more] if more else [])) for at, rise in zip(time, pulse)],
    ), 60 * 30 * np.sqrt(2 * np.pi)


GRAVITY = 9.80665


def study_of(folder, stream=None, sheets=None, **sections):
    """A study with that [stream] and those sheets beside the small study's own."""
    site = {"site": {"name": "x"}, "stream": stream or {}, **sections}
    return open_study(small_study.write(folder, site, **(sheets or {})))


def lines(header, rows):
    return (
        "\n".join(
            [
                header,
                *(
                    ",".join(
                        f"{each:.6g}" if isinstance(each, float) else str(each) for each in row
                    )
                    for row in rows
                ),
            ]
        )
        + "\n"
    )


# --- rating and stages ----------------------------------------------------------------------


def gaugings_text(stage, flow, ice=None, dates=None):
    dates = (
        pd.date_range("2022-01-10", periods=len(stage), freq="40D")
        if dates is None
        else pd.DatetimeIndex(dates)
    )
    ice = ["no"] * len(stage) if ice is None else ice
    return lines(
        "date,stage [m],flow [L/s],uncertainty [%],ice",
        [
            (f"{day:%Y-%m-%d}", float(h), float(1000 * q), 3, frozen)
            for day, h, q, frozen in zip(dates, stage, flow, ice)
        ],
    )


def bent(stage):
    return np.where(
        stage < 0.62, 1.5 * (stage - 0.12) ** 2.1, 1.5 * 0.5**2.1 * ((stage - 0.12) / 0.5) ** 1.4
    )


def test_gaugings_that_bend_get_two_curves_and_the_page_says_so(tmp_path):
    stage = np.linspace(0.2, 1.2, 24)
    text = gaugings_text(stage, bent(stage))
    found = study_of(tmp_path, {"gaugings": "g.csv"}, {"g": text})
    assert found.rating.break_m == pytest.approx(
        0.62, abs=0.02
    ) and found.rating.upper_b == pytest.approx(1.4, abs=0.05)
    told = build_rating.rating_words(found, found.view()).text
    assert "above it" in told and told.count("$") == 4
    one = study_of(tmp_path / "b", {"gaugings": "g.csv", "pieces": 1}, {"g": text})
    assert one.rating.break_m is None and "two pieces fit" in " ".join(
        each.message for each in one.rating.findings
    )
    # the upper curve as printed gives the rating's own flow
    import re

    scale, cease, power = (
        float(each)
        for each in re.findall(r"Q = ([\d.]+)\\,\(h - ([\d.]+)\)\^\{([\d.]+)\}", told)[1]
    )
    assert scale * (1.0 - cease) ** power == pytest.approx(
        1000 * found.rating.flow_si(1.0), rel=0.02
    )


def test_few_gaugings_lean_on_the_controls_shape(tmp_path):
    stage = np.array([0.2, 0.3, 0.4])
    text = gaugings_text(stage, 2 * (stage - 0.05) ** (5 / 3))
    found = study_of(
        tmp_path,
        {"gaugings": "g.csv", "cease_to_flow": "0.05 m", "control": "channel"},
        {"g": text},
    )
    assert (
        found.rating.b == pytest.approx(5 / 3)
        and "taken as that of a channel" in build_rating.rating_words(found, found.view()).text
    )


def test_a_shift_is_told_on_the_page(tmp_path):
    stage = np.tile(np.linspace(0.2, 0.8, 8), 2)
    flow = (
        1.5
        * (stage - 0.1) ** 2
        * np.r_[np.ones(8), np.full(8, 1.3)]
        * np.random.default_rng(1).lognormal(0, 0.02, 16)
    )
    found = study_of(tmp_path, {"gaugings": "g.csv"}, {"g": gaugings_text(stage, flow)})
    told = build_rating.rating_words(found, found.view()).text
    assert "The control has shifted" in told and f"{found.rating.shift[0]}" in told
    assert "shifted about" in build_rating.residual_figure(found, found.view()).alt


RATING = fit_rating(
    Q_([0.3, 0.5], "m"), Q_([20, 80], "L/s"), cease_to_flow="0.10 m", control="riffle"
)


def test_backwater_taken_off_gives_the_flow_back():
    """Ice lifts the true stage by a backwater that grows through the winter; two gaugings show it at their days."""
    days = pd.date_range("2023-12-01", "2024-03-10")
    flow = 0.02 + 0.01 * np.sin(np.arange(len(days)) / 9)
    lift = np.interp(np.arange(len(days)), [20, 70], [0.03, 0.08])
    stage = 0.10 + np.sqrt(flow / RATING.a) + lift
    seen = np.array([20, 70])
    found, lowered = without_backwater.si(
        days.to_numpy(),
        stage,
        np.ones(len(days), bool),
        days.to_numpy()[seen[::-1]],
        stage[seen[::-1]],
        flow[seen[::-1]],
        RATING,
    )
    np.testing.assert_allclose(RATING.flow_si(found), flow, rtol=1e-9)
    assert lowered.all()
    # a gauging speaks for its own winter only, and open water stays as it was read
    other, lowered = without_backwater.si(
        days.to_numpy() + np.timedelta64(366, "D"),
        stage,
        np.arange(len(days)) < 50,
        days.to_numpy()[seen],
        stage[seen],
        flow[seen],
        RATING,
    )
    assert np.isnan(other[:50]).all() and (other[50:] == stage[50:]).all() and not lowered.any()


STAGES = np.array([0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7])


def creek(folder, stage_text, **stream):
    text = gaugings_text(
        np.r_[STAGES, 0.36],
        np.r_[2 * (STAGES - 0.1) ** 2, 2 * 0.2**2],
        ["no"] * 7 + ["yes"],
        [*pd.date_range("2022-05-01", periods=7, freq="10D"), pd.Timestamp("2024-01-10")],
    )
    return study_of(
        folder,
        {"gaugings": "g.csv", "stage": "stage.csv", "cease_to_flow": "0.1 m", **stream},
        {"g": text, "stage": stage_text},
    )


def test_ice_is_left_out_or_corrected_but_never_rated_raw(tmp_path):
    days = pd.date_range("2023-12-20", "2024-02-10")
    iced = (days >= "2024-01-01") & (days <= "2024-01-31")
    stage = np.where(iced, 0.36, 0.30)
    text = lines(
        "date,stage [m],ice",
        [
            (f"{day:%Y-%m-%d}", float(h), "yes" if frozen else "no")
            for day, h, frozen in zip(days, stage, iced)
        ],
    )
    left_out = creek(tmp_path / "a", text)
    assert (
        left_out.record.isna().sum() == 31
        and left_out.record.dropna().to_numpy() == pytest.approx(2 * 0.2**2)
    )
    corrected = creek(tmp_path / "b", text, ice_stages="corrected")
    assert corrected.record.to_numpy() == pytest.approx(2 * 0.2**2, rel=1e-6)
    assert (
        "31 days under ice lowered by 60 mm"
        in build_rating.stage_words(corrected, corrected.view()).text
    )
    # no column: the months, else the cold
    bare = lines("date,stage [m]", [(f"{day:%Y-%m-%d}", float(h)) for day, h in zip(days, stage)])
    assert creek(tmp_path / "c", bare, ice_months=[1]).record.isna().sum() == 31
    cold = lines(
        "date,temperature [degC]",
        [(f"{day:%Y-%m-%d}", -9.0 if frozen else 4.0) for day, frozen in zip(days, iced)],
    )
    folder = small_study.write(
        tmp_path / "d",
        {
            "site": {"name": "x"},
            "stream": {
                "gaugings": "g.csv",
                "stage": "stage.csv",
                "temperature": "air.csv",
                "cease_to_flow": "0.1 m",
            },
        },
        g=gaugings_text(STAGES, 2 * (STAGES - 0.1) ** 2),
        stage=bare,
        air=cold,
    )
    inferred = open_study(folder)
    assert 20 < inferred.stage.isna().sum() < 40 and "inferred from the cold" in " ".join(
        each.message for each in inferred.stage_record.findings
    )
    assert "nothing says when ice" in " ".join(
        each.message for each in creek(tmp_path / "e", bare).stage_record.findings
    )


@pytest.mark.parametrize("minutes", [10, 60])
def test_a_logger_is_rated_before_its_day_is_averaged(tmp_path, minutes):
    times = pd.date_range("2024-05-01", "2024-05-10 23:59", freq=f"{minutes}min")
    stage = 0.4 + 0.25 * np.sin(2 * np.pi * np.arange(len(times)) * minutes / 1440)
    found = creek(
        tmp_path,
        lines(
            "time,stage [m]", [(f"{at:%Y-%m-%d %H:%M}", float(h)) for at, h in zip(times, stage)]
        ),
    )
    flow = 2 * (np.round(stage, 6) - 0.1) ** 2
    assert len(found.record) == 10 and found.record.to_numpy() == pytest.approx(
        flow.reshape(10, -1).mean(axis=1), rel=1e-4
    )
    assert (
        found.record.mean() > 1.1 * 2 * (stage.mean() - 0.1) ** 2
    )  # of the mean stage it would be far too low
    assert (
        f"one every {'hour' if minutes == 60 else f'{minutes} minutes'}."
        in build_rating.stage_words(found, found.view()).text
    )


def test_a_day_with_too_few_readings_is_a_gap_and_is_told(tmp_path):
    """A leap year of hours, forty of them lost."""
    times = pd.date_range("2024-01-01", "2024-12-31 23:00", freq="h").delete(slice(1000, 1040))
    found = creek(
        tmp_path,
        lines("time,stage [m],ice", [(f"{at:%Y-%m-%d %H:%M}", 0.3, "no") for at in times]),
        fill_gaps=3,
    )
    assert len(found.record) == 366 and found.record.notna().all()
    assert (
        list(found.gaps["days"]) == [3] and found.gaps["filled"].all()
    )  # one day lost whole, 8 of 24 hours of the days beside it
    assert "3 days from 2024-02-11 (filled)" in years.gaps_words(found, found.view()).text


# --- what a slip in a sheet is told ---------------------------------------------------------

GAUGED = gaugings_text(STAGES, 2 * (STAGES - 0.1) ** 2)
SLIPS = {
    "a vertical without a velocity": ({"current_meter": "s.csv"}, "distance [m],depth [m],velocity [m/s]\n0,0,0\n1,0.3,\n2,0,0\n", "the vertical at 1 m has a depth but no velocity; enter its velocity"),
    "no velocity at all": ({"current_meter": "s.csv"}, "distance [m],depth [m]\n0,0\n1,0.3\n2,0\n", "there is no velocity; write the column velocity [m/s]"),
    "stage below cease-to-flow": ({"gaugings": "s.csv", "cease_to_flow": "0.25 m"}, GAUGED, "does not lie above cease-to-flow 0.250 m; check the datum of both"),
    "mixed dates": ({"gaugings": "s.csv"}, GAUGED + "01.02.2023,0.4,180,3,no\n", "'01.02.2023' in the column 'date' is not a date; write 2024-03-01"),
    "an American date": ({"stage": "s.csv", "gaugings": "g.csv"}, "date,stage [m]\n2024-01-01,0.3\n1/2/2024,0.3\n", "'1/2/2024' in the column 'date' is not a date"),
    "a time zone": ({"stage": "s.csv", "gaugings": "g.csv"}, "time,stage [m]\n2024-01-01 07:00+01:00,0.3\n", "no time zone)"),
    "a Z at the end": ({"stage": "s.csv", "gaugings": "g.csv"}, "time,stage [m]\n2024-01-01T07:00Z,0.3\n", "no time zone)"),
    "the hour that comes twice": ({"stage": "s.csv", "gaugings": "g.csv"}, "time,stage [m]\n2024-10-27 02:00,0.3\n2024-10-27 02:30,0.3\n2024-10-27 02:00,0.31\n", "where clocks went back keep the logger on standard time"),
    "times out of order": ({"stage": "s.csv", "gaugings": "g.csv"}, "time,stage [m]\n2024-10-27 02:00,0.3\n2024-10-27 01:00,0.3\n", "put the lines in order of time"),
    "date and time apart": ({"stage": "s.csv", "gaugings": "g.csv"}, "date,time,stage [m]\n2024-10-27,2024-10-27 02:00,0.3\n", "write both in one, time: 2024-03-01 07:40"),
    "neither date nor time": ({"stage": "s.csv", "gaugings": "g.csv"}, "stage [m]\n0.3\n", "has no column 'date' (of daily means) or 'time'"),
    "salt without its mass": ({"salt": "s.csv"}, salt_text()[0], 'needs salt_mass = "0.15 kg"'),
    "salt that never stood out": ({"salt": "s.csv", "salt_mass": "1 kg", "salt_background": "80 uS/cm"}, salt_text(0.0)[0], "no pulse stands out of the background"),
    "floats without a section": ({"float": "s.csv"}, "length [m],time [s]\n4,10\n", "needs the section the floats cross: float_section"),
    "a dry crest": ({"weir": "s.csv"}, "head [mm]\n0\n", "the head must be above zero"),
    "heads without a plate": ({"weir": "s.csv"}, "head [mm]\n80\n", 'needs the weir plate: [weir] kind = "v-notch"'),
    "marks without a roughness": ({"slope_area": "s.csv"}, "station [m],level [m],across [m],depth [m]\n0,1,0,0\n", "slope_area_manning"),
    "marks that rise": ({"slope_area": "s.csv", "slope_area_manning": 0.05}, lines("station [m],level [m],across [m],depth [m]", [(at, 1 + at, x, d) for at in (0, 50) for x, d in ((0, 0), (1, 1), (2, 0))]), "levels must fall"),
    "two levels of one section": ({"slope_area": "s.csv", "slope_area_manning": 0.05}, "station [m],level [m],across [m],depth [m]\n0,1,0,0\n0,1.1,1,1\n0,1,2,0\n", "needs one level of the mark, got 2"),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_bad_field_sheet_gets_its_sentence(tmp_path, slip):
    stream, text, says = SLIPS[slip]
    with pytest.raises(InputError) as told:
        check_study(
            small_study.write(tmp_path, {"site": {"name": "x"}, "stream": stream}, s=text, g=GAUGED)
        )
    said = str(told.value)
    assert says in said and "Traceback" not in said and "():" not in said and len(said) < 420


def test_what_can_go_on_is_told_beside_the_result(tmp_path):
    text, _ = salt_text()
    cut = "\n".join(text.splitlines()[:38]) + "\n"  # the conductivity never returns
    found = study_of(
        tmp_path, {"salt": "s.csv", "salt_mass": "1 kg", "salt_background": "80 uS/cm"}, {"s": cut}
    ).field_sheets["salt"]
    assert any("ends" in each.message and each.level == "problem" for each in found.findings)
    dry = creek(
        tmp_path / "b",
        "date,stage [m]\n2024-05-01,0.05\n2024-05-02,0.3\n2024-05-03,0.9\n2024-05-04,1.4\n",
    )
    said = " ".join(each.message for each in dry.stage_record.findings)
    assert "at or below cease-to-flow" in said and "1.5 times the highest gauging" in said
    assert "of their water lie there" in build_rating.rating_words(dry, dry.view()).text


# --- how low, how high, how next ------------------------------------------------------------


def test_the_intakes_flood_is_survived_with_the_chance_stated(tmp_path):
    site = {**small_study.SITE, "intake": {"capacity": "30 L/s", "life": 40, "flood_risk": "10 %"}}
    found = open_study(small_study.write(tmp_path, site)).intake_flood
    assert (1 - 1 / found.return_period_years) ** 40 == pytest.approx(0.9) and found.given


def test_short_and_dry_records_say_what_they_cannot(tmp_path):
    days = pd.date_range("2021-10-01", "2024-09-30")
    flow = np.where(days.month.isin([7, 8]), 0.0, 12.0)
    record = lines("date,flow [L/s]", [(f"{day:%Y-%m-%d}", float(q)) for day, q in zip(days, flow)])
    for name, text in (("dry", record), ("week", "\n".join(record.splitlines()[:8]) + "\n")):
        found = study_of(tmp_path / name, {"record": "r.csv"}, {"r": text})
        for system in ("metric", "us"):
            view = found.view(system)
            for page in small_study.page_modules("p01", "p02"):
                for section in page.__all__:
                    shown = getattr(page, section)(
                        *((found, view) if section != "references" else ())
                    )
                    text_shown = getattr(shown, "text", None) or repr(shown)
                    assert " nan" not in text_shown and "inf " not in text_shown, (name, section)
        assert (
            "cannot be told" in extremes.low_words(found, found.view()).text
            and "cannot be told" in extremes.flood_words(found, found.view()).text
        )


def test_the_designers_plate_is_the_one_the_page_names(tmp_path):
    site = {
        "site": {"name": "x"},
        "weir": {"lowest": "1.5 L/s", "highest": "30 L/s", "channel_width": "1.5 m"},
    }
    found = open_study(small_study.write(tmp_path, site))
    assert found.expected_range == pytest.approx((0.0015, 0.030))
    told = gauge_next.weir_words(found, found.view()).text
    assert (
        "V-notch of 45°" in told and "92 mm" in told and "310 mm" in told
    )  # heads by the designer's own printed example
    plan = found.salt_plan
    assert [dose.mass_kg for dose in plan.doses] == pytest.approx(
        [0.486e-3 * 100 * 120 * flow for flow in plan.flow_m3s]
    )  # g/m3 for each uS/cm, 100 of them, 120 s
