"""``hydrokit explain``: each key in plain words, and where a misplaced one belongs."""

import re
import tomllib

import pytest

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.report.glossary import terms
from hydrokit.site.explain import UNITS_IN_WORDS, explained
from hydrokit.site.folders import checkout
from hydrokit.site.places import places
from hydrokit.site.schema import LISTS, PART_TYPES, SECTIONS, TYPES
from hydrokit.site.site_file import read_site_file


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_key_is_explained_with_an_example_that_can_be_copied(units):
    for place in places():
        lines = explained(f"{place.part or place.section}.{place.name}", units)
        text = "\n".join(lines)
        assert place.heading in lines[0] and "Write: " in text and "Left out: " in text, text
        example = [each for each in lines if each.startswith("  Example: ")]
        for each in example:
            assert place.name in tomllib.loads(each.removeprefix("  Example: "))


def test_every_section_lists_its_keys():
    for name, keys in (*SECTIONS.items(), *LISTS.items()):
        lines = explained(name)
        text = "\n".join(lines)
        assert all(f"\n  {key}: " in text for key in keys)
        assert not re.search(r"\n|  |[`:]\w", lines[0]), lines[0]


def test_every_unit_has_words():
    units = {place.key.unit for place in places()} - {""}
    assert units <= UNITS_IN_WORDS.keys()
    assert not UNITS_IN_WORDS.keys() - units, "words for a unit no key has"


def test_every_page_that_is_named_is_a_notebook():
    folder = checkout() / "notebooks"
    for kind in (*TYPES.values(), *PART_TYPES.values()):
        assert not kind.page or (folder / f"{kind.page}.ipynb").is_file()


@pytest.mark.parametrize(
    "asked, says",
    [
        ("jet_kind", "Left out: conical nozzle"),
        ("[turbine] jet_kind", "one of conical nozzle, drilled plate"),
        ("penstock.pipe.size", "[[penstock.pipe]] size: "),
        ("[[penstock.pipe]] length", "[[penstock.pipe]] length: "),
        ("loads need", "[loads] demand: "),
        ("doubt", "[uncertainty]"),
        ("channel.slope", '[[part]] of kind "channel" slope'),
        ("jets_open", "a whole number"),
        ("staff gauge", terms()["staff gauge"].meaning),
    ],
)
def test_the_verb_tells(asked, says, capsys):
    assert cli.main(["explain", *asked.split()]) == 0
    assert says in capsys.readouterr().out


def test_examples_come_in_the_readers_units(capsys):
    assert cli.main(["explain", "jet_diameter", "--units", "us"]) == 0
    assert "0.5 in" in capsys.readouterr().out
    assert cli.main(["explain", "altitude", "--units", "us"]) == 0
    assert " ft" in capsys.readouterr().out


@pytest.mark.parametrize(
    "asked, says",
    [
        ("wintr", "did you mean 'winter'"),
        ("turbine.winter", "'winter' belongs under [site]"),
        ("qqqq", "name a key or a section"),
    ],
)
def test_what_is_no_key_is_told_what_is_near(asked, says, capsys):
    assert cli.main(["explain", asked]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.parametrize(
    "text, says",
    [
        ("[turbine]\nkind = 'pelton'\nwinter = [1]\n", "'winter' belongs under [site]"),
        ("[penstock]\nsize = 'x'\n", "'size' belongs under [[penstock.pipe]]"),
        ("[penstock]\nhed = '3 m'\n", "did you mean 'head'"),
        ("[sizing]\nflow = '3 L/s'\n", "did you mean 'flows'? ('flow' belongs under"),
        ("[cable]\nqqqq = 1\n", "known are length, size"),
    ],
)
def test_a_key_under_the_wrong_heading_is_told_the_right_one(tmp_path, text, says):
    (tmp_path / "site.toml").write_text('[site]\nname = "x"\n' + text, encoding="utf-8")
    with pytest.raises(InputError) as bad:
        read_site_file(tmp_path / "site.toml")
    assert says in str(bad.value)
