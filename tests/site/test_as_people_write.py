"""Site files as people write them: curly quotes, signs of money; and all mistakes of a study at once."""

import pytest
import small_study

from hydrokit.cli import main
from hydrokit.errors import InputError
from hydrokit.files import read_toml
from hydrokit.study.opening import check_study, open_study
from hydrokit.tables import load
from hydrokit.units import Q_, parse_unit


def test_curly_quotes_of_an_office_program_are_quotes(tmp_path):
    plain = small_study.write(tmp_path / "plain")
    text = (plain / "site.toml").read_text(encoding="utf-8")
    lines = [
        "[site]",
        "name = “Small Creek”",
        "altitude = ‘300 m’",
        "[sizing]",
        "flows = [“8 L/s”, “12 L/s”]",
    ]
    path = tmp_path / "site.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    assert read_toml(path) == {
        "site": {"name": "Small Creek", "altitude": "300 m"},
        "sizing": {"flows": ["8 L/s", "12 L/s"]},
    }
    # Within straight quotes they are text, and stay.
    path.write_text('[site]\nname = "the “wet” creek"\n', encoding="utf-8")
    assert read_toml(path)["site"]["name"] == "the “wet” creek"
    path.write_text('[site]\nname = "half”\n', encoding="utf-8")
    with pytest.raises(InputError, match="line 2"):
        read_toml(path)
    assert text


@pytest.mark.parametrize("sign", ["$", "₹", "€", "£"])
def test_signs_of_money(tmp_path, sign):
    costs = small_study.SITE["costs"]
    signed = costs | {
        "fixed": f"{sign}5000",
        "per_power": f"1000 {sign} per kW",
        "value": f"{sign} 0.2 per kWh",
    }
    plain = small_study.changed(tmp_path / "plain", site={"currency": sign})
    other = small_study.changed(tmp_path / "signed", site={"currency": sign}, costs=signed)
    assert [other.site.costs[key] for key in signed] == [plain.site.costs[key] for key in signed]


def test_a_unit_in_brackets_is_divided_by_as_a_whole():
    """1 mg/L for each uS/cm is 0.001 kg/m3 for 1e-4 S/m: 10 kg/m3 for each S/m."""
    unit = parse_unit("mg/L/(uS/cm)")
    assert Q_(1.0, "mg/L/(uS/cm)").m_as(parse_unit("kg/m^3/(S/m)")) == pytest.approx(10.0)
    assert unit == parse_unit("mg/L") / parse_unit("uS/cm")


def test_mistakes_of_the_site_file_and_of_all_its_sheets_are_told_together(tmp_path, capsys):
    site = {
        name: dict(body) if isinstance(body, dict) else body
        for name, body in small_study.SITE.items()
    }
    site["site"]["altitude"] = "300"
    site["turbine"]["jetts"] = 3
    folder = small_study.write(
        tmp_path,
        site,
        flow=small_study.FILES["flow.csv"].replace("2021-10-05", "2021-10-04"),
        penstock="chainage [m],elevation [m]\n0,300\n2,high\n",
        prices="size,price [money/m]\nPVC-U PN 10 125 mm,cheap\n",
    )
    with pytest.raises(InputError) as refused:
        check_study(folder)
    told = "\n".join(map(str, refused.value.mistakes))
    for part in (
        "[site] altitude",
        "'jetts'",
        "flow.csv: line 6",
        "penstock.csv: line 3",
        "prices.csv: line 2",
    ):
        assert part in told, told
    assert len(refused.value.mistakes) == 5
    assert main(["check", str(folder)]) == 2 and "5 mistakes" in capsys.readouterr().out


def test_a_site_file_that_is_no_toml_is_told_alone(tmp_path):
    folder = small_study.write(tmp_path, "[site\nname = 3\n")
    with pytest.raises(InputError) as refused:
        check_study(folder)
    assert len(refused.value.mistakes) == 1
    with pytest.raises(InputError):
        open_study(folder)


# Thread: outside diameter [in], threads an inch, drill for its tap. Common practice of workshops.
TAPS = [("1/4-20", 0.25, 20, "#7"), ("5/16-18", 0.3125, 18, "drill F"), ("10-32", 0.19, 32, "#21"), ("10-24", 0.19, 24, "#25"), ("8-32", 0.164, 32, "#29"), ("6-32", 0.138, 32, "#36"), ("4-40", 0.112, 40, "#43"), ("1/4-28", 0.25, 28, "#3"), ("5/16-24", 0.3125, 24, "drill I"), ("3/8-24", 0.375, 24, "drill Q"), ("7/16-14", 0.4375, 14, "drill U")]  # fmt: skip


@pytest.mark.parametrize("thread, outside, pitch, drill", TAPS)
def test_drills_by_number_and_letter_fit_the_threads_they_are_used_for(
    tmp_path, thread, outside, pitch, drill
):
    """A tap drill leaves 65 to 80 per cent of a full thread: d = D - 0.01299 % / n (common practice)."""
    study = small_study.changed(tmp_path, turbine={"jet_diameter": drill})
    (bore_m,) = study.site.turbine.jet_diameter
    bore = bore_m / 0.0254
    assert 65 <= (outside - bore) * pitch / 0.01299 <= 80, thread


def test_drills_fall_from_number_to_number_and_e_is_a_quarter_inch(tmp_path):
    sizes = load("drills")
    numbered = [
        size for name, size in zip(sizes["name"], sizes["diameter_in"]) if name.startswith("number")
    ]
    lettered = [
        size for name, size in zip(sizes["name"], sizes["diameter_in"]) if name.startswith("letter")
    ]
    assert len(numbered) == 60 and len(lettered) == 26
    assert numbered == sorted(numbered, reverse=True) and lettered == sorted(lettered)
    assert numbered[0] < lettered[0] and lettered[4] == 0.25
    for bore in ("#99", "drill ÄF"):
        with pytest.raises(InputError, match="is not a number with a unit"):
            small_study.changed(tmp_path / str(len(bore)), turbine={"jet_diameter": bore})
    plain = small_study.changed(tmp_path / "fraction", turbine={"jet_diameter": "7/16 in"})
    assert plain.site.turbine.jet_diameter == pytest.approx((0.0111125,))


def test_mixed_nozzles_are_a_list_in_their_order(tmp_path):
    turbine = small_study.SITE["turbine"] | {"jet_diameter": ["11 mm", "7/16"]}
    study = small_study.changed(tmp_path, turbine=turbine | {"jets": 2})
    assert study.site.turbine.jet_diameter == pytest.approx((0.011, 7 / 16 * 0.0254))


def test_a_bore_is_written_as_its_drill_is_stamped(tmp_path):
    turbine = small_study.SITE["turbine"]
    for told, inch in (("7/16", 7 / 16), ("31/64", 31 / 64), ("1 1/8", 1.125), ("#7", 0.201)):
        study = small_study.changed(
            tmp_path / told.replace("/", "_"), turbine=turbine | {"jet_diameter": told}
        )
        assert study.site.turbine.jet_diameter == pytest.approx((inch * 0.0254,))


def test_a_word_in_quotes_is_yes_or_no(tmp_path):
    heard = small_study.SITE["site"]
    study = small_study.changed(
        tmp_path,
        site=heard | {"stage_of_work": "existing"},
        reading=[{"jets": 2, "pressure": "3.2 bar", "spilling": "yes"}],
    )
    assert study.site.reading[0].spilling is True


@pytest.mark.parametrize(
    ("section", "lines"),
    [
        ({"costs": {"value": "0,21 € per kWh"}}, ('"0,21 € per kWh"', 'write "0.21 € per kWh"')),
        ({"rights": {"residual": "5 L/s"}}, ('rule = "fixed"', 'flow = "5 L/s"')),
    ],
)
def test_a_refusal_holds_what_was_written_and_what_to_write(tmp_path, section, lines):
    with pytest.raises(InputError) as error:
        small_study.changed(tmp_path, **section)
    assert all(each in str(error.value) for each in lines)


def test_a_reading_without_its_day_stands_beside_those_that_have_one(tmp_path):
    """A pandas that holds an empty date among others as a NaT of its own once stopped the check."""
    (tmp_path / "site.toml").write_text('[site]\nname = "x"\n[readings]\nfile = "r.csv"\n')
    (tmp_path / "r.csv").write_text("date,jets,pressure [bar]\n2024-03-01,1,3.2\n,1,3.1\n")
    read = open_study(tmp_path).readings
    assert [str(each) for each in read.date] == ["2024-03-01T00:00:00", "NaT"]
