"""Notebooks that are opened on a study, and saved as they were."""

import asyncio
import shutil
from pathlib import Path

import nbformat
import pytest

from hydrokit.lab.contents import StudyContents, study_of

ROOT = Path(__file__).resolve().parents[2]
NAME = "05_annual_energy.ipynb"


@pytest.fixture
def lab(tmp_path):
    shutil.copy(ROOT / "notebooks" / NAME, tmp_path)
    shutil.copy(
        ROOT
        / "notebooks"
        / "lessons"
        / next(
            iter(sorted(each.name for each in (ROOT / "notebooks" / "lessons").glob("*.ipynb")))
        ),
        tmp_path / "lesson.ipynb",
    )
    return StudyContents(root_dir=str(tmp_path), study="studies/mine")


def opened(lab, name=NAME):
    return asyncio.run(lab.get(name))


def test_a_notebook_is_opened_on_the_study(lab):
    model = opened(lab)
    assert study_of(model["content"]) == "studies/mine"
    (cell,) = [
        each
        for each in model["content"]["cells"]
        if "parameters" in each["metadata"].get("tags", [])
    ]
    assert cell["source"].splitlines()[0] == 'study = "studies/mine"'
    assert cell["source"].splitlines()[1].startswith("display = ")


def test_it_is_saved_as_it_was(lab, tmp_path):
    before = study_of(nbformat.read(tmp_path / NAME, as_version=4))
    model = opened(lab)
    asyncio.run(lab.save({"type": "notebook", "format": "json", "content": model["content"]}, NAME))
    assert study_of(nbformat.read(tmp_path / NAME, as_version=4)) == before != "studies/mine"


def test_another_study_that_a_person_writes_is_kept(lab, tmp_path):
    model = opened(lab)
    for cell in model["content"]["cells"]:
        if "parameters" in cell["metadata"].get("tags", []):
            cell["source"] = 'study = "studies/theirs"\ndisplay = ""'
    asyncio.run(lab.save({"type": "notebook", "format": "json", "content": model["content"]}, NAME))
    assert study_of(nbformat.read(tmp_path / NAME, as_version=4)) == "studies/theirs"


def test_what_has_no_study_is_left_alone(lab):
    assert study_of(opened(lab, "lesson.ipynb")["content"]) is None


def test_without_a_study_nothing_is_changed(tmp_path):
    shutil.copy(ROOT / "notebooks" / NAME, tmp_path)
    model = opened(StudyContents(root_dir=str(tmp_path)))
    assert study_of(model["content"]) == study_of(nbformat.read(tmp_path / NAME, as_version=4))
