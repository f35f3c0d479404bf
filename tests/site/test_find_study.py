"""A path leads to the study that stands there, and never to one that lies elsewhere."""

import shutil
from pathlib import Path

import pytest

from hydrokit.errors import InputError
from hydrokit.site.folders import find_study

ROOT = Path(__file__).resolve().parents[2]
DEMO = "studies/alder-burn"


def test_within_the_checkout_from_every_folder(monkeypatch):
    for folder in (ROOT, ROOT / "notebooks", ROOT / "notebooks" / "lessons"):
        monkeypatch.chdir(folder)
        assert find_study(DEMO) == ROOT / DEMO


def test_from_a_foreign_folder_the_checkouts_study_is_not_taken(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="no such study"):
        find_study(DEMO)


def test_nor_that_of_the_folder_above(monkeypatch, tmp_path):
    shutil.copytree(ROOT / "tests" / "data" / "black-earth", tmp_path / "studies" / "creek")
    (tmp_path / "below").mkdir()
    monkeypatch.chdir(tmp_path / "below")
    with pytest.raises(InputError, match="no such study"):
        find_study("studies/creek")


def test_from_a_folder_of_notebooks_it_is(monkeypatch, tmp_path):
    shutil.copytree(ROOT / "tests" / "data" / "black-earth", tmp_path / "studies" / "creek")
    (tmp_path / "notebooks").mkdir()
    monkeypatch.chdir(tmp_path / "notebooks")
    assert find_study("studies/creek") == tmp_path / "studies" / "creek"
    with pytest.raises(InputError, match="did you mean 'creek'"):
        find_study("studies/crek")
    with pytest.raises(InputError, match="did you mean 'studies/creek'"):
        find_study("creek")
