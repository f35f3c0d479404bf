"""Two strangers bring what they have, as they would write and export it: how many rounds of check, and is what is sound right?"""

import re

import numpy as np
import pandas as pd
import pytest

from hydrokit.cli import main
from hydrokit.errors import InputError
from hydrokit.report.next_measurements import everything
from hydrokit.study.opening import check_study, open_study

# An owner with a gauge and three buckets, in the mixture of styles of one who has never seen a site file.
OWNER = """[site]
name = "Larkfold spring"
altitude = "1,450 ft"
stage_of_work = "existing"
display = "us"

[stream]
bucket = "buckets.csv"

[penstock]
static_pressure = “78 psi”
length = "950 feet ± 50"
size = "4 in PVC Sch 40"

[turbine]
kind = "Pelton"
jets = 2
jet_diameter = "7/16"

[[reading]]
jets = 0
pressure = "78 psi"

[[reading]]
jets = 2
pressure = "71 psi"
volts = "118"
amps = "11 A"
spilling = true
"""
MENDED = {
    '"1,450 ft"': '"1450 ft"',
    '\nsize = "4 in PVC Sch 40"': '\n[[penstock.pipe]]\nsize = "4 in PVC Sch 40"',
    '"118"': '"118 V"',
}
BUCKETS = (
    "Buckets at the spillway;;;\r\nDate;Volume (gal);Time (s);Remarks\r\n"
    "5/14/2026;5;2,1;\r\n;5;2,0;spilt a bit\r\n;5;2,2;\r\n"
    "8/30/2026;5;5,4;low\r\n;5;5,1;\r\n;5;5,3;\r\n"
    "11/2/2026;5;3,0;\r\n;5;3,1;\r\n;5;2,9;leaves; cleaned after\r\n;;;\r\n"
)


def test_an_owner_with_a_gauge_and_three_buckets_needs_two_rounds(tmp_path):
    (tmp_path / "buckets.csv").write_text(BUCKETS, encoding="utf-8-sig", newline="")
    (tmp_path / "site.toml").write_text(OWNER, encoding="utf-8")
    with pytest.raises(InputError) as first:
        check_study(tmp_path)
    assert len(first.value.mistakes) == 3  # each names its key, and what to write
    text = OWNER
    for wrong, right in MENDED.items():
        text = text.replace(wrong, right)
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    assert not [each for each in check_study(tmp_path) if each.level == "problem"]
    study = open_study(tmp_path)
    # By hand: 15 gal in 6.3, 15.8 and 9.0 s.
    assert study.gaugings.flow.to("gpm").magnitude == pytest.approx(
        [15 / 6.3 * 60, 15 / 15.8 * 60, 15 / 9.0 * 60], rel=0.01
    )
    assert list(pd.DatetimeIndex(study.gaugings.date).month) == [5, 8, 11]
    assert study.site.penstock.length.sd == pytest.approx(50 * 0.3048)
    assert study.baseline is not None and study.bracket.low_kwh < study.bracket.high_kwh


COOPERATIVE = """[site]
name = "Mirowa cooperative"
altitude = "620 m"
catchment = "6.5 km2"
stage_of_work = "planned"
currency = "₹"

[stream]
gaugings = "gaugings.csv"
stage = "logger.csv"
neighbour_record = "neighbour.csv"
cease_to_flow = "6 cm"

[rights]
residual = "4 L/s"

[penstock]
head = "38 m ± 0.4 m"
length = "210 m"

[costs]
value = "₹ 8 per kWh"
"""


def _cooperative(folder, jump=9000, slips=()):
    """The files of the cooperative, and the true daily flow of its creek in m³/s; its logger jumps from an hour on."""
    chance = np.random.default_rng(11)
    days = pd.date_range("2021-10-01", "2026-09-30")
    wave = np.zeros(len(days))
    for place in range(1, len(days)):
        wave[place] = 0.93 * wave[place - 1] + chance.normal(0, 0.18)
    season = 0.9 * np.cos(2 * np.pi * (np.arange(len(days)) - 150) / 365.25)
    true = pd.Series(0.022 * np.exp(season + wave), days)
    nearby = true * 4.2 * np.exp(chance.normal(0, 0.12, len(days)))
    rows = [
        f"{day:%d.%m.%Y};" + f"{1000 * flow:.1f}".replace(".", ",") + ";bonne"
        for day, flow in nearby.items()
    ]
    (folder / "neighbour.csv").write_text(
        "\n".join(["Station 17 – Élan;;", "Date;Discharge (L/s);Qualité", *rows]), encoding="cp1252"
    )

    def stage(flow):
        return 0.06 + (flow / 0.9) ** (1 / 2.1)

    hours = pd.date_range("2025-10-01", "2026-09-30 23:00", freq="h")
    level = 100 * stage(true.reindex(hours).interpolate().to_numpy()) + chance.normal(
        0, 0.15, len(hours)
    )
    level[5000] = 388.0
    level[jump:] += 8.5
    rows = [
        f"{hour:%d/%m/%Y %H:%M}\t3,6\t" + f"{each:.1f}".replace(".", ",")
        for number, (hour, each) in enumerate(zip(hours, level))
        if not 3000 < number < 3060
    ]
    head = "Serial number: 99812\nDate/Time\tBattery (V)\tWater level (cm)\n"
    (folder / "logger.csv").write_text(head + "\n".join(rows), encoding="utf-16")
    visited = [true.index[-360 + 33 * each] for each in range(11)]
    rows = [
        f"{day:%d/%m/%Y};{100 * stage(true[day]):.1f};{1000 * true[day] * chance.lognormal(0, 0.05):.1f};"
        f"{50 * true[day]:.1f};salt;près du pont".replace(".", ",")
        for day in visited
    ]
    head = "Date;Stage (cm);Flow (L/s);± (L/s);Method;Remarks\n"
    rows += [slip(rows) for slip in slips]
    (folder / "gaugings.csv").write_text(head + "\n".join(rows), encoding="cp1252")
    return true


def test_a_cooperative_with_a_logger_and_a_neighbour_needs_two_rounds_and_finds_its_creek(tmp_path):
    true = _cooperative(tmp_path)
    (tmp_path / "site.toml").write_text(COOPERATIVE, encoding="utf-8")
    with pytest.raises(InputError) as first:
        check_study(tmp_path)
    (mistake,) = first.value.mistakes
    assert "[[rights.residual]]" in mistake.text and 'rule = "fixed"' in mistake.text
    mended = COOPERATIVE.replace(
        "[rights]\nresidual =", '[[rights.residual]]\nrule = "fixed"\nflow ='
    )
    (tmp_path / "site.toml").write_text(mended, encoding="utf-8")
    told = [str(each) for each in check_study(tmp_path)]
    assert not any(each.startswith("problem") for each in told)
    assert any(
        "3.88 m" in each for each in told
    )  # the hour that no creek makes, left out and named
    study = open_study(tmp_path)
    assert len(study.gaugings) == 11 and study.extension is not None
    for key, exceeded in (("flow.median", 0.5), ("flow.lean", 0.95)):
        answer = study.answer(key)
        assert answer.low <= true.quantile(1 - exceeded) <= answer.high, key


SLIPS = (
    lambda rows: rows[4],
    lambda rows: rows[10].replace("/2026;", "/2035;"),
)


def test_what_is_wrong_with_a_logger_is_told_beside_the_first_mistakes(tmp_path, capsys):
    """A jump makes a good neighbour look unlike; whoever reads of that alone would look for another."""
    true = _cooperative(tmp_path, jump=4000, slips=SLIPS)
    (tmp_path / "site.toml").write_text(COOPERATIVE, encoding="utf-8")
    assert main(["check", str(tmp_path)]) == 2
    told = capsys.readouterr().out
    assert "line 14 has a date in the future, such as 2035-" in told
    assert "line 13 repeats the date, stage and flow" in told
    assert (
        "mm too high against the staff gauge" in told and "3.97 m" in told
    )  # the spike moved with it
    line = re.search(r'\[\[stream.shift\]\] from = (.*?), by = "(.*?)"', told)
    assert line[1] == "2026-03-16 16:00:00"  # the hour of the jump
    assert float(line[2].removesuffix(" mm")) == pytest.approx(-85, abs=6)
    mended = COOPERATIVE.replace(
        "[rights]\nresidual =", '[[rights.residual]]\nrule = "fixed"\nflow ='
    )
    mended += f'\n[[stream.shift]]\nfrom = {line[1]}\nby = "{line[2]}"\nwhy = "bracket"\n'
    (tmp_path / "site.toml").write_text(mended, encoding="utf-8")
    rows = (tmp_path / "gaugings.csv").read_text(encoding="cp1252").splitlines()
    (tmp_path / "gaugings.csv").write_text("\n".join(rows[:12]), encoding="cp1252")
    assert not [each for each in check_study(tmp_path) if each.level == "problem"]
    study = open_study(tmp_path)
    for key, exceeded in (("flow.median", 0.5), ("flow.lean", 0.95)):
        answer = study.answer(key)
        assert answer.low <= true.quantile(1 - exceeded) <= answer.high, key


def test_a_neighbours_day_lost_here_and_there_does_not_take_its_years_away(tmp_path):
    _cooperative(tmp_path)
    mended = COOPERATIVE.replace(
        "[rights]\nresidual =", '[[rights.residual]]\nrule = "fixed"\nflow ='
    )
    (tmp_path / "site.toml").write_text(mended, encoding="utf-8")
    whole = open_study(tmp_path)
    rows = (tmp_path / "neighbour.csv").read_text(encoding="cp1252").splitlines()
    for lost in range(40, len(rows), 90):
        day, _, grade = rows[lost].split(";")
        rows[lost] = f"{day};#N/A;{grade}"
    (tmp_path / "neighbour.csv").write_text("\n".join(rows), encoding="cp1252")
    study = open_study(tmp_path)
    assert study.record.isna().sum() == whole.record.isna().sum() == 0
    assert study.record.mean() == pytest.approx(whole.record.mean(), rel=0.01)
    assert any(
        "20 missing days of the neighbour's record filled" in str(each)
        for each in study.extension.findings
    )


STAFF = "Date\tGauge height (ft)\tNotes\n" + "\n".join(
    f"{day.month}/{day.day}/{day.year}\t{0.9 + 0.2 * np.cos(number / 8):.2f}\t"
    for number, day in enumerate(pd.date_range("2025-10-01", periods=53, freq="7D"))
)
VISITS = (
    "Date,Gauge (ft),Bucket,Time,Comments\n5/14/2026,1.02,5 gal,2.1 s,\n,,5 gal,2.0 s,\n"
    "8/30/2026,0.71,5 gal,5.4 s,low\n,,5 gal,5.1 s,\n9/20/2026,0.85,5 gal,3.0 s,\n,,5 gal,2.9 s,\n"
)


def test_a_staff_gauge_read_once_a_week_takes_nothing_from_its_owner(tmp_path):
    (tmp_path / "buckets.csv").write_text(VISITS, encoding="cp1252")
    (tmp_path / "staff.txt").write_text(STAFF, encoding="utf-16")
    text = OWNER
    for wrong, right in MENDED.items():
        text = text.replace(wrong, right)

    def told(stream):
        (tmp_path / "site.toml").write_text(
            text.replace("[stream]\n", "[stream]\n" + stream), encoding="utf-8"
        )
        return "\n".join(map(str, check_study(tmp_path))), open_study(tmp_path)

    bare, alone = told("")
    assert "stages are not used" not in bare
    # Three stages make no rating: that they lie idle is said, with what is lacking.
    lacking, idle = told('stage = "staff.txt"\n')
    assert "the stages are not used" in lacking and "cease_to_flow" in lacking
    wanted = "\n".join(everything(idle, idle.view()))
    assert "gauge at 2 other stages" in wanted and "Put up a staff gauge" not in wanted
    weekly = 'stage = "staff.txt"\ncease_to_flow = "0.5 ft"\ncontrol = "riffle"\n'
    apart, thin = told(weekly)
    assert "readings stand 7 days apart" in apart and "fill_gaps = 14" in apart
    assert thin.year is None and thin.bracket.low_kwh == alone.bracket.low_kwh
    # As it is told: the readings joined make a year.
    joined, study = told(weekly + "fill_gaps = 14\n")
    assert "days apart" not in joined and study.year is not None and study.bracket is None
