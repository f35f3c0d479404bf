"""Mistakes of a file and values far from usual are told in the units of its reader, to the last example."""

import foreign_units
import pytest
import small_study

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.study.opening import check_study

US = small_study.SITE | {"site": small_study.SITE["site"] | {"display": "us"}}
SLIPS = {
    "beyond its bounds": ({"intake": {"capacity": "90000 m^3/s"}}, {}, "0.16 gpm to 350000 ft³/s"),
    "too long": ({"cable": {"length": "900 km", "size": "16 mm2", "voltage": "230 V"}}, {}, "ft"),
    "no required key": ({"room": [{"walls": "30 m^2"}]}, {}, "for example name ="),
    "a column without a unit": ({}, {"flow": "date,flow\n2021-10-01,14\n"}, "flow [gpm]"),
    "a column of another name": (
        {},
        {"penstock": "chainage [m],hight [m]\n0,300\n150,262\n"},
        "elevation [ft]",
    ),
}


@pytest.mark.parametrize("change, files, told", SLIPS.values(), ids=SLIPS)
def test_a_reader_of_us_units_is_told_what_to_write_in_them(tmp_path, capsys, change, files, told):
    small_study.write(tmp_path / "us", US | change, **files)
    with pytest.raises(InputError) as refused:
        check_study(tmp_path / "us")
    assert told in str(refused.value)
    assert cli.main(["check", str(tmp_path / "us")]) == 2
    assert told in capsys.readouterr().out
    small_study.write(tmp_path / "metric", small_study.SITE | change, **files)
    with pytest.raises(InputError) as refused:
        check_study(tmp_path / "metric")
    assert not foreign_units.US.search(str(refused.value))


def test_a_value_far_from_usual_is_told_with_what_is_usual_in_the_readers_units(tmp_path):
    study = small_study.changed(
        tmp_path, site={"display": "us"}, room=[{"name": "hall", "volume": "3 m^3", "ua": "40 W/K"}]
    )
    told = [study.view().told(each) for each in study.unusual_findings]
    assert told == [
        "it is 793 gal; 180 ft³ to 110000 ft³ is usual (common practice: it is the air of one room): check the number and its unit"
    ]
