"""The page to begin on: it knows studies and questions, checks, runs and opens them."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
STUDIES = ("alder-burn", "hazel-beck", "saltfern-creek")


def test_start_page_knows_studies_and_questions():
    from hydrokit.lab import start
    from hydrokit.site.folders import notebook_folder, notebooks_in

    assert set(STUDIES) <= set(start.studies_in())
    asked = start.questions()
    assert [name[:2] for name in asked] == [
        path.stem[:2] for path in notebooks_in(notebook_folder())
    ]
    assert "start" not in asked and all(title.endswith("?") for title in asked.values())
    said = start.where("studies/alder-burn").text
    for link in re.findall(r"\]\((\S+\.ipynb)\)", said):
        assert (ROOT / "notebooks" / link).is_file()
    assert 'study = "studies/alder-burn"' in said
    assert "no study in the folder" in start.page("nowhere").text
    study, question, buttons, *_ = start.page().children
    assert {"alder-burn"} <= set(study.options) and len(question.options) == len(asked) + 1
    assert [button.description for button in buttons.children] == [
        "Check",
        "Run",
        "Open the report",
    ]


def test_start_page_tells_mistakes_in_sentences(tmp_path):
    from hydrokit.lab import start

    (tmp_path / "site.toml").write_text(
        '[site]\nname = "x"\naltitud = "3 m"\n[penstock]\nentry = "<b>"\n', encoding="utf-8"
    )
    said = start.checked(tmp_path).text
    assert "altitud" in said and "entry" in said and "<b>" not in said
    assert start.ran(tmp_path).text.startswith("**Not yet.**")
    assert "sound" in start.checked(ROOT / "studies" / "hazel-beck").caption


def test_start_page_tells_an_error_that_nobody_expected(monkeypatch):
    from hydrokit.lab import start

    shown = []
    monkeypatch.setattr("IPython.display.display", lambda *things: shown.extend(things))
    monkeypatch.setattr("IPython.display.clear_output", lambda **_: None)
    monkeypatch.setattr(start, "checked", lambda study: {}["lost"])
    page = start.page(str(ROOT / "studies"))
    buttons = page.children[2].children
    buttons[0].click()
    assert "KeyError" in shown[-1].text and not any(each.disabled for each in buttons)


def test_start_page_opens_what_there_is(tmp_path):
    from hydrokit.lab import start

    shown = []
    assert "no report yet" in start.opened(tmp_path, show=shown.append).text and not shown
    (tmp_path / "reports").mkdir()
    for name in ("index", "02_flow_duration"):
        (tmp_path / "reports" / f"{name}.html").write_text("", encoding="utf-8")
    assert (
        "No browser"
        in start.opened(
            tmp_path, "02_flow_duration", lambda address: bool(shown.append(address))
        ).text
    )
    assert (
        "Opened"
        in start.opened(
            tmp_path, "05_annual_energy", lambda address: not shown.append(address)
        ).text
    )
    assert [address.rpartition("/")[2] for address in shown] == [
        "02_flow_duration.html",
        "index.html",
    ]
