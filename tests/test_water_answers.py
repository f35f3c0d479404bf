"""What passes and what runs: a measurement before its formula, a line that air stops, one answer on every page."""

import copy

import numpy as np
import pytest
import small_study
from small_study import SITE, write

from hydrokit.study.opening import open_study
from hydrokit.works.air import filling, flow_with_pockets
from hydrokit.works.diversion import carried
from hydrokit.works.falling import falling_line

DRILLED = {"kind": "drilled pipe", "name": "creek screen", "holes": 330, "hole": "9 mm", "head": "100 mm", "clogged": {"october": "40 %"}}
# A summit below the pond between two deep dips, and an end that water seals: filled from the top, air locks it.
DIPS = "chainage [m],elevation [m]\n0,305\n5,304.3\n40,295\n60,303.5\n80,290\n100,303\n"
LINE = {"profile": "diversion.csv", "inside_diameter": "110 mm", "roughness": "0.03 mm", "outlet": "upturned", "outlet_lip": "303.2 m"}


def study(folder, files=(), **sections):
    site = copy.deepcopy(SITE)
    for name, value in sections.items():
        site[name] = site[name] | value if isinstance(value, dict) and isinstance(site.get(name), dict) else value
    return open_study(write(folder, {name: value for name, value in site.items() if value is not None}, **dict(files)))


# --- a measured capacity ----------------------------------------------------------------------


def test_a_measured_intake_goes_before_the_formula_of_its_screen(tmp_path):
    plain = study(tmp_path / "formula", part=[DRILLED], intake={"capacity": "6 L/s"})
    formula = min(float(part.capacity_si()) for part in plain.supply)
    # 330 holes of 9 mm under 100 mm: 0.61 · 0.020994 m² · √(2 g 0.1), worked by hand.
    assert formula == pytest.approx(0.61 * 330 * np.pi / 4 * 0.009**2 * np.sqrt(2 * 9.80665 * 0.1), rel=1e-9) and formula > 0.017
    measured = study(tmp_path / "measured", part=[DRILLED], intake={"capacity": "6 L/s ± 0.5 L/s"})
    assert min(float(part.capacity_si()) for part in measured.supply) == 0.006
    assert measured.plant.at_si(np.inf).used_m3s <= 0.006
    told = measured.answer("capacity.intake")
    assert told.value == 0.006 and told.set_aside[0].value == pytest.approx(formula)
    assert any(f"the formula of the creek screen gives {100 * (formula / 0.006 - 1):.0f} % more" in each.message for each in measured.findings())
    assert measured.year.annual_kwh < 0.6 * plain.year.annual_kwh


def test_a_measured_intake_that_passes_more_than_the_formula_lifts_it(tmp_path):
    made = study(tmp_path, part=[DRILLED], intake={"capacity": "30 L/s ± 2 L/s"})
    screen = made.supply[0]
    assert screen.capacity_si() == 0.030 and screen.name == "creek screen" and screen.hole_area_m2 == pytest.approx(330 * np.pi / 4 * 0.009**2)
    # What October's leaves take is the formula's share: bare holes pass in proportion to what is open.
    assert made.plant.reaching_si(10)[1]["creek screen"] == pytest.approx(0.6 * 0.030)
    assert screen.head_loss_si(0.030) == pytest.approx(0.1, rel=1e-6)


def test_an_intake_measured_as_calculated_is_no_finding(tmp_path):
    made = study(tmp_path, part=[DRILLED], intake={"capacity": "16 L/s ± 1 L/s"})
    assert made.answer("capacity.intake").findings == ()


def test_only_screens_that_pass_less_are_lifted(tmp_path):
    wide = DRILLED | {"name": "wide screen", "holes": 900}
    made = study(tmp_path, part=[DRILLED, wide], intake={"capacity": "30 L/s ± 2 L/s"})
    assert [float(part.capacity_si()) for part in made.supply] == pytest.approx([0.030, 0.61 * 900 * np.pi / 4 * 0.009**2 * np.sqrt(2 * 9.80665 * 0.1)], rel=1e-9)


# --- a line that air stops --------------------------------------------------------------------


def test_a_line_that_cannot_run_gives_no_energy(tmp_path):
    made = study(tmp_path, {"diversion": DIPS}, diversion=LINE)
    assert made.line_air.filling.stalls_m is not None and made.line_air.line.full_bore_m3s > 0.01
    assert made.plant.at_si(np.inf).power_w == 0 and made.year.annual_kwh == 0 and made.money.energy.kwh == 0
    told = made.answer("capacity.line")
    assert told.value == 0 and told.set_aside[0].value == made.line_air.line.full_bore_m3s
    assert any(each.level == "problem" and "cannot run as it is laid" in each.message for each in made.findings())
    from hydrokit.study.ladder import binding

    assert binding(made).part == "diversion line" and binding(made).flow_m3s == 0


def test_a_line_vented_where_it_must_be_gives_what_passes_its_pockets(tmp_path):
    locked = study(tmp_path / "locked", {"diversion": DIPS}, diversion=LINE)
    vents = [f"{np.interp(each, locked.diversion.distance_m, locked.diversion.chainage_m):.3f} m" for each in locked.line_air.filling.vents_m]
    made = study(tmp_path / "vented", {"diversion": DIPS}, diversion=LINE | {"vents": vents})
    assert made.answer("capacity.line").value == pytest.approx(flow_with_pockets(made.diversion_line).flow_m3s)
    assert made.year.annual_kwh > 0


def test_water_that_was_seen_at_the_jets_overrules_the_levels(tmp_path):
    read = "date,jets,pressure [bar],watts [W],spilling\n2024-06-01,0,3.70,0,yes\n2024-06-01,1,3.55,1500,yes\n2024-06-01,2,3.10,2600,yes\n"
    made = study(tmp_path, {"diversion": DIPS, "readings": read}, diversion=LINE, readings={"file": "readings.csv"}, site={"stage_of_work": "existing"})
    assert made.line_air.filling.stalls_m is not None and made.plant.at_si(np.inf).power_w > 0
    assert any("readings show water at the jets" in each.message for each in made.findings())


def test_pockets_that_stay_hold_the_flow_back_and_an_unprimed_mouth_governs():
    line = falling_line(["0 m", "40 m", "60 m", "80 m", "300 m"], ["99.5 m", "97.5 m", "98.6 m", "97.6 m", "97 m"], "100 mm", "0.03 mm", "100 m", lip_level="98 m")
    assert filling(line).starts
    found = carried(line)
    assert found.how == "with pockets" and found.flow_m3s == flow_with_pockets(line).flow_m3s < found.full_bore_m3s
    steep = falling_line(["0 m", "100 m"], ["99.9 m", "70 m"], "150 mm", "0.03 mm", "100 m")
    assert carried(steep, 0.004).how == "unprimed" and carried(steep, 0.004).flow_m3s == 0.004
    assert carried(steep, 0.004, primed=True).flow_m3s == steep.full_bore_m3s


def test_a_line_that_stalls_still_shows_every_page(tmp_path):
    made = study(tmp_path, {"diversion": DIPS}, diversion=LINE)
    view = made.view("metric")
    for name, section, show in small_study.page_sections():
        assert show(made, view) is not None, (name, section)
