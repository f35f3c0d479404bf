"""What to buy: every amount against the number it is said to follow from."""

import csv
import io
import math
import re

import pytest
from small_creek import small_study

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.report.pages.p04 import parts_list as page
from hydrokit.report.parts_list import parts_list, table_text
from hydrokit.study.opening import open_study
from hydrokit.study.view import View


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = small_study(tmp_path_factory.mktemp("buy") / "creek", turbine='design_flow = "15 L/s"')
    site = made / "site.toml"
    text = site.read_text(encoding="utf-8").replace(
        "[[penstock.pipe]]",
        '[[penstock.bend]]\nat = "150 m"\nangle = "45 deg"\n\n[[penstock.stretch]]\nname = "<b>bridge</b>"\nfrom = "150 m"\nto = "160 m"\nspan = "2 m"\n\n[[penstock.pipe]]',
    )
    site.write_text(text, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def study(folder):
    return open_study(folder)


def the(items, start):
    """The one line that begins so."""
    (found,) = [each for each in items if each.what.startswith(start)]
    return found


def test_pipe_cable_and_joints(study):
    items = parts_list(study, View("metric"))
    pipe = the(items, "pipe 160 mm PVC-U PN 10, 148 mm inside")
    assert pipe.amount == pytest.approx(300 * 1.05) and pipe.kind == "length"
    assert (
        "300 m along the surveyed slope, and 5 % spare" in pipe.follows
        and "rated 10 bar" in pipe.follows
    )
    # 40 m of water at 10 degrees C: 999.7 x 9.80665 x 40 = 3.92 bar
    assert "3.92 bar of static pressure at its foot" in pipe.follows
    assert the(items, "joints for it").amount == math.ceil(315 / 6)
    assert the(parts_list(study, View("us")), "joints for it").amount == math.ceil(315 / 6.096)
    assert the(items, "cable 16 mm2, copper, one phase").amount == pytest.approx(105)


def test_jets_machine_and_screen(study):
    items = parts_list(study, View("metric"))
    jet = the(items, "jet, ")
    bore = study.plant.jets.diameters_m[0]
    assert jet.amount == 2 and f"{1000 * bore:.1f} mm" in jet.what
    net = float(study.plant.running().at_si(1.0).net_head_m)
    # the textbook's nozzle: two of them pass the design flow under the net head
    assert 2 * 0.95 * math.pi / 4 * bore**2 * math.sqrt(2 * 9.80665 * net) == pytest.approx(
        0.015, rel=1e-3
    )
    assert f"for 15 L/s under {net:.1f} m net" in the(items, "Pelton turbine").what
    # 0.4 ft/s before the screen, half of it blocked
    assert the(items, "screen, wetted area").amount == pytest.approx(2 * 0.015 / 0.12192, rel=1e-3)
    assert the(items, "valve for each jet").amount == 2


def test_bends_blocks_and_supports(study):
    items = parts_list(study, View("metric"))
    slopes = [math.asin(fall / run) for fall, run in ((6.5, 96), (18, 100), (15, 100))]
    breaks = [abs(b - a) for a, b in zip(slopes, slopes[1:])]
    sharp = 1 + sum(math.degrees(each) >= 5.6 for each in breaks)
    assert the(items, "bends").amount == sharp == the(items, "thrust blocks").amount == 2
    # 45 degrees at 160 mm: 2 (p A + rho Q^2 / A) sin 22.5, at the highest pressure there
    worst = max(study.bends, key=lambda each: each.thrust_n)
    area = math.pi / 4 * 0.160**2
    assert worst.thrust_n == pytest.approx(
        2
        * (worst.pressure_pa * area + 1000 * study.full_flow_m3s**2 / area)
        * math.sin(math.pi / 8),
        rel=1e-6,
    )
    assert f"{worst.thrust_n / 1000:.1f} kN" in the(items, "thrust blocks").follows
    span = min(2.0, study.bridges[0].longest_m)
    assert the(items, "<b>bridge</b>").amount == math.ceil(10 / span - 1e-9) + 1


def test_currents_and_meters(study):
    items = parts_list(study, View("metric"))
    power = float(study.plant.running().at_si(1.0).power_w)
    ohms = (
        study.wires.main.run.resistance_ohm
    )  # what comes to the loads is sent with the loss of the cable on top
    current = (230 - math.sqrt(230**2 - 4 * ohms * power)) / (2 * ohms)
    power = 230 * current
    assert f"make {current:.1f} A" in the(items, "breaker").follows
    breaker = float(re.search(r"([\d.]+) A", the(items, "breaker").what)[1])
    assert breaker >= 1.25 * current
    ballast = the(items, "heaters as ballast")
    stages = [float(each.replace(",", "")) for each in re.findall(r"([\d,]+) W", ballast.what)]
    assert ballast.amount == 3 and sum(stages) == pytest.approx(1.1 * power, rel=0.03)
    assert stages[1] == pytest.approx(2 * stages[0], rel=0.05)
    gauge = the(items, "pressure gauge").what
    assert "to 5 bar" in gauge  # a quarter above 3.92 bar, in the usual steps
    assert "to 80 psi" in the(parts_list(study, View("us")), "pressure gauge").what  # 56.9 psi


@pytest.mark.parametrize(
    "system, wrong",
    [
        ("us", r"\d\s?(L/s|m|bar|mm|kN|m²)(?![\w²³/])"),
        ("metric", r"\d\s?(ft|gpm|psi|in|lbf|ft²)(?![\w²³/])"),
    ],
)
def test_one_system_of_units_throughout(study, system, wrong):
    view = View(system)
    items = parts_list(study, view)
    for text in (table_text(items, view), repr(page.buying_table(study, view))):
        text = re.sub(r"[\d./-]+ mm (?=PVC)", "", text)
        assert not re.search(wrong, text), re.search(wrong, text)
    rows = list(csv.DictReader(io.StringIO(table_text(items, view))))
    assert all(row["follows from"] and float(row["amount"]) > 0 for row in rows) and len(
        rows
    ) == len(items)


def test_names_from_the_file_are_text(study):
    shown = page.buying_table(study, View("metric"))._repr_html_()
    assert "&lt;b&gt;bridge&lt;/b&gt;" in shown and "<b>" not in shown


def test_parts_from_the_command_line(folder, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["parts", str(folder), "--display", "us", "--out", "list.csv"]) == 0
    assert "each with the number it follows from, in list.csv" in capsys.readouterr().out
    assert (tmp_path / "list.csv").read_text(encoding="utf-8") == table_text(
        parts_list(open_study(folder), View("us")), View("us")
    )


def test_a_plant_that_is_not_described_is_a_sentence(tmp_path, capsys):
    (tmp_path / "site.toml").write_text('[site]\nname = "bare"\n', encoding="utf-8")
    with pytest.raises(InputError, match="not described well enough"):
        parts_list(open_study(tmp_path), View("metric"))
    assert cli.main(["parts", str(tmp_path), "--out", str(tmp_path / "x.csv")]) == 2
    assert not (tmp_path / "x.csv").exists()
    assert "not shown" in str(page.buying_table(open_study(tmp_path), View("metric"))).lower()
