"""Whatever stands in a study's files, a person gets findings or sentences: never a traceback, never a bare exception."""

import copy
import re
from datetime import date, datetime, time

import pytest
import small_study
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hydrokit.cli import main
from hydrokit.errors import InputError
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
from hydrokit.study.opening import check_study

# What only a programmer would understand. Findings and mistakes may quote the file, so its words are chosen to hold none of it.
BARE = re.compile(
    r"Traceback|[A-Z]\w+Error\b|NoneType|\bNone\b|object at 0x|<class|Measured\(|array\(|dtype|Quantity\(|datetime\.|\bself\b|numpy|pandas"
)


def fast(examples):
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=[
            HealthCheck.function_scoped_fixture,
            HealthCheck.too_slow,
            HealthCheck.data_too_large,
        ],
    )


def assert_told(sentence):
    assert 5 < len(sentence) < 400, sentence
    assert sentence.isprintable(), repr(sentence)
    assert not BARE.search(sentence), sentence


def checked(folder):
    """What the check says of a study: findings, or mistakes that are sentences."""
    try:
        findings = check_study(folder)
    except InputError as error:
        assert error.mistakes
        for mistake in error.mistakes:
            assert_told(mistake.text)
            assert len(str(mistake).splitlines()) == 1
        return "mistakes"
    for finding in findings:
        assert_told(finding.message)
    return "findings"


# --- the site file --------------------------------------------------------------------------

LETTERS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
WRONG_TEXTS = [
    "", " ", "x", "nan m", "1e308 m", "1e999 m", "1e-320 m", "-5 m", "5 m ± nan", "5 m ± -1 m", "± 3 m", "5 m ±", "±", "5 m ± 3 W", "5 ± ± m", "3,5 m", "5 m/s", "300 %", "-3 %",
    "-400 degC", "10 delta_degC", "1 per per kW", "5 m^99", "1/", "１２ m", "1_0 m", "a" * 100_000, "5 " + "m" * 5000, "село", "\u202eabc\u202c", "\x00", "\x1b[31m", "a\nb", "<script>alert(1)</script>",
    "$x$", "../../etc/passwd", "/etc/passwd", "C:\\x", "a\\b", ".", "..", "a\0b", "a" * 5000 + ".csv", "site.toml",
]  # fmt: skip
WRONG = st.one_of(
    st.sampled_from(WRONG_TEXTS),
    LETTERS,
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.sampled_from([10**400, -(10**30), [], {}]),
    st.lists(
        st.one_of(st.integers(-1, 14), st.sampled_from(WRONG_TEXTS[:20]), st.booleans()),
        max_size=13,
    ),
    st.dictionaries(
        st.sampled_from(["january", "JANUARY", "mars", "a b", "ключ"]),
        st.one_of(st.integers(), st.just("5 %"), st.just({"a": 1})),
    ),
)
# Every key there is, as a path into the site file.
KEYS = [(section, key) for section, keys in SECTIONS.items() for key in keys]
KEYS += [(*name.split("."), 0, key) for name, keys in LISTS.items() for key in keys]
KEYS += [("part", 0, key) for keys in PART_KINDS.values() for key in keys]


def place(site, path, value):
    """The site with one value at a path, sections and entries made where they are not there."""
    site = copy.deepcopy(site)
    held = site
    for step, following in zip(path, path[1:]):
        if isinstance(held, list):
            held[:] = held or [{}]
        else:
            held.setdefault(step, [] if following == 0 else {})
        held = held[step]
    held[path[-1]] = value
    return site


@fast(60)
@given(
    raw=st.one_of(
        st.binary(max_size=200),
        LETTERS.map(lambda text: f"[site]\nname = {text}".encode()),
        st.just(b"[" * 5000),
        st.just(b"a = " + b"9" * 5000),
        st.just(b"\xff\xfe[\0s\0"),
    )
)
def test_any_bytes_as_site_file(tmp_path, raw):
    (tmp_path / "site.toml").write_bytes(raw)
    checked(tmp_path)


@fast(150)
@given(
    site=st.dictionaries(
        st.one_of(st.sampled_from([*SECTIONS, "part", "upgrade", "reading"]), LETTERS),
        st.one_of(
            WRONG,
            st.dictionaries(
                st.one_of(st.sampled_from([key[-1] for key in KEYS]), LETTERS), WRONG, max_size=4
            ),
        ),
        max_size=4,
    )
)
def test_any_sections_with_any_values(tmp_path, site):
    (tmp_path / "site.toml").write_text(small_study.toml(site), encoding="utf-8")
    assert checked(tmp_path) == "mistakes"  # none of them has all that is needed


@fast(60)
@given(path=st.sampled_from(KEYS), value=WRONG)
def test_one_wrong_value_in_a_sound_study(tmp_path, path, value):
    checked(small_study.write(tmp_path, place(small_study.SITE, path, value)))


@pytest.mark.slow
@fast(300)
@given(path=st.sampled_from(KEYS), value=WRONG)
def test_one_of_many_wrong_values_in_a_sound_study(tmp_path, path, value):
    checked(small_study.write(tmp_path, place(small_study.SITE, path, value)))


def test_the_study_itself_is_sound(tmp_path):
    assert checked(small_study.write(tmp_path)) == "findings"


@pytest.mark.parametrize("value, says", [
    (True, "must be a number, got the truth value true"), (date(2024, 1, 1), "must be one value, got 2024-01-01"), (datetime(2024, 1, 1, 3), "must be one value, got 2024-01-01 03:00:00"),
    (time(3, 4), "must be one value, got 03:04:00"), (["1 m"], 'must be one value, got ["1 m"]'), ({"a": 1}, "must be one value, got { a = 1 }"), ("nan m", "'nan m' is not a number with a unit"),
    (float("nan"), "cannot be nan"), ("1e308 m", 'cannot be "1e308 m"'), (10**400, "cannot be a number of very many digits"), ("-5 m", 'is negative ("-5 m")'), ("0 m", 'is "0 m"; it must lie within 1 m to 100 km'),
    ("5 m ±", "needs a number before ± and one behind it"), ("5 m ± 6 m", "the part after ± is one standard deviation; it is more than the value itself"),
])  # fmt: skip
def test_values_are_told_as_they_stand_in_the_file(tmp_path, value, says):
    small_study.write(tmp_path, place(small_study.SITE, ("penstock", "length"), value))
    with pytest.raises(InputError) as told:
        check_study(tmp_path)
    assert f"[penstock] length {says}" in str(told.value) or f"[penstock] length: {says}" in str(
        told.value
    )


# --- the sheets -----------------------------------------------------------------------------

PIPE = {"penstock": {"head": "40 m", "length": "100 m", "pipe": [{"size": "PVC-U PN 10 160 mm"}]}}
MACHINE = PIPE | {"turbine": {"kind": "pelton", "jets": 4, "jet_diameter": "10 mm"}}
SHEETS = {
    "gaugings": ({"stream": {"gaugings": "sheet.csv", "control": "riffle", "cease_to_flow": "0 m"}}, "date,stage [m],flow [L/s],uncertainty [%],method,ice"),
    "stage": ({"stream": {"gaugings": "gaugings.csv", "stage": "sheet.csv", "control": "riffle", "cease_to_flow": "0 m"}}, "date,stage [m],ice"),
    "record": ({"stream": {"record": "sheet.csv", "fill_gaps": 5}, "rights": {"residual": [{"rule": "percentile", "exceedance": "95 %"}]}}, "date,flow [L/s]"),
    "temperature": ({"stream": {"temperature": "sheet.csv"}}, "date,temperature [degC]"),
    "penstock": ({"penstock": {"profile": "sheet.csv", "pipe": [{"size": "PVC-U PN 10 160 mm"}]}}, "chainage [m],elevation [m],ground [m]"),
    "diversion": ({"diversion": {"profile": "sheet.csv", "size": "PVC-U PN 10 160 mm"}}, "chainage [m],elevation [m]"),
    "readings": (MACHINE | {"readings": {"file": "sheet.csv"}}, "date,jets,pressure [bar],volts [V],amps [A],watts [W],spilling,needle"),
    "log": (MACHINE | {"readings": {"log": "sheet.csv"}}, "time,jets,pressure [bar],volts [V],amps [A],spilling,needle,air [degC],note"),
    "current meter": ({"stream": {"current_meter": "sheet.csv"}}, "distance [m],depth [m],velocity [m/s]"),
    "salt": ({"stream": {"salt": "sheet.csv", "salt_mass": "0.1 kg", "salt_background": "80 uS/cm"}}, "time [s],conductivity [uS/cm]"),
    "bucket": ({"stream": {"bucket": "sheet.csv"}}, "volume [L],time [s]"),
    "logger": ({"stream": {"gaugings": "gaugings.csv", "stage": "sheet.csv", "cease_to_flow": "0 m", "ice_stages": "corrected"}}, "time,stage [m],ice"),
    "points": ({"stream": {"current_meter": "sheet.csv"}}, "distance [m],depth [m],velocity at 0.2 [m/s],velocity at 0.6 [m/s],velocity at 0.8 [m/s]"),
    "two probes": ({"stream": {"salt": "sheet.csv", "salt_mass": "0.1 kg", "salt_background": "80 uS/cm", "salt_background_after": "82 uS/cm", "salt_tail": "exponential"}}, "time [s],conductivity [uS/cm],second probe [uS/cm],temperature [degC]"),
    "calibration": ({"stream": {"salt": "salt.csv", "salt_mass": "0.1 kg", "salt_background": "80 uS/cm", "salt_calibration": "sheet.csv", "salt_solution": "2 g/L", "salt_sample": "0.5 L"}}, "added [mL],conductivity [uS/cm]"),
    "float": ({"stream": {"float": "sheet.csv", "float_section": "section.csv"}}, "length [m],time [s]"),
    "section": ({"stream": {"float": "float.csv", "float_section": "sheet.csv"}}, "across [m],depth [m],station [m]"),
    "weir": ({"stream": {"weir": "sheet.csv"}, "weir": {"kind": "rectangular", "width": "0.4 m", "channel_width": "1.5 m", "crest_height": "0.3 m"}}, "head [mm]"),
    "flood marks": ({"stream": {"slope_area": "sheet.csv", "slope_area_manning": 0.05}}, "across [m],depth [m],station [m],level [m]"),
    "pipe prices": (PIPE | {"costs": {"pipes": "sheet.csv", "fixed": 1}}, "size,price [money/m]"),
    "maker's table": (PIPE | {"turbine": {"kind": "pelton", "jet_kind": "spear", "design_flow": "10 L/s", "efficiency_table": "sheet.csv"}}, "flow [%],efficiency [%]"),
}  # fmt: skip
# Sound sheets that stand beside the one in question.
SOUND = {
    "salt": "time [s],conductivity [uS/cm]\n"
    + "".join(f"{5 * number},{80 + (40 if 5 < number < 20 else 0)}\n" for number in range(30)),
    "float": "length [m],time [s]\n4,10\n4,11\n",
    "section": "across [m],depth [m]\n0,0\n1,0.3\n2,0\n",
}
WORDS = st.sampled_from(
    [
        "",
        "bucket",
        "x",
        "<script>",
        '"a, b"',
        '"a""b"',
        '"',
        "ж",
        "\u202eabc",
        "$x$",
        "=1+1",
        "yes",
        "no",
        "maybe",
        "steady",
        "fluctuates",
        "PVC-U PN 10 160 mm",
        "a" * 300,
    ]
)
NUMBERS = st.sampled_from(
    [
        "0",
        "1",
        "-1",
        "",
        "1e5",
        "1e17",
        "1e-17",
        "1e300",
        "1e999",
        "nan",
        "inf",
        "x",
        "3;5",
        "12 m",
        "٣",
        '"7"',
        "+4",
        " 5 ",
        "0x10",
        "1_0",
        "TRUE",
    ]
)
MEASURED = st.one_of(st.floats(0.001, 0.1), st.floats(1, 100)).map(lambda value: f"{value:.4g}")
DATES = st.sampled_from(
    [
        *(f"2024-01-{day:02d}" for day in range(1, 32)),
        "2024-13-01",
        "2024-1-1",
        "01.02.2024",
        "",
        "1066-01-01",
        "2199-12-31",
        "2024-01-01T05:00",
    ]
)


@st.composite
def sheets(draw, header):
    """A sheet with that header: rows that are nearly right or wild, and sometimes one character where it does not belong."""
    titles = header.split(",")
    wild = draw(st.sampled_from([0, 0, 0, 1]))
    in_order = draw(st.booleans())

    def cell(number, title):
        name = title.partition(" ")[0]
        if wild and draw(st.integers(0, 3)) == 0:
            return draw(st.one_of(WORDS, NUMBERS, DATES))
        if name in ("date", "time") and "[" not in title:
            day = f"2024-01-{number + 1:02d}" if in_order else draw(DATES)
            return day if name == "date" else f"{day} 07:40"
        if name == "jets":
            return str(draw(st.integers(0, 5)))
        if name in ("ice", "spilling", "method", "needle", "note", "size"):
            return (
                draw(WORDS)
                if wild
                else {
                    "method": "salt",
                    "needle": "steady",
                    "note": "seen",
                    "size": "PVC-U PN 10 160 mm",
                }.get(name, "yes")
            )
        if in_order and title == titles[0]:
            return str(5 * number)
        return draw(NUMBERS) if wild and draw(st.integers(0, 3)) == 0 else draw(MEASURED)

    rows = [
        ",".join(cell(number, title) for title in titles)
        for number in range(draw(st.sampled_from([0, 1, 2, 3, 7])))
    ]
    text = "\n".join([header, *rows]) + "\n"
    if draw(st.integers(0, 4)) == 0:
        at = draw(st.integers(0, len(text)))
        text = (
            text[:at]
            + draw(
                st.sampled_from(
                    [
                        "\0",
                        "\x1b",
                        '"',
                        ",",
                        "\n",
                        "\r",
                        ";",
                        "#",
                        "\u2028",
                        "é",
                        "[",
                        "]",
                        "\ufeff",
                        "\x1a",
                        "a" * 30_000,
                    ]
                )
            )
            + text[at:]
        )
    return text


@pytest.mark.parametrize("kind", SHEETS)
def test_any_sheet(tmp_path, kind):
    site, header = SHEETS[kind]
    small_study.write(tmp_path, {"site": {"name": "x"}} | site, **SOUND)
    seen = set()

    @fast(25)
    @given(text=sheets(header))
    def hold(text):
        (tmp_path / "sheet.csv").write_text(text, encoding="utf-8", newline="")
        seen.add(checked(tmp_path))

    hold()
    assert "mistakes" in seen


def test_a_run_tells_every_mistake_before_it_starts(tmp_path, capsys):
    small_study.write(
        tmp_path,
        prices="size,price [money/m]\nno such pipe,3\n",
        temperature="date,temperature [degC]\n2024-01-01,cold\n",
    )
    assert main(["run", str(tmp_path)]) == 2
    said = "".join(capsys.readouterr())
    assert (
        "prices.csv: line 2: 'no such pipe'" in said and "temperature.csv: line 2: 'cold'" in said
    )
    assert not (tmp_path / "reports").exists()
