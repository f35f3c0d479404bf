"""A value that may be but hardly is, is told; one that physics forbids is refused; the usual ones pass without a word."""

import tomllib

import numpy as np
import odd_studies
import pytest
import shared
import small_study

from hydrokit.errors import InputError
from hydrokit.sentences import Reader
from hydrokit.site import plausible
from hydrokit.site.places import places
from hydrokit.site.values import bounds_of, value_of

ABSURD = [
    (
        {
            "generator": {"water_to_wire": "97 %", "efficiency": None},
            "turbine": {"efficiency": None},
        },
        "[generator] water_to_wire",
    ),
    ({"turbine": {"efficiency": "98 %"}}, "[turbine] efficiency"),
    ({"generator": {"efficiency": "99.9 %"}}, "[generator] efficiency"),
    ({"turbine": {"jet_coefficient": "100 %"}}, "[turbine] jet_coefficient"),
    ({"intake": {"capacity": "10000 m^3/s"}}, "[intake] capacity"),
    ({"turbine": {"runner_diameter": "20 m"}}, "[turbine] runner_diameter"),
    ({"turbine": {"speed": "100000 rpm"}}, "[turbine] speed"),
    ({"site": {"catchment": "1 mm^2"}}, "[site] catchment"),
    ({"rights": {"licence": "0 L/s"}}, "[rights] licence"),
    ({"intake": {"capacity": "30 L/s ± 18 L/s"}}, "[intake] capacity"),
    ({"operation": {"freezes_below": "10 degC"}}, "[operation] freezes_below"),
    ({"operation": {"stops_per_winter": 100}}, "[operation] stops_per_winter"),
    ({"intake": {"banks": "90 m"}}, "[intake] banks"),
    ({"penstock": {"profile": None, "length": "4 km", "head": "2500 m"}}, "[penstock] head"),
    ({"stream": {"record_uncertainty": "75 %"}}, "[stream] record_uncertainty"),
    ({"outage": {"planned_days": 300}}, "[outage] planned_days"),
]


@pytest.mark.parametrize(("change", "where"), ABSURD, ids=[where for _, where in ABSURD])
def test_an_absurd_value_is_told_by_its_key(tmp_path, change, where):
    found = small_study.changed(tmp_path, **change)
    told = [each for each in found.unusual_findings if each.where == where]
    assert len(told) == 1 and told[0].level == "caution"
    assert told[0] in found.findings(rooms=("unusual_findings",))


@pytest.mark.parametrize(
    "change",
    [
        {"generator": {"water_to_wire": "100 %", "efficiency": None}},
        {"turbine": {"efficiency": "100 %"}},
    ],
    ids=["water to wire", "runner"],
)
def test_what_physics_forbids_is_refused(tmp_path, change):
    with pytest.raises(InputError, match="100 %"):
        small_study.changed(tmp_path, **change)


def test_a_runner_far_too_fast_for_its_jet_is_told(tmp_path):
    # 38 m of head: a jet of 27.3 m/s; best at 0.46 of it, for 0.22 m that is 1,090 rpm.
    best = 0.46 * np.sqrt(2 * 9.80665 * 38) / (np.pi * 0.22) * 60
    assert best == pytest.approx(1090, rel=0.01)
    fit = small_study.changed(
        tmp_path / "fit", turbine={"runner_diameter": "220 mm", "speed": f"{best:.0f} rpm"}
    )
    fast = small_study.changed(
        tmp_path / "fast", turbine={"runner_diameter": "220 mm", "speed": "3000 rpm"}
    )
    assert not fit.unusual_findings
    assert ["[turbine] speed"] == [
        each.where for each in fast.unusual_findings
    ] and "1.3 times the speed of the jet" in fast.unusual_findings[0].message


@pytest.mark.parametrize("name", odd_studies.NAMES)
def test_studies_as_people_have_them_pass_without_a_word(name):
    assert shared.odd(name).unusual_findings == ()


def test_the_usual_lies_within_what_is_read_and_holds_the_example():
    keys = [place.key for place in places() if place.key.usual]
    assert len(keys) > 25
    for key in keys:
        low, high = bounds_of(key, key.usual[0])
        example = value_of(tomllib.loads(f"x = {key.example}")["x"], key, "x")
        value = np.atleast_1d(getattr(example, "value", example))
        assert low < high and np.all((low <= value) & (value <= high)), key.meaning
        if key.within:
            assert high <= bounds_of(key, key.within)[1], key.meaning


# Numbers without bounds of what is usual, and why.
_IN_A_DATUM = (
    "a level in the owner's datum: it is held against the profile, the gaugings or the stages"
)
_ALONG_A_LINE = "a place along a line: it is held against the profile"
WITHOUT_USUAL = {
    ("site", "altitude"): "any place on earth",
    ("stream", "neighbour_altitude"): "any place on earth",
    ("stream", "cease_to_flow"): _IN_A_DATUM,
    ("intake", "level"): _IN_A_DATUM,
    ("diversion", "source_level"): _IN_A_DATUM,
    ("diversion", "inlet_level"): _IN_A_DATUM,
    ("diversion", "outlet_crest"): _IN_A_DATUM,
    ("diversion", "vents"): _ALONG_A_LINE,
    ("penstock", "vents"): _ALONG_A_LINE,
    ("upgrade", "diversion_vents"): _ALONG_A_LINE,
    ("diversion.stretch", "from"): _ALONG_A_LINE,
    ("diversion.stretch", "to"): _ALONG_A_LINE,
    ("penstock.stretch", "from"): _ALONG_A_LINE,
    ("penstock.stretch", "to"): _ALONG_A_LINE,
    ("penstock.bend", "at"): _ALONG_A_LINE,
    ("uncertainty", "draws"): "more draws are no mistake",
    (
        "part",
        "slope",
    ): "bars of a bottom intake are only known to 26 deg, and steeper ones are refused",
}
_NUMBERS = ("number", "measured", "by month", "numbers", "each")


def _bounded(key):
    """Kinds that need no more: money of any currency, a share of the whole, a few whole numbers."""
    few = key.whole and key.within and bounds_of(key, key.within)[1] <= 60.5
    return key.unit.startswith("money") or key.unit == "share" or few


def test_every_number_of_the_schema_has_what_is_usual():
    numbers = [place for place in places() if place.key.kind in _NUMBERS and not place.key.usual]
    lacking = {(each.section, each.name) for each in numbers if not _bounded(each.key)}
    assert lacking == set(WITHOUT_USUAL)


@pytest.mark.parametrize(
    "place",
    [place for place in places() if place.key.usual and place.key.unit not in ("share", "K")],
    ids=lambda place: f"{place.part or place.section}.{place.name}",
)
def test_a_slip_of_four_digits_is_spoken_of(place):
    """From the schema's own example, upwards and downwards, in whatever number."""
    key = place.key
    low, high = bounds_of(key, key.usual[0])
    example = value_of(tomllib.loads(f"x = {key.example}")["x"], key, "x")
    size = np.abs(np.atleast_1d(getattr(example, "value", example))).max()
    assert size == 0 or high <= 1e4 * size, "a slip upwards"
    assert low <= 0 or size <= 1e4 * low, "a slip downwards"


@pytest.mark.parametrize("system", ["metric", "us"])
def test_whatever_is_unusual_can_be_told_in_both_systems(system):
    """Far above what is usual, each number of the schema gives its sentence, unit and all."""
    for place in places():
        if place.key.usual:
            high = bounds_of(place.key, place.key.usual[0])[1]
            where = f"{place.heading} {place.name}"
            found = plausible._caution(where, place.key, 3 * high + 1)
            told = Reader(system).told(found.sentence)
            assert "usual" in told and not small_study.NOT_A_NUMBER.search(told), where
