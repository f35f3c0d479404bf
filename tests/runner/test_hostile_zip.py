"""A study from a stranger, with modules, links, notebooks and names that mean harm, worked as anybody would.

Nothing of it is run, nothing outside its folder changes, nothing odd is printed; and a study that is
killed or spoilt many times loses no file of its owner's.
"""

import copy
import json
import os
import random
import re
import string
import time

import pytest
import small_study
import toy
from test_nothing_run import booby_trap, in_a_shell, marks
from test_run import leftovers, start

from hydrokit.errors import HydrokitError
from hydrokit.site import folders
from hydrokit.study.opening import check_study

pytestmark = pytest.mark.skipif(
    os.name == "nt", reason="links and such names are made differently there"
)

TURNED = "Alder\u202e Burn\u2066\u200b https://example.org/\n=1+1 <script>alert(1)</script>"
CREEKS = "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\n"


def unpacked(home, outside, mark):
    """What the zip leaves behind: two studies side by side, and everything that could do harm about them."""
    site = copy.deepcopy(small_study.SITE)
    site["site"] |= {"name": TURNED, "place": TURNED, "prepared_by": TURNED}
    site["upgrade"][0]["name"] = TURNED
    site["part"] = [{"kind": "inclined screen", "name": TURNED, "rating": "14 L/s"}]
    studies = home / "studies"
    creek = small_study.write(studies / "creek", site)
    small_study.write(studies / "other\u202e\x1b[31m\r\nx", site)
    (studies / "creeks.csv").write_text(
        CREEKS + '"=HYPERLINK(""http://example.org"")", 46, 380, 30, creek/flow.csv, 38, 20, 10\n',
        encoding="utf-8",
    )
    for folder in (home, studies, creek):
        booby_trap(folder, mark)
        (folder / "notebooks").mkdir()
        toy.notebook(
            folder / "notebooks" / "01_stream_gauging.ipynb",
            toy.code(f"import os; os.makedirs({str(mark)!r})"),
        )
        (folder / ".hydrokit.json").write_text(
            json.dumps(
                {"files": {name: {"sha256": "0" * 64} for name in ("site.toml", "flow.csv")}}
            ),
            encoding="utf-8",
        )
    (home / "hydrokit").mkdir()
    (home / "hydrokit" / "__init__.py").write_text(
        f"import os; os.makedirs({str(mark)!r})", encoding="utf-8"
    )
    for number, name in enumerate(
        (".reports-old-1", ".reports-building-2", ".reports-building-results.toml-3")
    ):
        os.symlink(outside / f"folder{number}", creek / name)
    for name in ("results.toml", ".hydrokit-lock"):
        os.symlink(outside / "letter.txt", creek / name)
    return creek


@pytest.mark.slow
@pytest.mark.parametrize("reports", ["none", "a link", "with links"])
def test_a_hostile_zip_changes_nothing_and_runs_nothing(tmp_path, reports):
    mark, outside, home, person = (
        tmp_path / name for name in ("marks", "outside", "zip", "person")
    )
    for each in (outside, person):
        each.mkdir()
    for number in range(3):
        (outside / f"folder{number}").mkdir()
        (outside / f"folder{number}" / "photo.jpg").write_bytes(b"dear")
    (outside / "letter.txt").write_text("[year]\nenergy_kwh = 1.0\n", encoding="utf-8")
    creek = unpacked(home, outside, mark)
    other = next(
        each.name for each in (home / "studies").iterdir() if each.name.startswith("other")
    )
    if reports == "none":
        (creek / ".hydrokit-lock").unlink()  # without it a run goes through
    elif reports == "a link":
        os.symlink(outside / "folder0", creek / "reports")
    elif reports == "with links":
        (creek / "reports").mkdir()
        for name in (
            "index.html",
            "parts.csv",
            "comparison.html",
            "comparison.csv",
            ".hydrokit.json",
            "01_stream_gauging.html",
        ):
            os.symlink(outside / "letter.txt", creek / "reports" / name)
        os.symlink(outside / "folder1", creek / "reports" / "album")
    before = toy.all_bytes(outside)
    writing = [
        ("run", "--notebooks", "01,03", "studies/creek"),
        ("parts", "studies/creek"),
        ("compare", "studies/creek", f"studies/{other}"),
    ]
    others = [  # verbs that leave reports alone, whatever they are; and a second run
        ("check", "studies/creek"),
        ("run", "--accept", "--gone", "--notebooks", "02", "studies/creek"),
        ("sift", "studies/creeks.csv", "--workers", "2"),
        ("new", "studies/mine", "--from", "studies/creek"),
        ("check", f"studies/{other}"),
        ("parts", "studies/creek", "--out", "studies/creek/flow.csv"),
        ("lab", "--no-browser", "--port", "not a number"),
    ]
    for words in writing + (others if reports == "none" else []):
        done = in_a_shell(
            home, *words, HOME=str(person), XDG_CACHE_HOME="", XDG_CONFIG_HOME="", XDG_STATE_HOME=""
        )
        said = done.stdout + done.stderr
        assert words[0] != "run" or (done.returncode == 0) == (reports == "none"), (words, said)
        assert (
            done.returncode in (0, 1, 2)
            and "Traceback" not in said
            and "did not expect" not in said
        ), (words, said)
        assert all(each.isprintable() for line in said.split("\n") for each in line), (words, said)
        assert marks(mark) == [] and toy.all_bytes(outside) == before, words
    assert {each.name for each in person.iterdir()} <= {
        ".cache",
        ".config",
    }  # where a library keeps its fonts
    assert {each.name for each in tmp_path.iterdir()} == {"outside", "zip", "person"}
    pages = sorted((creek / "reports").glob("*.html")) if reports == "none" else []
    assert len(pages) == (5 if reports == "none" else 0), pages
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert "<script" not in text and 'href="https://example.org' not in text


def seen_to_its_end(process):
    """Wait until the last notebook is told; the moment, or None where the process is no more."""
    for line in process.stdout:
        if line.startswith("02 two"):
            return time.perf_counter()
    return None


@pytest.mark.parametrize(
    "kills",
    [
        pytest.param(8, marks=pytest.mark.slow),
        pytest.param(100, marks=pytest.mark.deep),  # the same at more moments, some minutes
    ],
)
def test_kills_at_any_moment_lose_nothing(tmp_path, kills):
    """The pages are a whole set, the owner's files are there, and the next run is as if nothing had been."""
    study = toy.study(tmp_path / "creek")
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1", _02_two="2")
    process, began = start(study, nbs), time.perf_counter()
    told = seen_to_its_end(process)
    process.communicate(timeout=120)
    before_sets, exchanging = told - began, time.perf_counter() - told
    reports = study / "reports"
    names = set(toy.all_bytes(reports))
    assert {"index.html", "01_one.html", "02_two.html", "results.toml"} <= names
    (reports / "notes.txt").write_text("mine", encoding="utf-8")
    (reports / "2025").mkdir()
    (reports / "2025" / "old.pdf").write_bytes(b"%PDF")
    (study / "notes.md").write_text("mine too", encoding="utf-8")
    source = random.Random(7)
    for number in range(kills):
        process = start(study, nbs)
        # most of them after the last notebook, where sets are exchanged, however busy the machine is
        if number % 3 == 0:
            time.sleep(before_sets * source.uniform(0, 1.1))
        elif seen_to_its_end(process) is not None:
            time.sleep(exchanging * source.uniform(0, 1))
        process.kill()
        process.communicate(timeout=60)
        held = reports if reports.exists() else next(study.glob(folders.OLD + "*"))
        found = toy.all_bytes(held)
        assert found["index.html"].rstrip().endswith(b"</html>") and names <= set(found), number
        assert (study / "notes.md").read_text(encoding="utf-8") == "mine too"
        kept = [
            each for each in study.rglob("notes.txt") if each.read_text(encoding="utf-8") == "mine"
        ]
        assert kept and [each for each in study.rglob("old.pdf") if each.read_bytes() == b"%PDF"], (
            number
        )
        if number % 2:  # else the next run finds what is left
            folders.recover(study)
            assert leftovers(study) == []
    out, err = start(study, nbs).communicate(timeout=120)
    assert out.endswith("done\n") and err == ""
    assert (reports / "notes.txt").read_text(encoding="utf-8") == "mine" and (
        reports / "2025" / "old.pdf"
    ).is_file()
    assert leftovers(study) == []


# ---------------------------------------------------------------- spoilt inputs

PIECES = [
    "\0",
    "\x1b",
    "\ufeff",
    "\u202e",
    "é",
    '"',
    "'",
    "[",
    "]",
    "[[",
    "=",
    "#",
    ",",
    ";",
    "\n",
    "\r",
    "\t",
    "-",
    "1e999",
    "nan",
    "9" * 400,
    "../",
    "/dev/zero",
    "0",
    "true",
    "{",
    "}",
    "\\",
    "a" * 3000,
    "°",
    "±",
    "m",
    "%",
    "2024-02-30",
]


def spoilt(text, source):
    """A text with a few of its characters, words or lines changed, doubled, moved or gone."""
    for _ in range(source.choice([1, 1, 1, 2, 5])):
        at = source.randrange(len(text) + 1)
        end = min(len(text), at + source.choice([0, 1, 1, 3, 20, 200]))
        kind = source.randrange(6)
        if kind == 0:
            text = text[:at] + source.choice(PIECES) + text[at:]
        elif kind == 1:
            text = text[:at] + text[end:]
        elif kind == 2:
            text = text[:at] + text[at:end] + text[at:]
        elif kind == 3:
            text = text[:at] + source.choice(string.printable) + text[at + 1 :]
        elif kind == 4:
            lines = text.split("\n")
            one, other = source.randrange(len(lines)), source.randrange(len(lines))
            lines[one], lines[other] = lines[other], lines[one]
            text = "\n".join(lines)
        else:
            numbers = list(re.finditer(r"\d+\.?\d*", text))
            if numbers:
                found = source.choice(numbers)
                text = (
                    text[: found.start()]
                    + source.choice(["0", "-1", "1e9", "1e-9", "", "3,5", "12.5.3", "1000000"])
                    + text[found.end() :]
                )
    return text


@pytest.mark.parametrize(
    "count",
    [
        pytest.param(200, marks=pytest.mark.slow),
        pytest.param(10_000, marks=pytest.mark.deep),  # the same with more of them, some minutes
    ],
)
def test_many_spoilt_inputs_give_findings_or_sentences(tmp_path, count):
    """`check` on a study of which a character, a word or a line is wrong: never a traceback, never a file touched."""
    site = "".join(
        f"[{name}]\n"
        + "".join(f"{key} = {small_study._written(value)}\n" for key, value in body.items())
        if isinstance(body, dict)
        else small_study.toml({name: body})
        for name, body in sorted(
            small_study.SITE.items(), key=lambda item: isinstance(item[1], dict)
        )
    )
    short = {
        name: "\n".join(text.split("\n")[:60]) + "\n" for name, text in small_study.FILES.items()
    }
    study = small_study.write(tmp_path / "creek", site)
    for name, text in short.items():
        (study / name).write_text(text, encoding="utf-8", newline="")
    check_study(study)
    files = {"site.toml": site} | short
    source, told = random.Random(12), 0
    for number in range(count):
        name = source.choice(["site.toml", "site.toml", *short])
        data = spoilt(files[name], source).encode("utf-8", "surrogatepass")
        if source.randrange(20) == 0:
            data = (
                data[: source.randrange(len(data) + 1)]
                + bytes([source.randrange(256)])
                + data[source.randrange(len(data) + 1) :]
            )
        (study / name).write_bytes(data)
        before = {each.name: each.read_bytes() for each in study.iterdir()}
        try:
            check_study(study)
        except HydrokitError as error:
            told += 1
            for line in str(error).split("\n"):
                assert line.isprintable() and 5 < len(line) < 1500, (number, line)
        assert {each.name: each.read_bytes() for each in study.iterdir()} == before
        (study / name).write_text(files[name], encoding="utf-8", newline="")
    assert told > count / 5
