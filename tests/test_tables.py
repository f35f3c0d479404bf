"""Reference tables, pipe sizes by name, fittings."""

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import fluids
import numpy as np
import pytest

from hydrokit import tables
from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.tables import load
from hydrokit.works.fittings import contraction, derating, enlargement, fitting, roughness
from hydrokit.works.pipe_sizes import nominal_trap, pipe_size, pipe_sizes, two_walls

MINE = (
    "contraction", "drills", "fish_screens", "fittings", "hazen_williams", "manning", "materials", "pe_temperature", "pipe_sizes",
    "pvc_support_spacing", "pvc_temperature", "roughness", "screens", "seepage", "wire_screens",
)  # fmt: skip


OWN_WORDS = {"cautions", "lacking"}


@pytest.mark.parametrize("name", tables.names())
def test_every_row_has_a_source(name):
    table = load(name)
    assert name in OWN_WORDS or all(text.strip() for text in table["source"])
    lengths = {len(column) for column in table.values()}
    assert len(lengths) == 1


@pytest.mark.parametrize("name", MINE)
def test_every_row_says_how_it_was_obtained(name):
    assert set(load(name)["how"]) <= {"read", "code", "quoted", "analytic", "mixed", "from memory"}


def test_a_table_is_read_once_and_cannot_be_written_to():
    assert load("fittings") is load("fittings")
    with pytest.raises(ValueError):
        load("fittings")["k"][0] = 3
    with pytest.raises(TypeError):
        load("fittings")["k"] = 3


def test_unknown_tables_and_rows_offer_the_nearest():
    with pytest.raises(HydrokitError, match="did you mean 'fittings'"):
        load("fitings")
    with pytest.raises(HydrokitError, match="did you mean 'entrance square'"):
        fitting("entrance sqare")
    assert fitting("Entrance  Square") == 0.5


# --- sizes ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written, name",
    [
        ("PVC SDR 26 4 in", "4 in PVC SDR 26"),
        ('4" pvc sch40', "4 in PVC Sch 40"),
        ("1.5 inch PVC schedule 80", "1-1/2 in PVC Sch 80"),
        ("1 - 1/2 in PVC Sch 80", "1-1/2 in PVC Sch 80"),
        ("PE100 SDR 17 110 mm", "110 mm PE100 SDR 17"),
        ("pe 100 sdr17 110mm", "110 mm PE100 SDR 17"),
        ("HDPE 110 mm SDR 11", "110 mm PE100 SDR 11"),
        ("4 in HDPE DR 17", "4 in HDPE SDR 17"),
        ("PVC-U PN 10 160 mm", "160 mm PVC-U PN 10"),
        ("uPVC PN 12.5 110 mm", "110 mm PVC-U PN 12.5"),
        ("PVC-U SDR 21 140 mm", "140 mm PVC-U SDR 21"),
        ("140 mm PVC SDR 21", "140 mm PVC-U SDR 21"),
        ("steel 4 in Sch 40", "4 in steel Sch 40"),
    ],
)
def test_a_size_is_found_however_it_is_written(written, name):
    assert pipe_size(written).name == name


def test_every_name_finds_itself():
    names = pipe_sizes()
    assert len(names) == len(set(names)) > 400
    for name in names:
        size = pipe_size(name)
        assert size.name == name
        assert 0 < size.inside_m < size.outside_m - 2 * size.wall_m + 1e-9


def test_a_size_says_that_its_bore_is_printed_where_a_check_reads_it():
    """And the pipes that the metric demos plan are such sizes."""
    published = Path(__file__).parent / "published" / "pipe.toml"
    checks = tomllib.loads(published.read_text(encoding="utf-8"))["check"]
    read = {
        (size.material, size.outside_m, size.inside_m)
        for each in checks
        if each["id"] in ("pvcu-bores", "pe100-bores")
        for size in map(pipe_size, each["inputs"]["names"])
    }
    told = [size for size in map(pipe_size, pipe_sizes()) if "prints it" in size.source]
    assert {(size.material, size.outside_m, size.inside_m) for size in told} == read
    for demo in ("alder-burn", "hazel-beck"):
        site = (Path(__file__).parents[1] / "studies" / demo / "site.toml").read_text("utf-8")
        (planned,) = tomllib.loads(site)["penstock"]["pipe"]
        assert "prints it" in pipe_size(planned["size"]).source


def test_unknown_sizes_are_refused_with_the_nearest():
    for written in ("4 in", "4 in PVC", "PVC Sch 40", "nothing at all", "x" * 500):
        with pytest.raises(HydrokitError, match="is not a pipe size known here"):
            pipe_size(written)
    # of the same material: the nearest class of the same size, else the nearest size of the class
    for written, meant in (
        ("4 in PVC Sch 45", "4 in PVC Sch 40"),
        ("PVC-U PN 10 161 mm", "160 mm PVC-U PN 10"),
        ("PE100 SDR 17 112 mm", "110 mm PE100 SDR 17"),
        ("PVC-U PN 11 160 mm", "160 mm PVC-U PN 10"),
    ):
        with pytest.raises(HydrokitError, match=f"did you mean '{meant}'"):
            pipe_size(written)


def test_pvc_table_agrees_with_itself():
    """Mean bore is outside less two walls with half the 12 % tolerance; rating is 2St/(D-t) to 10 psi."""
    table = load("pipe_sizes")
    pvc = np.array([material == "PVC" for material in table["material"]])
    outside, wall, inside, rating = (
        table[name][pvc] for name in ("outside_in", "wall_in", "inside_in", "rating_psi")
    )
    mean_over_least = (outside - inside) / 2 / wall
    assert np.abs(mean_over_least - 1.06).max() < 0.015
    assert np.abs(2 * 2000 * wall / (outside - wall) - rating).max() < 5.5
    assert pvc.sum() == 24


@pytest.mark.parametrize("schedule", ["10", "40", "80"])
def test_steel_against_a_general_library(schedule):
    """independent: fluids.piping; ours from memory."""
    for name in pipe_sizes():
        if name.endswith(f"steel Sch {schedule}"):
            nominal = name.split(" in ")[0]
            whole = float(sum(Fraction(part) for part in nominal.split("-")))
            if whole > 3 and schedule == "10" and whole >= 10:
                continue  # Sch 10 and 10S part ways in large sizes
            _, inside, outside, wall = fluids.piping.nearest_pipe(
                NPS=whole, schedule="10S" if schedule == "10" else schedule
            )
            size = pipe_size(name)
            assert size.outside_m == pytest.approx(outside, abs=4e-4), name
            assert size.wall_m == pytest.approx(wall, abs=1e-4), name


@pytest.mark.parametrize(
    "ratio, theirs", [(21, "IPSDR21"), (26, "IPSDR26"), (32.5, "IPSDR325"), (41, "IPSDR41")]
)
def test_pvc_by_ratio_against_a_general_library(ratio, theirs):
    """independent: walls in fluids.piping (14 in and up) follow outside/ratio, the rule ours are made by."""
    for nominal in (14, 16, 20, 24):
        _, _, outside, wall = fluids.piping.nearest_pipe(NPS=nominal, schedule=theirs)
        assert wall == pytest.approx(outside / ratio, rel=2e-3)
    for nominal in (3, 4, 6, 12):
        size = pipe_size(f"{nominal} in PVC SDR {ratio:g}")
        assert size.wall_m == pytest.approx(
            size.outside_m / ratio, abs=1.3e-5
        )  # a thousandth of an inch
        assert size.outside_m == pytest.approx(
            fluids.piping.nearest_pipe(NPS=nominal, schedule="40")[2], abs=4e-4
        )


def test_a_size_becomes_a_pipe():
    pipe = pipe_size("4 in PVC Sch 40").pipe(200.0, fittings=1.5)
    assert (pipe.diameter_m, pipe.length_m, pipe.fittings) == (pytest.approx(0.1015492), 200.0, 1.5)
    assert pipe.roughness_m == pytest.approx(3e-5)
    assert pipe.material == "PVC"
    assert pipe_size("4 in steel Sch 40").rating is None


def test_nominal_sizes_are_caught():
    assert "nominal size" in nominal_trap(0.1016).message
    assert "4 in PVC Sch 40" in nominal_trap(0.1016).message
    assert "outside size" in nominal_trap(0.110).message
    assert nominal_trap(0.0968) is None
    assert nominal_trap(0.1015492) is None


def test_a_nominal_pressure_that_stands_for_two_walls_is_told():
    """PVC-U PN 10 from 110 mm is SDR 26 by one standard and SDR 21 by the other; an SDR is one wall."""
    said = two_walls("PVC-U PN 10 140 mm").message
    assert "SDR 26 (129.2 mm inside)" in said and "SDR 21 (126.6 mm inside)" in said
    assert '"140 mm PVC-U SDR 21"' in said
    for certain in (
        "PVC-U PN 10 90 mm",
        "PVC-U SDR 21 140 mm",
        "PE100 SDR 17 140 mm",
        "4 in PVC Sch 40",
    ):
        assert two_walls(certain) is None, certain
    # the thicker wall bears the pressure of the name in both standards
    for bar, ratio in ((6, 33), (10, 21), (12.5, 17), (16, 13.6)):
        assert pipe_size(f"PVC-U SDR {ratio} 160 mm").rating_pa == bar * 1e5


# --- fittings, ratings ----------------------------------------------------------------------


def test_enlargement_against_a_general_library():
    """independent: fluids.fittings.diffuser_sharp, and contraction_sharp as a loose bound."""
    for ratio in (1.2, 1.5, 2.0, 4.0):
        assert enlargement.si(1.0, ratio) == pytest.approx(
            fluids.fittings.diffuser_sharp(1.0, ratio), rel=1e-12
        )
        assert contraction.si(ratio, 1.0) == pytest.approx(
            fluids.fittings.contraction_sharp(ratio, 1.0), abs=0.15
        )
    with pytest.raises(HydrokitError, match="must not exceed"):
        enlargement("90 mm", "60 mm")


def test_roughness_by_condition():
    assert roughness("galvanised iron", "good").m_as("mm") == pytest.approx(0.06)
    assert roughness("pvc o-ring joints").m_as("mm") == pytest.approx(0.06)
    with pytest.raises(HydrokitError, match="no good value"):
        roughness("hdpe", "good")
    with pytest.raises(HydrokitError, match="good, normal or poor"):
        roughness("hdpe", "best")


def test_ratings_fall_with_warmth_and_end():
    warmth = np.linspace(0, 60, 61)
    for material in ("PVC", "PVC-U"):
        share = derating.si(warmth + 273.15, material)
        assert (np.diff(share) <= 0).all() and share[0] == 1 and share[-1] == pytest.approx(0.22)
    assert derating.si(333.15, "steel") == 1
    assert derating("30 degC", "HDPE") == pytest.approx(0.87)
    with pytest.warns(RangeWarning, match="no rating"):
        assert np.isnan(derating("65 degC"))
    with pytest.warns(RangeWarning, match="brittle"):
        derating("-10 degC")
    with pytest.raises(HydrokitError, match="not a pipe material"):
        derating("10 degC", "bamboo")


def test_sources_name_no_web_machinery():
    for name in MINE:
        for text in load(name)["source"]:
            assert not re.search(r"https?:|www\.", text)
