"""Open water from the site file to the page."""

import math

import pytest
import shared
import snow_study
from test_open_water import G

from hydrokit.errors import InputError
from hydrokit.report.pages.p03 import intake, ladder, pond, water_way
from hydrokit.study.opening import open_study

# --- from the site file -----------------------------------------------------------------------

SITE = """
[site]
name = "x"
[penstock]
head = "40 m"
[[penstock.pipe]]
inside_diameter = "125 mm"
length = "300 m"
roughness = "0.03 mm"
[turbine]
kind = "pelton"
jets = 2
design_flow = "14 L/s"
[generator]
water_to_wire = "55 %"
[intake]
capacity = "25 L/s"
"""
OPEN = """weir_length = "3 m"
banks = "0.6 m"
flood = "3 m^3/s ± 1 m^3/s"
notch_depth = "80 mm"
notch_width = "130 mm"
[[rights.residual]]
rule = "fixed"
flow = "7 L/s"
[[part]]
kind = "gate"
width = "0.4 m"
opening = "0.1 m"
head = "0.2 m"
gauged_lift = ["40 mm", "80 mm"]
gauged_head = ["0.2 m", "0.15 m"]
gauged_flow = ["19 L/s", "34 L/s"]
[[part]]
kind = "orifice"
diameter = "200 mm"
head = "0.2 m"
[[part]]
kind = "channel"
length = "120 m"
slope = "0.5 %"
width = "0.3 m"
depth = "0.4 m"
side_slope = 0.5
lining = "earth sandy loam"
soil = "sandy loam"
[[part]]
kind = "channel"
name = "<i>culvert</i>"
length = "20 m"
slope = "1 %"
diameter = "200 mm"
lining = "pipe smooth plastic"
[[part]]
kind = "open ground"
length = "50 m"
width = "2 m"
soil = "clay loam"
[[part]]
kind = "forebay"
area = "40 m^2"
depth = "0.3 m"
silt_depth = "0.2 m"
standpipe = "110 mm"
standpipe_fall = "1.0 m"
bank = "0.15 m"
"""


@pytest.fixture
def study(tmp_path):
    def made(more=""):
        (tmp_path / "site.toml").write_text(SITE + more, encoding="utf-8")
        return open_study(tmp_path)

    return made


def shown(module, study, view):
    return {name: getattr(module, name)(study, view) for name in module.__all__}


def test_open_ground_without_a_gauged_loss_leaks_by_its_ground(study):
    made = study(
        '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nsoil = "sandy loam"\n'
    )
    lost = 50 * 2 * (0.432 + 0.007) / 86400
    passage, limits = made.plant.reaching_si()
    assert passage.lost_m3s == pytest.approx(lost) and limits["intake"] == pytest.approx(
        0.025 - lost
    )
    assert made.plant.at_si(0.010).power_w == pytest.approx(
        study().plant.at_si(0.010 - lost).power_w
    )
    assert (
        made.view("metric").text(lost, "flow", 2) in pond.open_words(made, made.view("metric")).text
    )
    measured = study(
        '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nseepage = "0.9 m/d"\n'
    )
    assert measured.plant.reaching_si()[0].lost_m3s == pytest.approx(100 * (0.9 + 0.007) / 86400)


def test_a_gauged_loss_is_held_against_the_ground(study):
    part = '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nsoil = "sandy loam"\nloss = "{}"\n'
    view = study().view("metric")
    assert "more than its ground explains" in pond.open_words(study(part.format("20 %")), view).text
    assert "find the leak" in repr(water_way.changes_table(study(part.format("20 %")), view))
    assert "which its ground explains" in pond.open_words(study(part.format("4 %")), view).text
    assert (
        "less than its ground would take" in pond.open_words(study(part.format("0.5 %")), view).text
    )


@pytest.mark.parametrize("system", ["metric", "us"])
def test_everything_in_the_open_is_told(study, system):
    made = study(OPEN)
    view = made.view(system)
    told = {**shown(intake, made, view), **shown(pond, made, view)}
    text = " ".join(
        getattr(each, "text", None) or getattr(each, "alt", None) or repr(each)
        for each in told.values()
    )
    assert "<i>" not in " ".join(each.text for each in told.values() if hasattr(each, "text"))
    for says in (
        "too little in every month",
        "goes round the weir",
        "Fitted to 2 gaugings",
        "has not been gauged",
        "edge as a weir",
        "would be washed away",
        "never falls dry",
        "shooting",
        "tranquil",
        "clay loam",
    ):
        assert says in text, says
    assert (
        view.text(float(made.intake_weir.notch.before_the_intake_m3s), "flow")
        in told["weir_words"].text
    )
    assert view.text(made.overflow.level_m, "diameter", 2) in told["spill_words"].text
    levels = {each.level for each in made.findings(("intake_weir", "open_findings", "overflow"))}
    assert levels == {"problem", "caution", "note"}
    table = repr(water_way.changes_table(made, view))
    for what in (
        "a notch for the water that stays",
        "higher banks or a longer crest",
        "a wider overflow",
    ):
        assert what in table
    # What comes down is what the intake passes less what the channels and the open ground lose.
    assert made.overflow.arriving_m3s == pytest.approx(float(made.plant.reaching_si()[1]["intake"]))


def test_an_inclined_screen_at_low_water(study):
    made = study(
        '[[part]]\nkind = "inclined screen"\nrating = "25 L/s"\ndrop = "0.4 m"\nlength = "0.6 m"\nrated_by = "gauged"\n'
    )
    text = intake.toe_words(made, made.view("metric")).text
    assert "± 10 %, being gauged" in text and "not frazil" in text


@pytest.mark.parametrize(
    "part, says",
    [
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nlining = "concrete"',
            "give its width and depth",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"',
            "give its lining",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"\nlining = "concret"',
            "did you mean 'concrete'",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"\nlining = "concrete"\nfreeboard = "0.4 m"',
            "leaves no depth for the water",
        ),
        (
            'kind = "orifice"\ndiameter = "90 mm"\nhead = "0.2 m"\ngauged_head = ["0.2 m"]',
            "its gaugings need",
        ),
        (
            'kind = "orifice"\ndiameter = "90 mm"\nhead = "0.2 m"\ngauged_head = ["0.2 m"]\ngauged_flow = ["8 L/s", "9 L/s"]',
            "one value for each gauging",
        ),
        ('kind = "open ground"\nlength = "9 m"\nwidth = "1 m"\nsoil = "loam"', "clay loam"),
    ],
)
def test_mistakes_are_one_sentence(study, part, says):
    with pytest.raises(InputError, match=says) as caught:
        study(f"[[part]]\n{part}\n").read()
    assert len(caught.value.mistakes) == 1


@pytest.mark.parametrize(
    "part",
    [
        'kind = "open ground"\nlength = "100 km"\nwidth = "1000 m"', 'kind = "channel"\nlength = "0.1 m"\nslope = "0.001 %"\nwidth = "1 cm"\ndepth = "1 cm"\nlining = "earth sandy loam"',
        'kind = "channel"\nlength = "100 km"\nslope = "100 %"\ndiameter = "1 cm"\nmanning = 0.5\nsoil = "not known"', 'kind = "bottom intake"\nwidth = "100 m"\nlength = "100 m"\nbar = "0.1 mm"\ngap = "1 m"\nslope = "0 deg"',
        'kind = "forebay"\narea = "0.01 m^2"\ndepth = "1 mm"\nstandpipe = "10 m"\nstandpipe_fall = "0 m"\nbank = "100 m"\nspill_length = "1000 m"', 'kind = "forebay"\narea = "100 km^2"\ndepth = "100 m"\nstandpipe = "1 cm"\nbank = "1 mm"',
        'kind = "gate"\nwidth = "100 m"\nopening = "1 mm"\nhead = "100 m"', 'kind = "inclined screen"\nrating = "0.01 L/s"\nlength = "100 m"',
    ],
)  # fmt: skip
def test_extremes_are_told_without_a_crash(study, part):
    made = study(
        f'weir_length = "1 cm"\nnotch_depth = "1 mm"\nflood = "10000 m^3/s"\n[[rights.residual]]\nrule = "fixed"\nflow = "10000 m^3/s"\n[[part]]\n{part}\n'
    )
    for system in ("metric", "us"):
        view = made.view(system)
        for each in (
            *shown(intake, made, view).values(),
            *shown(pond, made, view).values(),
            water_way.changes_table(made, view),
            ladder.ladder_table(made, view),
        ):
            text = getattr(each, "text", None) or getattr(each, "alt", None) or repr(each)
            assert (
                "nan" not in text.replace("nance", "") and "inf " not in text and "None" not in text
            )


# --- the demos --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def studies():
    return shared.demo


def test_alder_burn_leaves_the_burn_its_water_first(studies):
    burn = studies("alder-burn")
    notch = burn.intake_weir.notch
    assert notch.before_the_intake_m3s == pytest.approx(0.012) and notch.short_months == ()
    assert notch.needed_m == pytest.approx(0.012 / (2 / 3 * 0.58 * math.sqrt(2 * G) * 0.09**1.5))
    assert "all months but October and November" in repr(
        intake.notch_table(burn, burn.view("metric"))
    )
    assert burn.intake_weir.peak_m3s == pytest.approx(2 * burn.intake_flood.flows[0][1].flow_m3s)


def test_an_upright_pipe_spills_and_flushes(tmp_path):
    made = snow_study.opened(tmp_path, snow_study.VENTED)
    over = made.overflow
    assert over.arriving_m3s == pytest.approx(0.96 * float(made.supply[0].capacity_si()))
    by_hand = (over.arriving_m3s / (1.44 * math.pi * 7 * 0.0254)) ** (2 / 3)
    assert over.level_m == pytest.approx(by_hand, rel=1e-6) and over.half_closed_m > over.level_m
    text = pond.flush_words(made, made.view("us")).text
    assert "empties the forebay" in text
    assert "which its ground explains" in pond.open_words(made, made.view("us")).text


def test_a_vent_beside_every_high_point_is_told(tmp_path):
    for number, (at, told) in enumerate(
        (("230 ft", False), ("228 ft", False), ("237 ft", True), ("223 ft", True))
    ):
        made = snow_study.opened(
            tmp_path / str(number), ("entry = 0.7", f'entry = 0.7\nvents = ["{at}"]')
        )
        stray = [each for each in made.line_air.findings if "no high point within" in each.message]
        assert bool(stray) == told
        if stray:
            assert (
                "the nearest is at 70.1 m" in stray[0].message
                and "level or along the slope" in stray[0].message
            )
