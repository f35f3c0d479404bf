"""Six lessons played: right, wrong, wrong unit, typo, out of order, for each of thirty exercises; none misjudged.

Quickly in a shell of this process, and, as a deep test, in a live JupyterLab by a browser.
"""

import types

import nbformat
import pytest
from browsing import a_browser, a_lab, opened
from IPython.core.interactiveshell import InteractiveShell
from playing import LESSONS, attempts, exercises, misjudged

PATHS = sorted(LESSONS.glob("*.ipynb"))


def test_there_are_thirty_exercises():
    assert [len(list(exercises(path))) for path in PATHS] == [5] * 6


def fresh():
    # a module of its own: the shell's would take the place of the tests' main module
    shell = InteractiveShell(user_module=types.ModuleType("learner"))
    shell.user_ns.clear()
    shell.reset()
    return shell


def shown(shell, source, capsys):
    """What a cell shows, and what it printed; the traceback of a typo goes the same way."""
    done = shell.run_cell(source)
    return "" if done.result is None else str(done.result), capsys.readouterr().out


@pytest.mark.parametrize("path", PATHS, ids=[each.stem for each in PATHS])
def test_no_answer_is_misjudged(path, capsys):
    cells = nbformat.read(path, as_version=4).cells
    shell = fresh()
    exercise_at = {each.answer: each for each in exercises(path)}
    wrong = []
    for at, cell in enumerate(cells):
        if cell.cell_type != "code":
            continue
        done = shell.run_cell(cell.source)
        assert done.success, cell.id
        if at - 1 not in exercise_at:
            continue
        exercise = exercise_at[at - 1]  # its check has just run, too early for an answer
        assert "Not answered yet" in str(done.result)
        for attempt in attempts(exercise):
            _, first = shown(shell, attempt.typed, capsys)
            said, _ = shown(shell, cells[exercise.check].source, capsys)
            wrong.append(misjudged(attempt, said, first))
    assert not [each for each in wrong if each], "\n".join(filter(None, wrong))
    assert len(wrong) == 20


@pytest.mark.parametrize("path", PATHS, ids=[each.stem for each in PATHS])
def test_out_of_order_is_told_and_never_judged(path, capsys):
    """Only the first cell is run: then the checks from the last up, and the solutions before their checks."""
    cells = nbformat.read(path, as_version=4).cells
    shell = fresh()
    first = next(each for each in cells if each.cell_type == "code")
    assert shell.run_cell(first.source).success
    capsys.readouterr()
    for exercise in reversed(list(exercises(path))):
        solution = cells[exercise.solution].source.replace("# check_", "check_")
        said, printed = shown(shell, solution, capsys)
        assert not said and f"needs check_{exercise.number}" in printed
    for exercise in reversed(list(exercises(path))):
        said, printed = shown(shell, cells[exercise.check].source, capsys)
        told = "Not answered yet" in said or "Run the cells above it first" in printed
        assert told and "Right" not in said, (path.stem, exercise.number, said, printed)


# --- in a live JupyterLab ----------------------------------------------------------------------

RUN = """async ([at, source]) => {
    const panel = window.jupyterapp.shell.currentWidget;
    const book = panel.content;
    const cell = book.model.cells.get(at);
    if (source !== null) cell.sharedModel.setSource(source);
    book.deselectAll();
    book.activeCellIndex = at;
    await window.jupyterapp.commands.execute('notebook:run-cell');
    const texts = cell.outputs ? cell.outputs.toJSON() : [];
    return texts.map(o => o.text || (o.data && (o.data['text/markdown'] || o.data['text/plain'])) || o.evalue || '')
        .map(t => Array.isArray(t) ? t.join('') : t).join('\\n');
}"""


@pytest.fixture(scope="module")
def live(tmp_path_factory):
    """Address of JupyterLab as ``hydrokit lab FOLDER`` starts it on a workshop, and a browser."""
    from hydrokit.lab import workshop

    home = tmp_path_factory.mktemp("live")
    with pytest.MonkeyPatch.context() as monkeypatch:
        read = {
            stem: nbformat.read(path, as_version=4) for stem, path in workshop.lessons().items()
        }
        monkeypatch.setattr(workshop, "run_lessons", lambda lessons: read)
        monkeypatch.setattr(workshop, "printed", lambda *_: "")
        workshop.lay(home / "workshop")
    with a_browser() as browser, a_lab(home, "workshop") as address:
        yield address, browser


def lesson(live, stem):
    """A lesson in the browser, 900 px wide and dark, its kernel ready and nothing run."""
    address, browser = live
    page = browser.new_page(viewport={"width": 900, "height": 1000})
    opened(page, address, f"lessons/{stem}.ipynb")
    page.evaluate(
        "window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})"
    )
    page.wait_for_function("document.body.dataset.jpThemeLight === 'false'")
    page.evaluate("window.jupyterapp.shell.collapseLeft()")
    return page


@pytest.mark.deep
@pytest.mark.parametrize("path", PATHS, ids=[each.stem for each in PATHS])
def test_a_learner_plays_the_lesson_in_the_browser(live, path):
    page = lesson(live, path.stem)
    cells = nbformat.read(path, as_version=4).cells
    found = list(exercises(path))
    code = [at for at, cell in enumerate(cells) if cell.cell_type == "code"]

    # Out of order: the imports alone, then checks from the last up.
    page.evaluate(RUN, [code[0], None])
    for exercise in reversed(found):
        said = page.evaluate(RUN, [exercise.check, None])
        assert "Not answered yet" in said or "Run the cells above it first" in said, said
        assert "Right" not in said

    # In order, from the top.
    wrong = []
    at_exercise = {each.answer: each for each in found}
    for at in code:
        said = page.evaluate(RUN, [at, None])
        assert "Error" not in said or cells[at].id == "refused", (cells[at].id, said)
        if at - 1 in at_exercise:
            exercise = at_exercise[at - 1]
            for attempt in attempts(exercise):
                first = page.evaluate(RUN, [exercise.answer, attempt.typed])
                said = page.evaluate(RUN, [exercise.check, None])
                wrong.append(misjudged(attempt, said.replace("**", ""), first))
    assert len(wrong) == 20 and not any(wrong), "\n".join(filter(None, wrong))

    assert not page.get_by_text("official Jupyter news").count(), "nobody is asked about news"
    _by_keyboard(page, found[0])
    _fits_and_is_dark_safe(page)
    page.close()


def _by_keyboard(page, exercise):
    """The first exercise answered with keys alone, and read from the page itself."""
    page.evaluate(
        "async at => { const b = window.jupyterapp.shell.currentWidget.content; b.deselectAll(); b.activeCellIndex = at; await b.scrollToItem(at); b.mode = 'command'; b.activate(); }",
        exercise.answer,
    )
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(f"answer_{exercise.number} = '7 furlongs'")
    page.keyboard.press("Shift+Enter")
    page.keyboard.press("Shift+Enter")
    check = page.locator(f".jp-Cell[data-windowed-list-index='{exercise.check}'] .jp-OutputArea")
    check.get_by_text("Not yet").first.wait_for(timeout=30_000)
    active = "window.jupyterapp.shell.currentWidget.content.activeCellIndex"
    for _ in range(6):  # back up over the reasons and the check
        if page.evaluate(active) == exercise.answer:
            break
        page.keyboard.press("ArrowUp")
        page.wait_for_timeout(200)
    assert page.evaluate(active) == exercise.answer
    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(f"answer_{exercise.number} = {exercise.right!r}")
    page.keyboard.press("Shift+Enter")
    page.keyboard.press("Shift+Enter")
    check.get_by_text("Right").first.wait_for(timeout=30_000)


def _fits_and_is_dark_safe(page):
    """Nothing runs out of a narrow window; every picture is on its own white paper and has words."""
    outer = page.evaluate(
        "(e => [e.scrollWidth, e.clientWidth])(document.querySelector('.jp-WindowedPanel-outer'))"
    )
    assert outer[0] <= outer[1] + 2, outer
    images = page.evaluate(
        "window.jupyterapp.shell.currentWidget.content.widgets.flatMap(w => [...w.node.querySelectorAll('.jp-OutputArea img')]).map(i => [i.alt, i.src.slice(0, 20), i.complete && i.naturalWidth])"
    )
    assert images and all(alt for alt, _, _ in images), [each[1:] for each in images if not each[0]]
    assert all(width for _, _, width in images), [each for each in images if not each[2]]
