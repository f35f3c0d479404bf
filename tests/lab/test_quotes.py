"""What a learner is told before the traceback: a quote forgotten, a cell run too early."""

import pytest
from IPython.core.interactiveshell import InteractiveShell

from hydrokit.lab.quotes import hint

WRONG = [
    ('answer_3 = "180 gpm', "A quote is missing at one end", '"180 gpm"'),
    ("answer_3 = '180 gpm", "A quote is missing at one end", '"180 gpm"'),
    ('answer_3 = 180 gpm"', "A quote is missing at one end", '"180 gpm"'),
    ("answer_3 = 180 gpm", "Quotes are missing", '"180 gpm"'),
    ("answer_3 = 14 %", "Quotes are missing", '"14 %"'),
    ("answer_3 = 180gpm", "Quotes are missing", '"180gpm"'),
    ("answer_3 = 2*L/s", "Quotes are missing", '"2*L/s"'),
    ("answer_3 = February", "Quotes are missing", '"February"'),
    ("answer_3 = a blocked jet", "Quotes are missing", '"a blocked jet"'),
    ("answer_3 = “180 gpm”", "not a pair of straight ones", '"180 gpm"'),
    ("answer_3 = \"180 gpm'", "not a pair of straight ones", '"180 gpm"'),
    ('answer_3 "180 gpm"', "The sign = is missing", '"180 gpm"'),
    ('answer_3 == "180 gpm"', "One sign =", '"180 gpm"'),
    ('# mine\nanswer_3 = 180 gpm', "Quotes are missing", '"180 gpm"'),
]  # fmt: skip


@pytest.mark.parametrize("cell, said, example", WRONG, ids=[each[0] for each in WRONG])
def test_a_slip_of_the_quotes_is_told_with_the_line_to_write(cell, said, example):
    told = hint(cell, {})
    assert said in told and told.endswith(f"answer_3 = {example}")
    corrected = told.splitlines()[-1].strip()
    assert hint(corrected, {}) is None and eval(corrected.partition("=")[2]) == example.strip('"')


@pytest.mark.parametrize(
    "cell",
    [
        'answer_3 = "180 gpm"', "answer_3 = 214", "answer_3 = None", "answer_3 = ...", "answer_3 =",
        "answer_3 = flow / time", "answer_3 = hk.bucket(5)", "answer_3 = 'it''s'", "x = 180 gpm",
        "%timeit 3", "def f(:", "", "answer_3", "\0", 'print("answer_3 = 180 gpm")',
    ],
)  # fmt: skip
def test_other_cells_get_no_hint(cell):
    assert hint(cell, {}) is None


def test_a_word_that_is_defined_is_no_slip():
    assert hint("answer_3 = flow", {"flow": 2}) is None
    assert hint("flow = 2\nanswer_3 = flow", {}) is None


def test_a_cell_run_before_those_above_it_is_told_what_it_lacks():
    body = (
        "def check_2(answer):\n    return check_answer(answer, 7 * usable)\n\n\ncheck_2(answer_2)"
    )
    assert "This cell needs check_answer. Run the cells above" in hint(body, {})
    assert "This cell needs usable. Run the cells above" in hint(body, {"check_answer": max})
    assert hint(body, {"check_answer": max, "usable": 1}) is None
    told = (
        "try:\n    f()\nexcept ValueError as why:\n    print(why, [a for a in (lambda b: b)([1])])"
    )
    assert hint(told, {"f": max}) is None


def test_a_bracket_left_open_is_told():
    assert "bracket" in hint('answer_3 = hk.v_notch("4 in"', {})


@pytest.fixture
def shell():
    made = InteractiveShell()
    for _ in range(2):  # a second load says nothing twice
        made.extension_manager.reload_extension("hydrokit.lab.lessons")
    return made


def test_the_hint_comes_before_the_traceback_and_the_exercise_counts_as_not_answered(shell, capsys):
    shell.run_cell("def check_3(answer):\n    return answer")
    shell.run_cell('answer_3 = "7 gpm"\nanswer_2 = "8 gpm"')
    shell.run_cell('answer_3 = "180 gpm')
    said = capsys.readouterr().out
    assert said.count("A quote is missing") == 1
    assert said.index("A quote is missing") < said.index("SyntaxError")
    assert shell.run_cell("check_3(answer_3)").result is None
    assert shell.user_ns["answer_2"] == "8 gpm"


def test_a_check_run_before_its_exercise_finds_it_not_answered(shell, capsys):
    assert shell.run_cell(
        "def check_1(answer):\n    return answer is None\n\ncheck_1(answer_1)"
    ).result
    shell.run_cell('answer_4 = "3 m"')
    shell.run_cell("check_4(answer_4)")
    assert "This cell needs check_4. Run the cells above it first" in capsys.readouterr().out
    assert shell.user_ns["answer_4"] == "3 m"


def test_nothing_is_said_once_unloaded(shell, capsys):
    shell.extension_manager.unload_extension("hydrokit.lab.lessons")
    shell.run_cell("answer_3 = 180 gpm")
    assert "Quotes" not in capsys.readouterr().out


def test_a_kernel_of_the_lab_gives_figures_their_words_and_reads_cells_from_its_start(
    monkeypatch, capsys
):
    import matplotlib.figure

    from hydrokit.report.display import Picture
    from hydrokit.study import attended

    picture = Picture(matplotlib.figure.Figure(), 'A "notch" <b>')
    assert set(picture._repr_mimebundle_()[0]) == {"image/png", "text/plain"}
    monkeypatch.setattr(attended, "_in_browser", False)
    shell = InteractiveShell()
    shell.extension_manager.load_extension("hydrokit.lab.live")
    data, _ = picture._repr_mimebundle_()
    assert 'alt="A &quot;notch&quot; &lt;b&gt;"' in data["text/html"] and "image/png" not in data
    shell.run_cell("check_answer(1)")
    assert "This cell needs check_answer. Run the cells above it" in capsys.readouterr().out
