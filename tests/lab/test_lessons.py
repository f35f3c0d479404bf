"""The workshop: every lesson runs and prints what is committed, and every answer is marked rightly.

``python tests/lab/test_lessons.py`` writes the committed outputs anew after a deliberate change.
"""

import ast
import re
import sys
from pathlib import Path

import nbformat
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats.mstats import mquantiles

from hydrokit import pipe_size
from hydrokit.errors import HydrokitError
from hydrokit.lab.lessons import check_answer, check_choice, judge
from hydrokit.report.display import Words
from hydrokit.units import Q_

FOLDER = Path(__file__).resolve().parents[2] / "notebooks" / "lessons"
PATHS = sorted(FOLDER.glob("*.ipynb"))
NAMES = [path.stem for path in PATHS]
lesson_each = pytest.mark.parametrize("path", PATHS, ids=NAMES)


# --- running -----------------------------------------------------------------------------------


def tags(cell):
    return cell.metadata.get("tags", [])


def run(path, kernel):
    """A lesson as a kernel runs it, cell by cell, with what its cells show now."""
    from nbclient import NotebookClient

    kernel.make_fresh()
    notebook = nbformat.read(path, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs = []
    client = NotebookClient(notebook, km=kernel.manager, timeout=60)
    client.kc = kernel.client
    client.reset_execution_trackers()
    for index, cell in enumerate(notebook.cells):
        client.execute_cell(cell, index)
    return notebook


def only_text(outputs):
    """Outputs as they are committed: text alone, pieces of one stream joined, no pictures."""
    kept = []
    for output in outputs:
        if output.output_type == "stream":
            if kept and kept[-1].output_type == "stream" and kept[-1].name == output.name:
                kept[-1].text += output.text
            else:
                kept.append(nbformat.v4.new_output("stream", name=output.name, text=output.text))
        else:
            data = {
                kind: text for kind, text in output.data.items() if not kind.startswith("image/")
            }
            kept.append(nbformat.v4.new_output(output.output_type, data=data))
    return kept


def in_process(path):
    """The cells of a lesson run here, up to each exercise: its cells, its names, what its cells show."""
    notebook, names = nbformat.read(path, as_version=4), {}
    for cell in notebook.cells:
        if cell.cell_type == "code":
            yield cell, names, shown_by(cell.source, names)


def solved(cell):
    """Number and right answer of an exercise, as the solution asks for them."""
    number, answer = re.search(r"^# check_(\d)\((.+)\)$", cell.source, re.M).groups()
    return number, ast.literal_eval(answer)


def shown_by(source, names):
    source = re.sub(r"^%.*\n", "", source)
    body = ast.parse(source).body
    last = body.pop() if body and isinstance(body[-1], ast.Expr) else None
    exec(compile(ast.Module(body, []), "<cell>", "exec"), names)
    return (
        eval(compile(ast.Expression(last.value), "<cell>", "eval"), names)
        if last is not None
        else None
    )


@pytest.fixture(scope="module")
def kernel():
    from hydrokit.runner.kernel import Kernel

    with Kernel(FOLDER) as started:
        yield started


def test_there_are_six_lessons():
    assert NAMES == [
        "01_measure",
        "02_head_and_pipe",
        "03_duration_and_rights",
        "04_air_ice_and_screens",
        "05_size_it",
        "06_run_it",
    ]


@pytest.mark.slow
@lesson_each
def test_a_lesson_prints_what_is_committed(kernel, path):
    committed = nbformat.read(path, as_version=4)
    for was, now in zip(committed.cells, run(path, kernel).cells, strict=True):
        if was.cell_type == "code":
            assert only_text(now.outputs) == was.outputs, (
                f"cell '{was.id}' prints something else than is committed"
            )
            assert not any(
                output.output_type == "stream" and output.name == "stderr" for output in now.outputs
            ), f"cell '{was.id}' warns"


# --- how a lesson is made -----------------------------------------------------------------------


@lesson_each
def test_a_lesson_is_whole(path):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    assert notebook.metadata.kernelspec.name == "python3"
    ids = [cell.id for cell in notebook.cells]
    assert len(set(ids)) == len(ids) and all(re.fullmatch(r"[a-z][a-z0-9-]*", each) for each in ids)
    text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    for heading in (
        "# Lesson ",
        "**Goal.**",
        "**Bring.**",
        "## Warm-up",
        "## Key points",
        "## Exercises",
        "### One more, without a mark",
        "## In the field",
        "## Your own creek",
        "## Words of this lesson",
        "**Sources.**",
        "## Teacher's page",
        "**Common mistakes.**",
        "**Prepare.**",
        "**Safety.**",
    ):
        assert text.count(heading) >= 1, f"no {heading}"
    assert "http" not in text, "there is no internet in the shed"
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert code[0].source.startswith("%reload_ext hydrokit.lab.lessons\n")
    assert [cell.execution_count for cell in code] == list(range(1, len(code) + 1)), (
        "nbval wants cells numbered as a fresh run numbers them"
    )
    for cell in code:
        assert only_text(cell.outputs) == cell.outputs, (
            f"cell '{cell.id}' is committed with a picture"
        )


@lesson_each
def test_every_exercise_has_its_check_its_reasons_and_its_solution(path):
    cells = nbformat.read(path, as_version=4).cells
    at = [index for index, cell in enumerate(cells) if "exercise" in tags(cell)]
    assert 3 <= len(at) <= 5
    for index in at:
        question, answer, check, why, solution = cells[index - 1 : index + 4]
        number = re.match(r"### Exercise (\d):", question.source)[1]
        assert answer.source == f"answer_{number} = None"
        assert (
            tags(check) == ["check"]
            and check.source.endswith(f"check_{number}(answer_{number})")
            and check.metadata.jupyter.source_hidden
        )
        assert why.source.startswith("<details>") and why.source.endswith("</details>")
        assert tags(solution) == ["solution"] and solution.metadata.jupyter.source_hidden
        # Folded, a cell still shows its first line.
        assert solution.source.startswith(f"# the solution of exercise {number}")
        assert solved(solution)[0] == number
        assert not ast.parse(solution.source).body and not solution.outputs, (
            "a solution shows nothing until it is asked for"
        )


@lesson_each
def test_both_readers_are_served(path):
    """Metric and US numbers in every lesson."""
    text = " ".join(
        cell.source
        for cell in nbformat.read(path, as_version=4).cells
        if cell.cell_type == "markdown"
    )
    assert len(re.findall(r"\d (?:L/s|m|mm|bar|°C)\b", text)) >= 3
    assert len(re.findall(r"\d (?:gpm|ft|in|psi|cfs|°F)\b", text)) >= 3


# --- answers --------------------------------------------------------------------------------------


@lesson_each
def test_answers_are_told_apart(path):
    """Missing, right, of a wrong unit, of a wrong size: each exercise says which."""
    exercises = 0
    for cell, names, shown in in_process(path):
        if "check" in tags(cell):
            assert str(shown).startswith("**Not answered yet:**"), cell.id
            exercises, checked = exercises + 1, cell.source
        if "solution" in tags(cell):
            assert shown is None, f"{cell.id} tells before it is asked"
            number, right = solved(cell)
            check = names[f"check_{number}"]
            shown = shown_by(cell.source.replace("# check_", "check_"), names)
            assert isinstance(shown, Words) and str(shown).startswith("**Right"), (
                f"{cell.id}: {shown}"
            )
            assert str(check(None)).startswith("**Not answered yet:**") and "**Right" not in str(
                check("nonsense")
            )
            if "check_choice(" in checked:
                continue  # words have no unit and no size
            quantity = Q_(right)
            alien = "7 degC" if not quantity.check("[temperature]") else "7 m"
            assert "asked for is" in str(check(alien)), f"{cell.id}: {check(alien)}"
            if not quantity.unitless:
                assert "of what? Write the unit" in str(check(quantity.magnitude)), cell.id
                assert "1,000 times too large" in str(check(1000 * quantity)), (
                    f"{cell.id}: {check(1000 * quantity)}"
                )
            for size, word in ((1.45, "% too high"), (0.65, "% too low")):
                said = str(
                    check(
                        Q_(
                            size * quantity.magnitude,
                            f"{quantity.units:~C}" if not quantity.unitless else None,
                        )
                    )
                )
                assert not said.startswith("**Right") and word in said, f"{cell.id}: {said}"
    assert exercises == sum(
        "exercise" in tags(cell) for cell in nbformat.read(path, as_version=4).cells
    )


JUDGED = [
    (None, "missing"), (..., "missing"), ("", "missing"), ("...", "missing"),
    ("twelve", "unreadable"), ("12,5 L/s", "unreadable"), ("12 furlongs", "unreadable"), ([1, 2], "unreadable"), (float("nan"), "unreadable"), (True, "unreadable"), ({}, "unreadable"),
    ("12", "no unit"), (12, "no unit"), (12.0, "no unit"),
    ("12 psi", "wrong kind"), ("12 L", "wrong kind"), ("12 m/s", "wrong kind"),
    ("12 m^3/s", "factor"), ("12 gpm", "factor"), ("45.4 L/s", "factor"), ("24 L/s", "factor"), ("0.2 L/s", "factor"),
    ("16 L/s", "known slip"),
    ("9 L/s", "off"), ("12.5 L/s", "off"), ("-12 L/s", "off"), ("0 L/s", "off"),
    ("12.1 L/s", "right"), ("0.0119 m3/s", "right"), ("190.2 gpm", "right"), (Q_(0.42, "cfs"), "right"),
]  # fmt: skip


@pytest.mark.parametrize("answer, kind", JUDGED, ids=[str(answer) for answer, _ in JUDGED])
def test_what_is_wrong_is_named(answer, kind):
    verdict = judge(answer, "12 L/s", "2 %", {"16 L/s": "You forgot what stays in the creek."})
    assert verdict.kind == kind, verdict.text
    assert verdict.text.startswith("**")


@pytest.mark.parametrize(
    "answer, expected, said",
    [
        ("42 m", "4.1 bar", "head_to_pressure"),
        ("4.1 bar", "42 m", "pressure_to_head"),
        ("120 kWh", "5 kW", "divide the energy by the time"),
        ("5 kW", "120 kWh", "multiply the power by the time"),
        ("5 W", "5 kW", "W and kW mixed"),
        ("14.5 psi", "14.5 bar", "psi and bar mixed"),
        ("10 m", "10 ft", "feet and metres mixed"),
        (14, "14 %", "write the % sign"),
        ("61 L/s", "60 L/s", "**Right:** 61 L/s; we have 60 L/s."),
        ("63 L/s", "60 L/s", "**Nearly.** 5 % too high; within 2 %"),
    ],
)
def test_the_sentence_helps(answer, expected, said):
    assert said in judge(answer, expected).text


def test_a_tolerance_may_have_a_unit():
    assert judge("0.3 m", "0 m", "0.5 m").kind == "right"
    assert (
        judge("10.3 ft", "10 ft", "0.5 ft").kind == "right"
        and judge("10.6 ft", "10 ft", "0.5 ft").kind == "off"
    )
    with pytest.raises(HydrokitError, match="tolerance with a unit"):
        judge("0.3 m", "0 m")


def test_hints_are_folded_until_something_wrong_is_tried():
    assert "<details>" in str(check_answer(None, "12 L/s", hints="Divide."))
    assert "*Hint:* Divide. Then add." in str(
        check_answer("9 L/s", "12 L/s", hints=("Divide.", "Then add."))
    )
    assert "Divide" not in str(check_answer("12 L/s", "12 L/s", hints="Divide."))


def test_choices():
    choices = {"air": "It costs a steady head.", "leaves": "Leaves starve the pond."}
    assert str(check_choice(" AIR ", "air", choices)) == "**Right.** It costs a steady head."
    assert (
        str(check_choice("leaves", "air", choices, "Look up."))
        == "**Not yet.** Leaves starve the pond. *Hint:* Look up."
    )
    assert "one of" in str(check_choice(None, "air", choices)) and "none of the choices" in str(
        check_choice(3, "air", choices)
    )
    with pytest.raises(HydrokitError, match="none of the choices"):
        check_choice("air", "ice", choices)


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(
    st.one_of(
        st.text(max_size=90),
        st.floats(),
        st.integers(),
        st.lists(st.floats(), max_size=3),
        st.from_regex(r"-?[0-9]{1,4}\.?[0-9]? ?[a-zA-Z/^%]{0,6}[0-9]?", fullmatch=True),
    )
)
def test_no_answer_makes_it_fail(answer):
    """Whatever is typed gets a sentence, and no mark-up of it stays alive."""
    for said in (
        check_answer(answer, "12 L/s", slips={"16 L/s": "."}),
        check_answer(answer, 0.5),
        check_choice(answer, "air", {"air": ".", "ice": "."}),
    ):
        assert str(said).startswith("**")
    hostile = f"<script>{str(answer)[:20]}</script>[x](y)"
    assert "<script" not in str(check_answer(hostile, "12 L/s")) and "<script" not in str(
        check_choice(hostile, "air", {"air": "."})
    )


# --- writing the committed outputs -----------------------------------------------------------------


def write(path, kernel):
    notebook = run(path, kernel)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    for number, cell in enumerate(code, 1):
        cell.metadata.pop("execution", None)
        cell.execution_count, cell.outputs = number, only_text(cell.outputs)
    path.write_text(nbformat.writes(notebook), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    from hydrokit.runner.kernel import Kernel

    with Kernel(FOLDER) as started:
        for each in PATHS:
            if len(sys.argv) == 1 or each.stem in sys.argv[1:]:
                write(each, started)


def test_messages_are_kind():
    assert "within 0.3 % counts" in judge("215", 214, "0.3 %").text
    for kind in ("12 L/s", "12 m/s", "12 h"):
        assert "minutes and seconds mixed" in judge(60 * Q_(kind), kind).text
    for kind in ("12 m", "12 V", "12 kg", "0.2 money/kWh", "3 W"):
        wrong = 60 * Q_(kind)
        assert "seconds" not in judge(wrong, kind).text, kind
    assert "thousand" not in judge(2000, 2).text and "diameter" not in judge(8, 2).text
    said = judge("12 L/S", "12 L/s").text
    assert said.startswith("**Right:**") and 'We read "12 L/S" as "12 L/s"' in said
    assert judge("24 L/S", "12 L/s").kind == "factor" and judge("42 M", "42 m").kind == "right"


@pytest.mark.parametrize("stem", ["03_duration_and_rights", "05_size_it"])
def test_a_median_and_a_dry_year_worked_by_hand_are_those_of_their_ten_numbers(stem):
    """Against the quantiles of SciPy (plotting positions of Weibull: both parameters zero)."""
    cells = {cell.id: cell for cell in nbformat.read(FOLDER / f"{stem}.ipynb", as_version=4).cells}
    text, printed = cells["ten-years"].source, cells["ten-years-run"].outputs[0].text
    row = re.search(r"^\| (?:L/s|kWh) \|(.+)\|$", text, re.M)[1]
    ten = [float(each.replace(",", "")) for each in row.split("|")]
    assert len(ten) == 10
    for name, exceeded in (("P50", 0.5), ("P90", 0.9)):
        wanted = mquantiles(ten, 1 - exceeded, alphap=0, betap=0)[0]
        by_hand = re.search(rf"\*\*{name} = ([\d.,]+) ", text)[1]
        assert float(by_hand.replace(",", "")) == pytest.approx(wanted, rel=5e-4)
        assert f"{name} = {by_hand} " in printed


def test_pipe_sizes_named_in_lessons_are_those_of_the_tables():
    """Machinery's Handbook and the makers' tables stand behind ``hk.pipe_size``."""
    named = re.compile(
        r"(?P<inch>\d+) in Schedule (?P<sch>\d+) (?P<what>PVC|steel)|PE100 SDR (?P<sdr>[\d.]+) (?P<mm>\d+) mm"
    )
    stated = re.compile(r"([\d.]+) (in|mm) (inside|outside)|(inside) is ([\d.]+) (mm|in)")
    compared = 0
    for path in PATHS:
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.cell_type != "markdown":
                continue
            text = cell.source.replace("*", "")
            found = list(named.finditer(text))
            for name, after in zip(found, [*found[1:], None]):
                to = name.groupdict()
                pipe = pipe_size(
                    f"PE100 SDR {to['sdr']} {to['mm']} mm"
                    if to["sdr"]
                    else f"{to['inch']} in {to['what']} Sch {to['sch']}"
                )
                for value in stated.finditer(
                    text, name.end(), after.start() if after else len(text)
                ):
                    number, unit, side = (
                        value[1] or value[5],
                        value[2] or value[6],
                        value[3] or value[4],
                    )
                    metres = pipe.inside_m if side == "inside" else pipe.outside_m
                    wanted = Q_(metres, "m").m_as(unit)
                    assert float(number) == pytest.approx(wanted, rel=5e-4), (
                        f"{path.stem}: {name[0]} {value[0]}"
                    )
                    compared += 1
    assert compared >= 4


def test_a_count_is_asked_for_without_a_unit_and_an_uncertainty_is_not_asked_for():
    assert (
        judge("214 days", 214).text
        == "**Not yet.** That is a time; asked for is a plain number, without a unit."
    )
    for days in ("214 days", "214 d", "214 Days", 214, "214", Q_(214, "day"), "5136 h"):
        assert (
            judge(days, 214, "0.3 %", unit="days").text == "**Right:** 214 days; we have 214 days."
        )
    assert judge("2 jets", 2, unit="jets").kind == judge("2", 2, unit="jets").kind == "right"
    assert judge("3 jet", 2, unit="jets").kind == "off"
    assert "asked for is a number of days" in judge("214 L/s", 214, unit="days").text
    assert '`"… days"`' in judge(None, 214, unit="days").text
    assert judge("soon", 2, unit="jets").kind == "unreadable"
    assert "14 %" in judge("14 L/s", 0.14).text
    assert "its uncertainty is not asked for" in judge("38 gpm ± 1 gpm", "37.5 gpm").text
    assert not judge("2250 gph", "37.5 gpm").text.endswith("?.")
