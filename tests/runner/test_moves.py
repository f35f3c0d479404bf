"""What moved against the accepted results, in words; the acceptances before, and going back to them."""

import tomllib

import pytest
import small_study
import toy

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.runner import run
from hydrokit.runner.history import KEPT, accepted_with, earlier, gone_back
from hydrokit.runner.moves import what_moved
from hydrokit.runner.results import to_toml
from hydrokit.sentences import Reader
from hydrokit.site.moved_keys import keys_of, told_changes, told_files
from hydrokit.study.headlines import HEADLINES, headline
from hydrokit.study.opening import open_study

SITE = {
    "penstock": {
        "roughness": "0.01 mm",
        "pipe": [{"size": "PVC-U PN 10 125 mm", "length": "380 m"}],
    },
    "turbine": {"jets": 3, "jet_kind": "spear"},
    "stream": {"record": "flow.csv"},
    "upgrade": [{"name": "valve", "cost": 900}, {"name": "pipe", "cost": 4000}],
}


def changed(**sections):
    return keys_of(SITE | sections)


# ---------------------------------------------------------------- inputs


def test_a_changed_key_is_told_with_what_it_says_in_the_readers_units():
    pipe = [{"size": "PVC-U PN 10 125 mm", "length": "410 m"}]
    new = changed(penstock={"roughness": "0.01 mm", "pipe": pipe})
    assert told_changes(keys_of(SITE), new) == [
        "length of this stretch ([[penstock.pipe]] length): 380 m → 410 m"
    ]
    assert told_changes(keys_of(SITE), new, Reader("us")) == [
        "length of this stretch ([[penstock.pipe]] length): 1,247 ft → 1,345 ft"
    ]
    fewer = changed(turbine={"jet_kind": "spear"})
    assert told_changes(keys_of(SITE), fewer) == ["number of jets ([turbine] jets): 3 → not given"]


def test_entries_are_known_by_their_names_and_new_ones_told_whole():
    upgrades = [
        {"name": "notch", "cost": 50, "what": "mill it"},
        {"name": "valve", "cost": 950},
        {"name": "pipe", "cost": 4000},
    ]
    told = told_changes(keys_of(SITE), changed(upgrade=upgrades))
    assert told[0] == "upgrade[notch]: new"
    assert len(told) == 2 and told[1].endswith("([[upgrade]] valve cost): 900 → 950")
    assert told_changes(changed(upgrade=upgrades), keys_of(SITE))[0] == "upgrade[notch]: taken out"


def test_a_changed_file_is_told_by_what_it_is_named_for():
    old = {"site.toml": "a", "flow.csv": "b", "more.csv": "c"}
    new = {"site.toml": "z", "flow.csv": "d", "other.csv": "e"}
    assert told_files(old, new, keys_of(SITE)) == [
        "flow.csv ([stream] record) has changed",
        "more.csv is gone",
        "other.csv is new",
    ]


def results(time="now", kwh=25000.0, length="380 m", hashed="a", version="1"):
    return {
        "run": {
            "hydrokit": version,
            "time": time,
            "inputs": {"site.toml": hashed, "flow.csv": "b"},
            "keys": {"penstock.pipe.length": length},
        },
        "uncertainty": {"annual_p50_kwh": kwh},
        "energy": {"monthly_kwh": [100.0, kwh / 12]},
    }


def test_inputs_come_first_then_the_numbers_in_words():
    told = what_moved(results("then"), results(kwh=24000.0, length="410 m", version="2"), Reader())
    assert told.inputs == (
        "length of this stretch ([[penstock.pipe]] length): 380 m → 410 m",
        "hydrokit: 1 → 2",
    )
    assert told.numbers == (
        "energy of a median year (P50): 25,000 kWh → 24,000 kWh (-4 %)",
        "net energy of a mean February: 2,080 kWh → 2,000 kWh (-4 %)",
    )
    assert told.since == "then"
    near = what_moved(results(), results(kwh=25002.0), Reader())
    assert near.numbers[0].startswith("energy of a median year (P50): 25,000 kWh → 25,002 kWh")
    assert not what_moved(results("then"), results("later"), Reader()).lines


def test_results_accepted_before_keys_were_kept_are_read():
    old = results()
    del old["run"]["keys"]
    told = what_moved(old, results(hashed="other"), Reader())
    assert told.inputs == (
        "the site file: changed; which of its keys is told once these results are accepted",
    )
    assert earlier(accepted_with(old, results(kwh=1.0)))[0]["was"] == {}


def test_every_headline_number_has_words(tmp_path):
    study = open_study(small_study.write(tmp_path))
    names = [f"{table}.{name}" for table, of in study.results().items() for name in of]
    assert len(names) > 20 and [each for each in names if each not in HEADLINES] == []
    assert headline("size.nothing").words == "size.nothing"


# ---------------------------------------------------------------- history


def test_history_keeps_five_and_goes_back_one_by_one():
    steps = [results(f"day {n}", 1200.0 * n, f"{n} m", f"hash {n}") for n in range(1, 9)]
    accepted = None
    for each in steps:
        accepted = tomllib.loads(to_toml(accepted_with(accepted, each)))
    past = earlier(accepted)
    assert [each["time"] for each in past] == ["day 7", "day 6", "day 5", "day 4", "day 3"]
    assert len(past) == KEPT and past[0]["was"] == {"penstock.pipe.length": "7 m"}
    assert past[0]["files"] == {"site.toml": "hash 7"} and len(past[0]["inputs_hash"]) == 64
    for step in (7, 6, 5, 4, 3):
        accepted = tomllib.loads(to_toml(gone_back(accepted)))
        assert {k: v for k, v in accepted.items() if k != "history"} == steps[step - 1]
    assert gone_back(accepted) is None


def test_accepting_the_same_again_adds_nothing():
    first = accepted_with(results("a"), results("b", kwh=1.0))
    assert earlier(accepted_with(first, results("c", kwh=1.0))) == earlier(first)


def test_a_history_that_was_spoilt_is_left_out():
    accepted = results() | {
        "history": {"1": {"results": "none"}, "x": 3, "2": {"results": {"a": {"b": 1}}}}
    }
    assert [each["results"] for each in earlier(accepted)] == [{"a": {"b": 1}}]
    assert earlier(results() | {"history": "mine"}) == []


def test_accept_then_undo_from_the_command_line(tmp_path, monkeypatch, capsys):
    home = tmp_path / "creek"
    home.mkdir()
    (home / "site.toml").write_text("[site]\nname = 'a'\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert cli.main(["run", "--undo", "creek"]) == 2
    assert "goes with --accept" in capsys.readouterr().err
    assert cli.main(["run", "--accept", "--undo", "creek"]) == 2
    assert "no accepted results yet" in capsys.readouterr().err
    before = to_toml(results("first"))
    file = home / "results.toml"
    file.write_text(to_toml(accepted_with(results("first"), results("second", 1.0, "9 m"))))
    assert cli.main(["run", "--accept", "--undo", "creek"]) == 0
    assert "again those of first; none before them is kept" in capsys.readouterr().out
    assert file.read_text(encoding="utf-8") == before
    assert cli.main(["run", "--accept", "--undo", "creek"]) == 2
    assert "nothing is known of an acceptance before the last" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == before
    assert [each.name for each in home.iterdir() if each.name.startswith(".reports")] == []


@pytest.mark.slow
def test_a_run_says_what_moved_on_its_page_and_accepting_keeps_what_was(tmp_path):
    study = toy.study(tmp_path / "creek")
    folder = toy.notebooks(tmp_path / "nb", _01_one="1")
    old = "[run]\ntime = 'then'\nhydrokit = '0.0'\n[run.keys]\nname = 'Old creek'\n[run.inputs]\n\n[year]\nenergy_kwh = 12000.0\n"
    (study / "results.toml").write_text(old, encoding="utf-8")
    outcome = run.run_study(study, folder=folder, open_study=toy.open_toy, accept=True)
    assert outcome.told.inputs[0] == "name: Old creek → Toy creek" and outcome.accepted
    page = outcome.index.read_text(encoding="utf-8")
    assert "What moved since the accepted results of then" in page
    assert (
        "name: Old creek → Toy creek" in page
        and "year.energy_kwh: 12,000 → 12,300 (+2.9 %)" in page
    )
    kept = tomllib.loads((study / "results.toml").read_text(encoding="utf-8"))
    assert kept["run"]["keys"] == {"name": "Toy creek"}
    assert kept["history"]["1"]["results"]["year"] == {"energy_kwh": 12000.0}
    again = run.run_study(study, folder=folder, open_study=toy.open_toy)
    assert again.moves == () and "What moved since" not in again.index.read_text(encoding="utf-8")
    run.undo_acceptance(study)
    assert tomllib.loads((study / "results.toml").read_text())["year"]["energy_kwh"] == 12000.0
    with pytest.raises(InputError, match="before the last"):
        run.undo_acceptance(study)
