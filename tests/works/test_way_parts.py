"""Parts of the water's way: clogging part by part, the diversion line, pressures, frost by stretch, a pipe bridge."""

import math

import numpy as np
import pytest

from hydrokit.errors import HydrokitError, InputError
from hydrokit.plant.chain import Chain, state_of
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.study.opening import open_study
from hydrokit.works.bends import profile_bends
from hydrokit.works.bridge import pipe_bridge
from hydrokit.works.diversion import DiversionLine, LineAir
from hydrokit.works.exposed import Cold, Stretch, frost_on
from hydrokit.works.falling import falling_line
from hydrokit.works.pipe import Line
from hydrokit.works.pipe_sizes import pipe_size
from hydrokit.works.pressures import penstock_pressures
from hydrokit.works.profile import Profile, long_section
from hydrokit.works.rated import Rated
from hydrokit.works.state import CLEAN, State

G = 9.80665


# --- clogging part by part --------------------------------------------------------------------


def chain(**changes):
    parts = dict(
        penstock=Penstock(MeasuredLoss(60e3), 50.0),
        jets=FixedJets((0.012,) * 4, 0.95),
        runner=Runner(steady(0.6)),
    )
    return Chain(**{**parts, **changes})


SCREEN, DITCH = Rated(0.012, name="screen"), Rated(0.010, 0.1, name="ditch")


def test_only_the_named_part_is_clogged():
    clogged = chain(supply=(SCREEN, DITCH), states={10: {"screen": State(0.5)}})
    passage, limits = clogged.reaching_si(10)
    assert passage.share == pytest.approx(0.9) and passage.lost_m3s == 0
    assert limits == {
        "screen": pytest.approx(0.5 * 0.012 * 0.9),
        "ditch": pytest.approx(0.010 * 0.9),
    }
    assert clogged.reaching_si(9)[1] == {
        "screen": pytest.approx(0.012 * 0.9),
        "ditch": pytest.approx(0.010 * 0.9),
    }


def test_a_clogged_part_is_as_good_as_a_smaller_one():
    flows = np.linspace(0.001, 0.02, 15)
    clogged = chain(supply=(SCREEN, DITCH), states={10: {"screen": State(0.4)}})
    smaller = chain(supply=(Rated(0.6 * 0.012, name="screen"), DITCH))
    np.testing.assert_allclose(
        clogged.at_si(flows, 10).power_w, smaller.at_si(flows).power_w, rtol=1e-12
    )
    np.testing.assert_allclose(
        clogged.curve(10).power_si(flows), smaller.curve().power_si(flows), rtol=1e-9
    )


def test_one_state_for_all_is_a_state_for_each():
    told = State(0.3, ice=0.2)
    together = chain(supply=(SCREEN, DITCH), states={1: told})
    apart = chain(
        supply=(SCREEN, DITCH), states={1: {"screen": told, "ditch": told, "penstock": told}}
    )
    np.testing.assert_allclose(
        apart.at_si([0.004, 0.02], 1).power_w, together.at_si([0.004, 0.02], 1).power_w, rtol=1e-12
    )


def test_air_of_the_penstock_by_name_lowers_its_head():
    named = chain(states={2: {"penstock": State(air_m=5.0)}})
    assert named.at_si(1.0, 2).power_w == pytest.approx(
        chain(states={2: State(air_m=5.0)}).at_si(1.0, 2).power_w
    )
    assert named.at_si(1.0, 2).power_w < named.at_si(1.0, 3).power_w


def test_the_limiting_component_names_the_clogged_part():
    clogged = chain(supply=(SCREEN, DITCH), states={10: {"screen": State(0.7)}})
    assert str(clogged.limiting_component(np.array([0.02]), 10).part[0]) == "screen"
    assert str(clogged.limiting_component(np.array([0.02]), 9).part[0]) != "screen"


def test_months_with_one_mapping_are_alike_and_share_a_curve():
    autumn = {"screen": State(0.4)}
    clogged = chain(supply=(SCREEN,), states={9: autumn, 10: autumn})
    assert (9, 10) in clogged.alike() and len(clogged.alike()) == 2
    curves = clogged.curves()
    assert curves[8] is curves[9] and curves[8] is not curves[0]


def test_a_state_for_a_part_that_is_not_there_is_refused():
    with pytest.raises(HydrokitError, match="'weir', which is not a part.*ditch, penstock"):
        chain(supply=(DITCH,), states={1: {"weir": State(0.2)}})


def test_state_of_reads_both():
    assert state_of(CLEAN, SCREEN) is CLEAN
    told = State(0.2)
    assert state_of({"screen": told}, SCREEN) is told and state_of({"screen": told}, DITCH) is CLEAN


# --- from the site file -----------------------------------------------------------------------

SITE = """
[site]
name = "x"
[penstock]
head = "40 m"
[[penstock.pipe]]
size = "PVC-U PN 10 110 mm"
length = "200 m"
[turbine]
kind = "pelton"
jets = 2
jet_diameter = "12 mm"
"""


@pytest.fixture
def study(tmp_path):
    def made(text):
        (tmp_path / "site.toml").write_text(SITE + text, encoding="utf-8")
        (tmp_path / "line.csv").write_text(
            "chainage [m],elevation [m]\n0,100\n40,99\n120,97\n", encoding="utf-8"
        )
        return open_study(tmp_path)

    return made


SCREEN_PART = '[[part]]\nkind = "screen"\nname = "creek screen"\narea = "0.3 m^2"\nopen = "40 %"\nhead = "30 mm"\nclogged = { october = "40 %", november = "40 %" }\n'


def test_clogged_shares_become_states_of_their_part_alone(study):
    made = study(SCREEN_PART + '[[part]]\nkind = "orifice"\ndiameter = "100 mm"\nhead = "0.3 m"\n')
    assert [part.name for part in made.supply] == ["creek screen", "orifice"]
    october = made.plant.state_in(10)
    assert set(october) == {"creek screen"} and october["creek screen"].clogged == 0.4
    assert made.states[9] is made.states[10] and len(made.plant.alike()) == 2
    clean, clogged = made.plant.reaching_si(1)[1], made.plant.reaching_si(10)[1]
    assert (
        clogged["orifice"] == clean["orifice"] and clogged["creek screen"] < clean["creek screen"]
    )


def test_the_intakes_capacity_counts_once(study):
    alone = study('[intake]\ncapacity = "12 L/s"\nclogged = { may = "25 %" }\n')
    assert [part.name for part in alone.supply] == ["intake"] and float(
        alone.plant.reaching_si(5)[1]["intake"]
    ) == pytest.approx(0.009)
    listed = study('[intake]\ncapacity = "12 L/s"\n' + SCREEN_PART)
    assert [part.name for part in listed.supply] == ["creek screen"]


def test_a_described_line_and_open_ground_are_parts_and_a_pond_is_none(study):
    diversion = '[diversion]\nprofile = "line.csv"\nsize = "PE100 SDR 17 125 mm"\nsource_level = "100.6 m"\n'
    made = study(
        SCREEN_PART
        + '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "1 m"\nloss = "8 %"\n[[part]]\nkind = "forebay"\narea = "4 m^2"\ndepth = "0.3 m"\n'
        + diversion
    )
    assert [part.name for part in made.supply] == ["creek screen", "diversion line", "open ground"]
    passage, limits = made.plant.reaching_si()
    assert passage.share == pytest.approx(0.92) and limits["open ground"] == np.inf
    assert limits["diversion line"] == pytest.approx(0.92 * made.diversion_line.full_bore_m3s)


def test_two_parts_of_one_name_are_refused(study):
    with pytest.raises(InputError, match="two parts are called 'creek screen'"):
        _ = study(SCREEN_PART + SCREEN_PART).supply


def test_a_line_whose_inlet_is_dry_is_refused(study):
    with pytest.raises(InputError, match="not under water"):
        _ = study(
            '[diversion]\nprofile = "line.csv"\nsize = "PE100 SDR 17 125 mm"\nsource_level = "99.9 m"\ninlet_level = "100 m"\n'
        ).diversion_line


def test_levels_of_the_bottom_are_lifted_to_the_axis(study):
    at = {}
    for levels in ("axis", "bottom", "top"):
        line = study(
            f'[diversion]\nprofile = "line.csv"\ninside_diameter = "110 mm"\nroughness = "0.03 mm"\nsource_level = "101 m"\nlevels = "{levels}"\n'
        ).diversion_line
        at[levels] = line.profile.elevation_m
    np.testing.assert_allclose(at["bottom"] - at["axis"], 0.055)
    np.testing.assert_allclose(at["top"] - at["axis"], -0.055)


# --- the diversion line as a part -------------------------------------------------------------


def colebrook_loss(flow, bore, length, roughness, nu, fittings):
    """Head lost and spent on the jet at the end, by fixed-point Colebrook: the oracle, without the package."""
    speed = flow / (math.pi / 4 * bore**2)
    root = 8.0
    for _ in range(80):
        root = -2 * math.log10(roughness / bore / 3.7 + 2.51 * root / (speed * bore / nu))
    return (length / bore / root**2 + fittings + 1.0) * speed**2 / (2 * G)


def flow_by_bisection(head, *pipe):
    low, high = 1e-6, 1.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if colebrook_loss(middle, *pipe) < head else (low, middle)
    return low


LINE = falling_line(
    ["0 m", "100 m", "250 m"], ["99 m", "98 m", "95 m"], "150 mm", "0.05 mm", "100 m", fittings=0.8
)
NU_10_DEGC = 1.3063e-6  # m²/s, IAPWS


@pytest.mark.parametrize("air", [0.0, 0.7, 2.5])
def test_capacity_is_the_full_bore_under_the_head_that_air_leaves(air):
    pipe = (0.150, float(LINE.line.length_m), 0.05e-3, NU_10_DEGC, 0.8)
    assert DiversionLine(LINE).capacity_si(State(air_m=air)) == pytest.approx(
        flow_by_bisection(5.0 - air, *pipe), rel=2e-4
    )


def test_air_beyond_the_head_stops_it_and_ice_narrows_it():
    part = DiversionLine(LINE)
    assert part.capacity_si(State(air_m=9.0)) == 0
    assert part.capacity_si(State(ice=1.0)) == 0
    half = flow_by_bisection(
        5.0, 0.150 * math.sqrt(0.5), float(LINE.line.length_m), 0.05e-3, NU_10_DEGC, 0.8
    )
    assert part.capacity_si(State(ice=0.5)) == pytest.approx(
        half, rel=0.05
    )  # the 5/2 power leaves out that friction grows
    assert part.capacity_si(State(clogged=0.9)) == part.capacity_si()


def test_head_loss_uses_up_the_head_at_capacity_and_is_infinite_beyond():
    part = DiversionLine(LINE)
    full = part.capacity_si()
    assert part.head_loss_si(full) == pytest.approx(5.0, rel=1e-6)
    assert np.isinf(part.head_loss_si(1.01 * full)) and part.head_loss_si(0.0) == 0


def test_vents_are_tried_in_order_and_advised_as_few_as_enough():
    # Two high points under 12 m of head to the crest.
    line = falling_line(
        ["0 m", "40 m", "80 m", "160 m", "240 m", "330 m", "400 m"],
        ["99.5 m", "95 m", "97.5 m", "88 m", "93.5 m", "88 m", "87 m"],
        "100 mm",
        "0.01 mm",
        "100 m",
        crest_level="88 m",
    )
    air = LineAir(line, 0.012, 0.02)
    # By hand: 80.56 m of leg shut in at 10.335 m of air, pressed by 100 - 97.5 m, falls 9.5 m over its length;
    # what it still fills is a climb of 7.65 m, and the second high point stands 6.5 m below the pond.
    held = 9.5 * 10.335 / (10.335 + 2.5)
    assert air.filling.pockets[0].height_m == pytest.approx(held, rel=1e-3)
    assert (
        held > 6.5
        and not air.filling.starts
        and air.filling.stalls_m == pytest.approx(241.08, abs=0.1)
    )
    assert air.filling.margin_m == pytest.approx(
        12 - held - 6.5, abs=0.01
    )  # at the crest, behind a second pocket not yet pressed
    assert [len(each.vents_m) for each in air.ventings] == [0, 1, 2]
    starts = [each.starts for each in air.ventings]
    assert starts == sorted(starts), "a vent more never stops a line that starts"
    running = [each.flow_m3s for each in air.ventings if each.starts]
    assert running == sorted(running), "a vent more never passes less"
    enough = [each for each in air.ventings if each.starts and each.flow_m3s >= 0.012]
    assert air.advised is (
        enough[0]
        if enough
        else max((each for each in air.ventings if each.starts), key=lambda each: each.flow_m3s)
    )
    assert running[-1] == pytest.approx(line.full_bore_m3s)


# --- what a penstock must hold ----------------------------------------------------------------

PIPE = pipe_size("110 mm PVC-U PN 10").pipe(300.0)
PENSTOCK, GROUND = Line((PIPE,)), Profile([0.0, 300.0], [49.5, 0.0], True)


def held(closing, flow=0.008, line=PENSTOCK):
    section = long_section(GROUND, line, flow, 50.0)
    return section, penstock_pressures(section, line, flow, closing)


def test_at_once_it_is_joukowsky_above_the_running_head():
    section, found = held(0.01)
    speed, wall, bore = 0.008 / (math.pi / 4 * PIPE.diameter_m**2), PIPE.wall_m, PIPE.diameter_m
    wave = math.sqrt(2.09e9 / 999.7 / (1 + 2.09e9 * bore / (2.76e9 * wall)))
    assert found.wave_speed_ms == pytest.approx(wave, rel=1e-3)
    assert found.at_once_m == pytest.approx(wave * speed / G, rel=1e-3)
    lost = 50.0 - section.net_head_m
    # Friction lets the line pack a little above Joukowsky, never more than what it had lost.
    assert found.at_once_m - lost <= found.surge_m <= found.at_once_m + 1e-6


def test_slower_is_lower_and_under_michauds_line():
    _, quick = held(3.0)
    _, slow = held(12.0)
    speed = slow.velocity_ms
    assert slow.surge_m < quick.surge_m < quick.at_once_m
    assert slow.surge_m < 2 * 300.0 * speed / (G * 12.0)
    assert np.all(slow.highest_pa >= slow.static_pa - 1e-6) and np.all(
        slow.lowest_pa <= slow.static_pa + 1e-6
    )


def test_the_safe_time_keeps_every_station_within_its_rating():
    weak = Line((pipe_size("110 mm PVC-U PN 6").pipe(300.0),))
    section, found = held(None, line=weak)
    assert 0 < found.safe_time_s < math.inf and found.surge_m is None
    _, closing = held(found.safe_time_s, line=weak)
    assert np.all(closing.highest_pa <= closing.rating_pa) and closing.use_of_rating <= 1
    _, hasty = held(0.3 * found.safe_time_s, line=weak)
    assert hasty.use_of_rating > closing.use_of_rating
    _, at_once = held(0.01, line=weak)
    assert at_once.use_of_rating > 1 and any(
        "static pressure and surge together" in each.message for each in at_once.findings
    )


def test_without_rating_or_wall_nothing_is_promised():
    from hydrokit.works.pipe import Pipe

    _, found = held(None, line=Line((Pipe(0.1, 300.0, 1e-5),)))
    assert (
        math.isnan(found.safe_time_s)
        and math.isnan(found.vacuum_safety)
        and math.isnan(found.use_of_rating)
    )
    assert found.wave_speed_ms > 1400 and any("rigid" in each.message for each in found.findings)


def test_vacuum_safety_is_that_of_the_weakest_pipe():
    thick = pipe_size("110 mm PVC-U PN 16").pipe(100.0)
    thin = pipe_size("110 mm PVC-U PN 6").pipe(200.0)
    _, found = held(None, line=Line((thick, thin)))
    ratio = thin.outside_diameter_m / thin.wall_m
    assert found.vacuum_safety == pytest.approx(
        2 * 2.76e9 / (1 - 0.38**2) / (ratio - 1) ** 3 / 101325, rel=1e-3
    )


def test_bends_push_by_the_pressure_there_hardest_first():
    section, found = held(10.0)
    bends = profile_bends(
        found, PENSTOCK, 0.008, np.array([100.0, 290.0]), np.radians([45.0, 45.0])
    )
    assert [each.distance_m for each in bends] == [290.0, 100.0]
    for pressure, thrust in (
        (found.at_once_pa, bends[0].thrust_n),
        (found.highest_pa, bends[0].slow_thrust_n),
    ):
        there = np.interp(290.0, found.distance_m, pressure)
        assert thrust == pytest.approx(
            2 * there * math.pi / 4 * 0.110**2 * math.sin(math.radians(22.5)), rel=0.01
        )


# --- frost by stretch -------------------------------------------------------------------------


COLD = Cold.spell(258.15)


def stretch(**lies):
    return Stretch(
        "s",
        "penstock",
        0.0,
        end_m=10.0,
        inside_m=0.1016,
        outside_m=0.1143,
        roughness_m=1e-5,
        **lies,
    )


def blocked(**lies):
    return frost_on((stretch(**lies),), COLD)[0].blocked_s


def test_more_over_it_never_freezes_sooner():
    for name, amounts in (
        ("soil_m", [0.1, 0.3, 1.0]),
        ("snow_m", [0.02, 0.1, 1.0]),
        ("insulation_m", [0.0, 0.02, 0.05]),
    ):
        times = [blocked(**{name: amount}) for amount in amounts]
        assert times == sorted(times) and times[0] > 0
    assert blocked() < blocked(insulation_m=0.05) < blocked(insulation_m=0.05, snow_m=0.1)
    assert blocked(soil_m=0.3) < blocked(soil_m=0.3, snow_m=0.05)


def test_resistance_under_snow_and_soil_by_the_formula_of_a_buried_cylinder():
    # k of settled snow of 250 kg/m³ after Sturm and others 1997: 0.138 - 1.01*0.25 + 3.233*0.25**2; frozen soil of 1.8 W/(m K).
    snow = 0.138 - 1.01 * 0.25 + 3.233 * 0.0625
    bare = stretch().resistance_si(258.15)
    # what the film in the air is worth in soil: a cylinder that touches the surface passes as much
    film = (math.cosh(2 * math.pi * 1.8 * bare) - 1) * 0.1143 / 2
    both = 0.3 + 0.1143 / 2 + film + 0.5 * 1.8 / snow
    assert stretch(soil_m=0.3, snow_m=0.5).resistance_si(258.15, 0.5) == pytest.approx(
        math.acosh(2 * both / 0.1143) / (2 * math.pi * 1.8), rel=1e-6
    )
    assert stretch(soil_m=1e-9).resistance_si(258.15) == pytest.approx(bare, rel=1e-6)


def test_worst_stretch_comes_first_and_no_frost_freezes_nothing():
    made = frost_on((stretch(snow_m=0.5), stretch(), stretch(soil_m=0.4)), COLD)
    assert made[0].stretch.bare and made[0].blocked_s == min(each.blocked_s for each in made)
    assert made[0].keep_open_m3s == max(each.keep_open_m3s for each in made)
    mild = frost_on((stretch(), stretch(soil_m=0.3)), Cold.spell(274.15))
    for each in mild:
        assert np.isinf(each.blocked_s) and each.keep_open_m3s == 0 and each.heat_loss_wm == 0
    bare = frost_on((stretch(snow_m=0.5),), COLD, snow=False)[0]
    assert bare.blocked_s == blocked()


def test_a_negative_cover_is_refused():
    with pytest.raises(HydrokitError, match="soil_m"):
        stretch(soil_m=-0.1)


# --- a pipe bridge ----------------------------------------------------------------------------


def test_bridge_of_four_inch_pipe_by_beam_formulas():
    pipe = pipe_size("4 in PVC Sch 40").pipe(10.0)
    found = pipe_bridge("bridge", pipe, 2.4, snow_m=0.3, ice_m=0.0127)
    outside, wall = 4.5 * 0.0254, 0.237 * 0.0254
    inside = outside - 2 * wall
    load = G * (
        1400 * math.pi / 4 * (outside**2 - inside**2)
        + 1000 * math.pi / 4 * inside**2
        + 350 * outside * 0.3
        + 917 * math.pi / 4 * ((outside + 0.0254) ** 2 - outside**2)
    )
    assert found.load_nm == pytest.approx(load, rel=1e-3)
    stiffness = math.pi / 64 * (outside**4 - inside**4)
    assert found.sag_m == pytest.approx(5 * load * 2.4**4 / (384 * 2.76e9 * stiffness), rel=1e-3)
    # At the longest span the sag is 0.2 % of it, or the stress is used up.
    assert 5 * load * found.allowed_m**3 / (384 * 2.76e9 * stiffness) <= 0.002 * (1 + 1e-6)
    assert found.published_m == pytest.approx(7 * 0.3048)  # printed for 4 in Sch 40 at 80 °F
    assert found.longest_m == min(found.allowed_m, found.published_m)


def test_bridge_without_a_wall_is_not_judged():
    from hydrokit.works.pipe import Pipe

    assert pipe_bridge("bridge", Pipe(0.1, 10.0, 1e-5), 2.0) is None
