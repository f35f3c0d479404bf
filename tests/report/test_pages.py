"""Every section of every page, on every demo study: in the reader's units and the trade's words."""

import importlib
import inspect
import re
from pathlib import Path

import pytest
import shared
import small_study
from figure_checks import mistakes_of
from foreign_units import METRIC, US
from trade_words import wrong_words

from hydrokit.report.display import Cautions, Picture, Table, Words
from hydrokit.report.story_figure import plan_of_story, story_figures, strip
from hydrokit.study.keyed import plain
from hydrokit.study.opening import open_study

ROOT = Path(__file__).resolve().parents[2]
STUDIES = sorted(each.parent.name for each in ROOT.glob("studies/*/site.toml"))
# Each demo in its own units; the others when there is time.
QUICK = {
    ("alder-burn", "metric"),
    ("hazel-beck", "metric"),
    ("saltfern-creek", "us"),
}
BOTH_UNITS = {"card_sheet"}  # it hangs beside a gauge that may have the other unit
SECTIONS = [
    (module.__name__.removeprefix("hydrokit.report.pages."), name)
    for module in small_study.page_modules()
    for name in module.__all__
]


@pytest.fixture(scope="module")
def studies():
    return shared.demo


def text_of(shown):
    if isinstance(shown, Words):
        return shown.text
    if isinstance(shown, Picture):
        texts = [shown.alt]
        for axes in shown.figure.axes:
            texts += [
                axes.get_title(),
                axes.get_title("left"),
                axes.get_xlabel(),
                axes.get_ylabel(),
                *(each.get_text() for each in axes.texts),
            ]
            if axes.get_legend():
                texts += [each.get_text() for each in axes.get_legend().get_texts()]
        return "\n".join(texts)
    return repr(shown)


@pytest.mark.parametrize(
    "name, system",
    [
        pytest.param(name, system, marks=() if (name, system) in QUICK else pytest.mark.slow)
        for name in STUDIES
        for system in ("metric", "us")
    ],
)
@pytest.mark.parametrize(
    "module, section", SECTIONS, ids=[f"{module}.{section}" for module, section in SECTIONS]
)
def test_every_section_shows_something_in_the_readers_units(studies, module, section, name, system):
    function = getattr(importlib.import_module(f"hydrokit.report.pages.{module}"), section)
    study = studies(name)
    takes_study = "study" in inspect.signature(function).parameters
    shown = function(study, study.view(system)) if takes_study else function()
    assert isinstance(shown, (Words, Table, Picture, Cautions)), (
        f"{section} gives {type(shown).__name__}"
    )
    text = text_of(shown)
    assert (
        "nan" not in re.findall(r"\b\w+\b", text.lower())
        and "None" not in text
        and "inf " not in text
    )
    if takes_study and section not in BOTH_UNITS:
        # A pipe's trade name is a name, not a measurement, in whichever order its owner wrote it.
        text = re.sub(r"[\d./-]+ (mm|in) (?=PVC|PE|HDPE|steel)", "", text)
        text = re.sub(r"(PVC|PE|HDPE|steel)\S* (PN|SDR|Sch) [\d.]+ [\d./-]+ (mm|in)\b", "", text)
        wrong = (US if system == "metric" else METRIC).search(text)
        assert not wrong, (
            f"{section} shows {wrong[0]!r} to a {system} reader: {text[max(0, wrong.start() - 40) : wrong.end() + 20]!r}"
        )
    assert not wrong_words(text)
    if isinstance(shown, Picture):
        assert len(shown.alt) > 20 and re.search(r"\d", plain(shown.alt)), "words without a finding"
    if (
        isinstance(shown, Picture) and system == study.view().system
    ):  # the other system has the same drawing with other numbers
        data, metadata = shown._repr_mimebundle_()
        assert data["image/png"] and metadata["image/png"]["alt"] == plain(shown.alt)
        assert not mistakes_of(shown.figure)
    if section in ("headline",):
        assert 20 < len(text) and len(re.findall(r"[.!?](?:\s|$)", text)) <= 5


@pytest.mark.parametrize("name", STUDIES)
def test_figures_of_the_whole_story_are_drawn_for_their_printed_size(studies, name, monkeypatch):
    study = studies(name)
    for system in ("metric", "us"):
        view = study.view(system)
        shown = {"strip": strip(study, view), "beside": plan_of_story(study, view)}
        assert shown["strip"] is not None and (shown["beside"] is not None) == (
            study.sketch is not None
        )
        for of, picture in shown.items():
            if picture is not None:
                picture._repr_mimebundle_()  # lays it out
                assert not mistakes_of(picture.figure, of)
                assert not (US if system == "metric" else METRIC).search(text_of(picture))
                assert re.search(r"\d", plain(picture.alt))
    # in the browser's kernel too, where the start page runs a study
    monkeypatch.setattr("hydrokit.study.attended._in_browser", True)
    story = story_figures(study, study.view())
    assert 'alt="' in story["figure"] and ("plan" in story) == ("survey" in story)
    assert not re.search("[\ue000-\uf8ff]|[a-z]\\.[a-z]", "".join(story.values())), (
        "the key of a number is shown"
    )


def test_hostile_text_is_text(tmp_path):
    from hydrokit.report.pages import common

    (tmp_path / "site.toml").write_text(
        '[site]\nname = "<script>alert(1)</script> Ωμέγα"\nplace = "\\"a\\"\\n*b* — Ωμέγα"\n',
        encoding="utf-8",
    )
    study = open_study(tmp_path)
    shown = common.understood(study, study.view())._repr_html_()
    assert "<script>" not in shown and "&lt;script&gt;" in shown and "Ωμέγα" in shown


@pytest.mark.parametrize(
    "path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda path: path.stem
)
def test_notebooks_are_stripped_thin_and_parameterised(path):
    import json

    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    assert not any(cell.get("outputs") or cell.get("execution_count") for cell in cells)
    assert sum("parameters" in cell["metadata"].get("tags", []) for cell in cells) == 1
    for cell in cells:  # the sum by hand is the one that may be longer
        by_hand = any("workbook.agreement(" in line for line in cell["source"])
        assert cell["cell_type"] != "code" or len(cell["source"]) <= (20 if by_hand else 12), cell[
            "id"
        ]
    assert cells[0]["source"][0].startswith("# ")
