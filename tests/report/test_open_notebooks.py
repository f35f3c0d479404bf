"""Notebooks are workbooks: half of their cells at least work something out, in every study, and the sums by hand agree."""

import ast
import json
import re
from pathlib import Path

import odd_studies
import pytest
from IPython.core.interactiveshell import InteractiveShell

from hydrokit.report.pages.lack_words import BRIEFLY
from hydrokit.study.opening import open_study
from hydrokit.study.questions import questions

ROOT = Path(__file__).resolve().parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("0*.ipynb"))
NAMES = [each.stem for each in NOTEBOOKS]
ONE_CALL = re.compile(r"(?!workbook\b|hk\b)\w+\.\w+\([^\n]*\)")  # with the study or without
each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=NAMES)


def code_of(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(each["source"]) for each in cells if each["cell_type"] == "code"]


@each_notebook
def test_at_most_half_of_the_cells_are_one_call_of_a_page(path):
    cells = code_of(path)
    calls = [each for each in cells if ONE_CALL.fullmatch(each.strip())]
    assert len(calls) <= len(cells) / 2, f"{len(calls)} of {len(cells)}"


ONLY_SHOWN = {  # sections in which nothing is worked out, and why
    "Checks": "findings of the study, told once",
    "Sources": "a list of what the page rests on",
    "Turn the knobs": "a panel works it out anew at each turn",
}
ONLY_SHOWN_IN = {  # notebook, title of the section: why
    "09: What is to be printed and hung up?": "a list of files to print; their numbers stand above",
}
OF_THE_WORKING = ("hk", "s", "np", "pd", "math")  # names whose calls work something out


def works_out(source):
    """Whether a cell does more than import and show what a function of a page gives."""

    def shows(node):
        called = node.func if isinstance(node, ast.Call) else None
        if not isinstance(called, ast.Attribute) or not isinstance(called.value, ast.Name):
            return False
        return called.value.id not in OF_THE_WORKING and all(
            isinstance(each, (ast.Name, ast.Constant, ast.Tuple)) or shows(each)
            for each in node.args
        )

    lines = ast.parse(re.sub(r"^[%!].*$", "", source, flags=re.M)).body
    lines = [each for each in lines if not isinstance(each, (ast.Import, ast.ImportFrom))]
    return not all(isinstance(each, ast.Expr) and shows(each.value) for each in lines)


def only_showing(path):
    """Sections of a notebook without a cell that works something out."""
    sections, title = {}, None
    for each in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        source = "".join(each["source"])
        if each["cell_type"] == "markdown":
            found = re.search(r"^## (.+)", source, re.M)
            title = found[1] if found else title
            sections.setdefault(title, False)
        elif each["cell_type"] == "code":
            sections[title] = sections[title] or works_out(source)
    return {each for each, works in sections.items() if each is not None and not works}


@each_notebook
def test_each_section_works_something_out(path):
    told = {f"{path.stem[:2]}: {title}" for title in only_showing(path) - set(ONLY_SHOWN)}
    assert told == {each for each in ONLY_SHOWN_IN if each.startswith(path.stem[:2])}


def test_what_only_shows_is_told_from_what_works_out():
    assert not works_out("from hydrokit.lab import explore\n\nexplore.panel_gauge(s, view)")
    assert not works_out("%%needs plant\nworkbook.show(page.words(s, view), page.table(s, view))")
    assert works_out('%%needs head.net\ntwice = 2 * s.answer("head.net").value\nprint(twice)')
    assert works_out('hk.side_by_side(s, s.changed({"costs.value": 1}))')


@each_notebook
def test_a_notebook_works_by_hand_and_has_an_equation(path):
    text = path.read_text(encoding="utf-8")
    assert "%%needs" in text and "agreement(" in text and "$" in text


@each_notebook
def test_what_a_cell_needs_has_a_name_that_a_reader_knows(path):
    for line in re.findall(r"^%%needs (.+)$", "\n".join(code_of(path)), re.M):
        for name in (each.strip() for each in line.split(",")):
            known = name if name in questions() else name.split(".")[0]
            assert known in BRIEFLY, name


@each_notebook
def test_no_cell_holds_the_marks_of_another_editor(path):
    assert not [each for each in code_of(path) if re.search(r"^#\s?%", each, re.M)]


@each_notebook
def test_no_cell_takes_the_name_of_a_module_that_a_cell_below_it_uses(path):
    imported, assigned = set(), set()
    for source in code_of(path):
        tree = ast.parse(re.sub(r"^%.*$", "", source, flags=re.M))
        for each in ast.walk(tree):
            if isinstance(each, (ast.Import, ast.ImportFrom)):
                imported |= {name.asname or name.name for name in each.names}
            elif isinstance(each, ast.Name) and isinstance(each.ctx, ast.Store):
                assigned.add(each.id)
    assert not imported & assigned


def worked(path, study):
    """What the cells below a line of needs show for a study: nothing but what they work out is run."""
    shell = InteractiveShell()
    shown = []
    shell.push({"s": study, "view": study.view(), "__shown": shown})
    for source in code_of(path):
        if source.startswith("%reload_ext"):
            imports = [
                line
                for line in source.splitlines()
                if line.startswith(("%reload", "import", "from"))
            ]
            shell.run_cell("\n".join(imports)).raise_error()
            from hydrokit.report import workbook

            workbook.show = lambda *things: shown.extend(things)
        elif source.startswith("%%needs"):
            ran = shell.run_cell(source)
            ran.raise_error()
            shown.append(ran.result)
    return [str(each) for each in shown if each is not None]


@pytest.fixture
def shows_again():
    from hydrokit.report import workbook

    before = workbook.show
    yield
    workbook.show = before


@pytest.mark.slow
@pytest.mark.parametrize("name", ["alder-burn", "hazel-beck", "saltfern-creek"])
def test_sums_by_hand_agree_on_the_demos(name, shows_again):
    study = open_study(ROOT / "studies" / name)
    for path in NOTEBOOKS:
        said = [each for each in worked(path, study) if each.startswith("By hand")]
        # A sum that leaves something out says what; the others agree.
        assert all("agree" in each or "the same" in each or "% apart: " in each for each in said)
        agree = [each for each in said if "agree" in each or "the same" in each]
        assert len(agree) >= len(said) / 2, (path.stem, said)


OFTEN = ("thin", "log and no record", "several machines", "francis", "spear", "US reader")
ODD = [
    pytest.param(name, marks=pytest.mark.slow if name in OFTEN else pytest.mark.deep)
    for name in odd_studies.NAMES
]


@pytest.mark.parametrize("name", ODD)
def test_no_cell_fails_in_a_study_of_odd_shape(tmp_path, name, shows_again):
    study = odd_studies.opened(tmp_path, name)
    for path in NOTEBOOKS:
        worked(path, study)
