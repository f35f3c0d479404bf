"""Numbers that the lessons work by hand, worked again here by nothing but arithmetic.

Each row quotes the lesson and gives what the quoted number, the last of its words, must be. It may differ
by half of its last digit, and by 0.4 % more, since a sum by hand rounds on the way.
"""

import re
from math import log10, pi, sqrt
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).resolve().parents[2] / "notebooks" / "lessons"
CFS = 448.831  # gpm in one cubic foot a second: 60 × 1728 ÷ 231
MILD = 1.306e-6 / 0.3048**2  # ft²/s, water at 10 °C


def friction(reynolds, rough):
    """Colebrook's factor, by putting it into itself."""
    factor = 0.02
    for _ in range(40):
        factor = (-2 * log10(rough / 3.7 + 2.51 / (reynolds * sqrt(factor)))) ** -2
    return factor


def loss(flow, bore, length, rough, viscosity, gravity):
    """Darcy and Weisbach, in any one system of units."""
    speed = flow / (pi / 4 * bore**2)
    return friction(speed * bore / viscosity, rough / bore) * length / bore * speed**2 / 2 / gravity


def loss_ft(gpm):
    """Of the lessons' 800 ft of 4 in Schedule 40 PVC."""
    return loss(gpm / CFS, 3.998 / 12, 800, 0.0012 / 12, MILD, 32.174)


SPEED = 150 / CFS / (pi / 4 * (3.998 / 12) ** 2)
SHARE = 0.04 / (1 - 1.04**-25)  # what each of 25 years must bring at 4 %
ONE = 1 / (2 * 9.80665 * (0.95 * pi / 4 * 0.012**2) ** 2) / 1e6
FOUR, THREE = ONE / 16, ONE / 9
FEEDS = sqrt(50 / (FOUR + 0.060))
DAYS = {"Oct": 31, "Nov": 30, "Dec": 31, "Jan": 31, "Feb": 28, "Mar": 31, "Apr": 30, "May": 31, "Jun": 30, "Jul": 31, "Aug": 31, "Sep": 30}  # fmt: skip
CREEK = [30, 40, 25, 18, 15, 28, 80, 120, 70, 35, 22, 24]
TAKEN = [min(max(each - 20, 0), 30) for each in CREEK]
POCKET = 5 * 10.3 / 14.3

HAND = [
    ("01", "warm-up", "15 ÷ 60 = 0.25", 150 / 10 / 60),
    ("01", "warm-up", "40 ÷ 10 = 4", 40 / 10),
    ("01", "bucket", "36 ÷ 18 = **2.00", 36 / (6.1 + 5.9 + 6.0)),
    ("01", "doubt", "√(2.0² + 3.3² + 1.0²) = 4.0", sqrt(2**2 + 3.3**2 + 1)),
    ("01", "float", "0.8 × 1.60 × 3.0 = **3.83", 0.8 * (12 / 7.5 + 12 / 8 + 12 / 7.1) / 3 * 3),
    ("01", "float", "or 1,720", 0.8 * (12 / 7.5 + 12 / 8 + 12 / 7.1) * CFS),
    ("01", "salt", "= **100", 175_000 / (60 * 120 / 2 * 0.486)),
    ("01", "notch", "0.5^2.5 = 0.177", 0.5**2.5),
    ("01", "notch", "2.5 × 0.177 = **0.44", 2.5 * 0.5**2.5),
    ("01", "notch", "or 198", 2.5 * 0.5**2.5 * CFS),
    ("01", "exercise-1-why", "0.625 × 60 = **37.5", 3 * 5 / (8.0 + 8.2 + 7.8) * 60),
    ("01", "exercise-2-why", "or **130", 800 * 0.5 * 0.65 * (8 / 16 + 8 / 17 + 8 / 15) / 3),
    ("01", "exercise-3-why", "√200 = **14", sqrt(36 + 64 + 100)),
    ("01", "exercise-3-why", "it would still be 13", sqrt(64 + 100)),
    ("01", "exercise-4-why", "which is 72", 2.5 * (4 / 12) ** 2.5 * CFS),
    ("01", "exercise-5-why", "√(0.08² + 0.36²) = 0.37", sqrt((0.04 * 2) ** 2 + (0.14 * 2.6) ** 2)),
    ("01", "one-more", "12.0 s: **2.5", 30 / (4.0 + 4.2 + 3.8)),
    ("01", "one-more", "√(5² + 2²) = **5.4", sqrt((100 * 0.2 / 4) ** 2 + 2**2)),
    ("02", "warm-up", "10 ÷ 10.2 = 0.98", 10 * 9.80665 / 100),
    ("02", "warm-up", "33 ÷ 2.31 = 14.3", 33 * 62.4 / 144),
    ("02", "head", "65 × 2.31 = **150", 65 * 144 / 62.4),
    ("02", "loss", "0.334 ÷ 0.0872 = **3.83", SPEED),
    ("02", "loss", "3.83² ÷ 64.4 = 0.228", SPEED**2 / 64.35),
    ("02", "loss", "a friction factor f of 0.0198", friction(SPEED * 3.998 / 12 / MILD, 0.0012 / 3.998)),
    ("02", "loss", "0.0198 × 2,400 × 0.228 = **10.8", loss_ft(150)),
    ("02", "power", "150 × 139 ÷ 5.31 = 3,930", 150 * (150 - loss_ft(150)) * 62.4 / CFS * 1.35582),
    ("02", "power", "55 % of it, **2,160", 0.55 * 150 * (150 - loss_ft(150)) * 62.4 / CFS * 1.35582),
    ("02", "surge", "1,280 × 3.83 ÷ 32.2 = 152", 1280 * SPEED / 32.174),
    ("02", "surge", "or **66", 1280 * SPEED / 32.174 * 62.4 / 144),
    ("02", "surge", "it is only 19", 2 * 800 * SPEED / 32.174 / 10),
    ("02", "exercise-1-why", "4.2 × 10.2 = **42.8", 4.2e5 / 1000 / 9.80665),
    ("02", "exercise-2-why", "7 × 2.31 = **16.2", 7 * 144 / 62.4),
    ("02", "exercise-3-why", "gives **4.15", loss(0.009, 0.0968, 250, 6e-5, 1.306e-6, 9.80665)),
    ("02", "exercise-3-why", "With 110 mm it would be 2.2", loss(0.009, 0.110, 250, 6e-5, 1.306e-6, 9.80665)),
    ("02", "exercise-4-why", "0.55 × 4,520 = **2,490", 0.55 * 200 * 120 * 62.4 / CFS * 1.35582),
    ("02", "exercise-5-why", "= **11.5", 1000 * sqrt(2 * 3.6e5 / 1000) * 4 * pi / 4 * 0.012**2 * 0.95),
    ("02", "one-more", "9.8 × 8 × 35 × 0.55 = **1,510", 0.55 * 9.80665 * 8 * (40 - 5)),
    ("02", "one-more", "9.8 × 16 × 20 × 0.55 = **1,720", 0.55 * 9.80665 * 16 * (40 - 4 * 5)),
    ("02", "one-more", "Twice the water, 14", 100 * (16 * 20 / (8 * 35) - 1)),
    ("03", "warm-up", "÷ 12 = 17.5", (100 + 11 * 10) / 12),
    ("03", "line", "7 ÷ 10 = **70", 100 * 7 / 10),
    ("03", "share", "The creek brings 42", sum(a * b for a, b in zip(CREEK, DAYS.values())) / 365),
    ("03", "share", "The plant gets 13", sum(a * b for a, b in zip(TAKEN, DAYS.values())) / 365),
    ("03", "jets", "30 + 31 + 30 = **91", sum(d for d, t in zip(DAYS.values(), TAKEN) if t >= 28)),
    ("03", "jets", "which makes **152", sum(d for d, t in zip(DAYS.values(), TAKEN) if t >= 14)),
    ("03", "exercise-2-why", "= **214", sum(d for d, t in zip(DAYS.values(), TAKEN) if t >= 7)),
    ("03", "exercise-4-why", "5 ÷ 20 = **25", 100 * 0.10 * 50 / (50 - 30)),
    ("03", "doubt", "20 ± 4 L/s, which is **20", 100 * 0.10 * 40 / (40 - 20)),
    ("04", "warm-up", "0.1 ÷ 10.4, or 1", 100 * (1 - 10.3 / 10.4)),
    ("04", "squeeze", "100 × 10.3 ÷ 20.3 = **51", 100 * 10.3 / 20.3),
    ("04", "squeeze", "100 × 7.5 ÷ 17.5 = **43", 100 * 7.5 / 17.5),
    ("04", "line", "5 × 10.3 ÷ 14.3 = **3.6", POCKET),
    ("04", "line", "6 × 10.3 ÷ 11.7 = **5.3", 6 * 10.3 / (10.3 + 5 - POCKET)),
    ("04", "line", "Both keep back 8.9", POCKET + 6 * 10.3 / (10.3 + 5 - POCKET)),
    ("04", "screen", "0.12² ÷ 19.6 = 0.73", 1000 * 0.12**2 / 2 / 9.80665),
    ("04", "screen", "takes 7.7 times that: **6", 7.7 * 1000 * 0.12**2 / 2 / 9.80665),
    ("04", "screen", "the head of the speed: **38", 52 * 1000 * 0.12**2 / 2 / 9.80665),
    ("04", "screen", "250 times, **0.18", 250 * 0.12**2 / 2 / 9.80665),
    ("04", "frost", "A metre of the pipe gives off 35", 10 / (1 / (10 * pi * 0.110))),
    ("04", "frost", "7.4 × 334 ÷ 4 = 615", pi / 4 * 0.0968**2 * 1000 * 334 / 4),
    ("04", "frost", "17,600 s, or **5", pi / 4 * 0.0968**2 * 1000 * 334_000 / 4 / (10 * 10 * pi * 0.110) / 3600),
    ("04", "exercise-1-why", "(27.2 + 25) = **52.1", 100 * 27.2 / 52.2),
    ("04", "exercise-2-why", "6 × 10.3 ÷ 15.3 = **4.04", 6 * 10.3 / 15.3),
    ("04", "exercise-3-why", "or **4.33", 12 * 52 * (150 / CFS / 0.5) ** 2 / 64.35),
    ("04", "exercise-4-why", "that is 6,560 s, or **1.8", pi / 4 * 0.05**2 * 1000 * 334_000 / 4 / (10 / 0.4) / 3600),
    ("04", "one-more", "(10.3 + 6) = **2.5", 4 * 10.3 / 16.3),
    ("05", "warm-up", "2 kW × 0.1 h = 0.2", 2 * 6 / 60),
    ("05", "december", "80 gpm lose 3.4", loss_ft(80)),
    ("05", "december", "× 0.55 = 1,215", 0.55 * 80 * (150 - loss_ft(80)) * 62.4 / CFS * 1.35582),
    ("05", "december", "1.215 × 744 = **904", 0.55 * 80 * (150 - loss_ft(80)) * 62.4 / CFS * 1.35582 * 0.744),
    ("05", "price", "each year has to bring **6.4", 100 * SHARE),
    ("05", "price", "16,300 kWh: **0.112", (21_800 * SHARE + 436) / 16_300),
    ("05", "next-kwh", "101 ÷ 1,613 = **0.063", 1200 * (SHARE + 0.02) / (14_987 - 13_374)),
    ("05", "exercise-1-why", "Times 720 h: **847", 9.80665 * 5 * 40 * 0.60 * 0.720),
    ("05", "exercise-2-why", "16,000 kWh: **0.1155", (22_000 * 0.064 + 440) / 16_000),
    ("05", "exercise-3-why", "**13.6", 1000 * sqrt(0.015 / (0.95 * sqrt(2 * 9.80665 * 38)) / 4 * 4 / pi)),
    ("05", "exercise-4-why", "9.17² × 0.66 = **55", (2200 / 240) ** 2 * 1.10 * 0.6),
    ("05", "exercise-4-why", "four times that: 222", (2200 / 120) ** 2 * 1.10 * 0.6),
    ("05", "one-more", "252 ÷ 2,500 = **0.10", 3000 * 0.084 / 2500),
    ("06", "card", "and **Q = 12.2", FEEDS),
    ("06", "card", "0.276 × 149 = **41", FOUR * FEEDS**2),
    ("06", "card", "41 ÷ 10.2 = **4.0", FOUR * FEEDS**2 * 9.80665 / 100),
    ("06", "under-fed", "0.276 × 9² = **22", FOUR * 81),
    ("06", "under-fed", "9 × 22.4 = **1,090", 0.55 * 9.80665 * 9 * FOUR * 81),
    ("06", "under-fed", "0.491 × 81 = **39.8", THREE * 81),
    ("06", "under-fed", "9 × 39.8 = **1,930", 0.55 * 9.80665 * 9 * THREE * 81),
    ("06", "under-fed", "one jet less, 78", 100 * (THREE / FOUR - 1)),
    ("06", "exercise-1-why", "17.7 ÷ 10.2 = **1.73", THREE * 36 * 9.80665 / 100),
    ("06", "exercise-2-why", "3 × (95 ÷ 123)³ = 1.4", 3 * (95 / 123) ** 3),
    ("06", "exercise-3-why", "0.8³ = **51", 100 * 0.8**3),
    ("06", "one-more", "0.7³ = **34", 100 * 0.7**3),
    ("06", "one-more", "two thirds of the full power, **67", 100 * 2 / 3),
]  # fmt: skip


@pytest.fixture(scope="module")
def cells():
    return {
        (path.stem[:2], cell.id): cell.source
        for path in sorted(FOLDER.glob("*.ipynb"))
        for cell in nbformat.read(path, as_version=4).cells
    }


@pytest.mark.parametrize("lesson, cell, quoted, worked", HAND)
def test_a_number_worked_by_hand_is_right(cells, lesson, cell, quoted, worked):
    assert quoted in cells[lesson, cell], "the lesson says something else now"
    number = re.findall(r"\d[\d,]*(?:\.\d+)?", quoted)[-1]
    last_digit = 10.0 ** -len(number.partition(".")[2])
    if "." not in number and number.endswith("0"):
        last_digit = 10.0  # 1,720: the zero is none that was worked
    assert abs(float(number.replace(",", "")) - worked) <= 0.5 * last_digit + 0.004 * abs(worked)


def test_every_worked_example_is_worked_again():
    """No cell that says "By hand" is without a row here."""
    known = {row[:2] for row in HAND}
    for path in sorted(FOLDER.glob("*.ipynb")):
        for cell in nbformat.read(path, as_version=4).cells:
            by_hand = cell.cell_type == "markdown" and "y hand" in cell.source
            if by_hand and cell.id not in ("teacher", "goal", "year", "ten-years"):
                # the table of months and the ten years have tests of their own
                assert (path.stem[:2], cell.id) in known, (path.stem, cell.id)
