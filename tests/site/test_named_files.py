"""Every file that a site file names is read by a check; a mistake in one is never a mere finding."""

import copy
import os
import tomllib

import pytest
import small_study
import toy

from hydrokit.errors import InputError
from hydrokit.runner import endings, run
from hydrokit.site.schema import SECTIONS
from hydrokit.study.opening import check_study
from hydrokit.study.telling import attempted

FILE_KEYS = [
    (section, key)
    for section, keys in SECTIONS.items()
    for key, about in keys.items()
    if about.kind == "file"
]
NOT_THERE = {
    "not there": "nothere.csv", "garbage": "garbage.csv", "bytes": "bytes.csv", "empty": "empty.csv", "a page": "page.html", "above": "../../../x.csv", "another's": "../other.csv",
    "address": "https://example.org/x.csv", "device": "/dev/zero", "link to a device": "zero.csv", "link out": "passwd.csv", "pipe": "pipe.csv", "folder": "folder", "itself": "loop.csv", "nothing": "",
    "vast": "vast.csv",
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A study with files about that are no sheets."""
    folder = small_study.write(tmp_path_factory.mktemp("studies") / "creek")
    (folder / "garbage.csv").write_text("hello, world\nthis is, no sheet\n", encoding="utf-8")
    (folder / "bytes.csv").write_bytes(bytes(range(256)))
    (folder / "empty.csv").write_text("", encoding="utf-8")
    (folder / "page.html").write_text("<html><b>no</b></html>\n", encoding="utf-8")
    (folder.parent / "other.csv").write_text("date,flow [L/s]\n2024-01-01,3\n", encoding="utf-8")
    (folder / "folder").mkdir()
    with open(folder / "vast.csv", "wb") as handle:
        handle.truncate(10**12)  # a file with a hole: it takes no room here
    for name, target in (
        ("zero.csv", "/dev/zero"),
        ("passwd.csv", "/etc/passwd"),
        ("loop.csv", "loop.csv"),
    ):
        (folder / name).symlink_to(target)
    os.mkfifo(folder / "pipe.csv")
    return folder


def named(section, key, value):
    site = copy.deepcopy(small_study.SITE)
    site.setdefault(section, {})[key] = value
    return site


@pytest.mark.skipif(os.name == "nt", reason="links and pipes are made differently there")
@pytest.mark.parametrize(
    "kinds",
    [
        ("not there", "garbage", "above", "device"),
        pytest.param(tuple(NOT_THERE), marks=pytest.mark.slow),
    ],
    ids=["usual", "every"],
)
@pytest.mark.parametrize("section, key", FILE_KEYS, ids=lambda word: word)
def test_a_file_that_is_none_is_told_by_check(folder, section, key, kinds):
    for name in (NOT_THERE[kind] for kind in kinds):
        small_study.write(folder, named(section, key, name))
        with pytest.raises(InputError) as told:
            check_study(folder)
        assert f"did you mean '{name}'" not in str(told.value)
        assert any(
            f"[{section}] {key}" in str(each) or (name and name in each.file)
            for each in told.value.mistakes
        ), (name, str(told.value))


def test_a_sound_table_of_the_maker_is_no_mistake(tmp_path):
    small_study.write(
        tmp_path,
        named("turbine", "efficiency_table", "maker.csv"),
        maker="flow [%],efficiency [%]\n20,40\n60,75\n100,80\n",
    )
    assert check_study(tmp_path)


def test_a_mistake_of_the_input_is_no_finding():
    class Plant:
        refused = {}

        @attempted
        def power(self):
            raise InputError([])

    Plant.power.__set_name__(Plant, "power")
    with pytest.raises(InputError):
        _ = Plant().power
    assert Plant.refused == {}


def test_records_may_be_kept_elsewhere_behind_a_link(tmp_path):
    study = small_study.write(
        tmp_path / "work" / "studies" / "creek", named("stream", "record", "../../data/flow.csv")
    )
    kept = tmp_path / "disk" / "records"
    kept.mkdir(parents=True)
    (study / "flow.csv").rename(kept / "flow.csv")
    (tmp_path / "work" / "data").symlink_to(kept, target_is_directory=True)
    assert check_study(study)


@pytest.mark.skipif(os.name == "nt", reason="links are made differently there")
def test_a_folder_of_data_that_leads_to_itself_is_none(tmp_path):
    study = small_study.write(tmp_path / "studies" / "creek")
    (tmp_path / "data").symlink_to("data")
    assert check_study(study)
    small_study.write(study, named("stream", "record", "../../data/flow.csv"))
    with pytest.raises(InputError, match="is a link that leads nowhere"):
        check_study(study)


@pytest.fixture
def quick_start(monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)


@pytest.mark.slow
def test_numbers_that_vanish_are_not_accepted_unless_told(tmp_path, quick_start, capsys):
    study = toy.study(tmp_path / "creek")
    accepted = "[year]\nenergy_kwh = 12000.0\nmonths = [1.5, 2.5, 3.5]\n[site]\nname = 'Toy creek'\njets = 4\n[wires]\ndrop = 0.1\n"
    (study / "results.toml").write_text(accepted, encoding="utf-8")
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1")
    outcome = run.run_study(study, accept=True, folder=nbs, open_study=toy.open_toy)
    assert outcome.vanished == ("year.months[3]", "wires.drop") and not outcome.accepted
    assert (study / "results.toml").read_text(encoding="utf-8") == accepted
    assert outcome.index.is_file()
    endings.tell_outcome("creek", outcome)
    assert (
        "Not accepted: 2 accepted numbers would vanish (year.months[3], wires.drop)"
        in capsys.readouterr().err
    )
    assert run.run_study(
        study, accept=True, gone=True, folder=nbs, open_study=toy.open_toy
    ).accepted
    now = tomllib.loads((study / "results.toml").read_text(encoding="utf-8"))
    assert "wires" not in now and len(now["year"]["months"]) == 2
