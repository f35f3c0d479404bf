"""A section is handed what it needs, or says in words what the study lacks."""

import re

import pytest
import shared
import small_study

from hydrokit.report.display import Words
from hydrokit.report.pages.common import needs
from hydrokit.report.pages.lack_words import LACKING
from hydrokit.study.study import Study


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """A study of which only the name is known."""
    from hydrokit.study.opening import open_study

    folder = tmp_path_factory.mktemp("bare")
    (folder / "site.toml").write_text('[site]\nname = "Bare Creek"\n', encoding="utf-8")
    return open_study(folder)


def twice_the_head(study):
    return None if study.head is None else 2 * study.head.value


@needs(Study.profile, twice_the_head, Study.record, quiet=True)
def all_three(study, view, profile, twice_m, record):
    """A section."""
    return Words(f"{len(profile.distance_m)} {twice_m == 2 * study.head.value} {len(record)}")


def test_a_section_is_handed_what_it_needs_in_that_order():
    study = shared.small()
    assert all_three(study, study.view()).text == f"4 True {len(study.record)}"
    assert all_three.__doc__ == "A section." and not hasattr(all_three, "__wrapped__")


@pytest.mark.parametrize("how", [{"headline": True}, {}, {"quiet": True}])
def test_a_section_without_what_it_needs_is_not_called(bare, how):
    @needs(Study.record, **how)
    def section(study, view, record):
        raise AssertionError("called")

    told = {"headline": f"**Not known yet.** {LACKING['record']}", "quiet": ""}
    expected = told.get(next(iter(how), ""), "*Not shown: a daily record is lacking.*")
    assert section(bare, bare.view()).text == expected


def test_what_is_lacking_is_told_in_words(bare):
    """Never by the name that the code has for it."""
    told = {
        f"{module}.{name}": getattr(section(bare, bare.view()), "text", "")
        for module, name, section in small_study.page_sections()
    }
    named = re.compile(r"\*Not shown: \w+ is lacking|The study has no \w+\.")
    assert [where for where, text in told.items() if named.search(text)] == []
    assert any("is lacking" in text for text in told.values())


def test_no_section_names_a_property_as_the_code_does():
    """No section and no cell of a notebook tells a reader the name that a property has in the code."""
    import json
    import pathlib

    from hydrokit.report.pages.lack_words import BRIEFLY
    from hydrokit.study.questions import questions

    root = pathlib.Path(__file__).parents[2]
    asked = set()
    for notebook in (root / "notebooks").glob("*.ipynb"):
        for cell in json.loads(notebook.read_text(encoding="utf-8"))["cells"]:
            first = "".join(cell["source"]).partition("\n")[0]
            if first.startswith("%%needs "):
                names = (each.strip() for each in first.removeprefix("%%needs ").split(","))
                asked |= {each.split(".")[0] for each in names if each not in questions()}
    for module in (root / "hydrokit").rglob("*.py"):
        for name, rest in re.findall(
            r"@needs\(\s*Study\.(\w+)([^)]*)\)", module.read_text(encoding="utf-8")
        ):
            if "quiet=True" not in rest:
                asked.add(name)
    assert len(asked) > 20
    assert not {each for each in asked if each not in BRIEFLY}
