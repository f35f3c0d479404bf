"""What a notebook needs to be a workbook: cells that step back where data lack, answers, and sums
by hand held against them.

``%reload_ext hydrokit.report.workbook`` gives a notebook the line ``%%needs``: the cell below it is
run where the study ``s`` has what is named there, else one line says what is lacking. So the cell
itself holds nothing but the working.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from IPython.utils.dir2 import get_real_method

from ..errors import InputError, Mistake, did_you_mean
from ..sentences import plain_number, series_text
from ..study.answer import Answer
from ..study.attended import attended
from ..study.questions import questions
from ..study.study import Study
from ..study.view import View
from .display import Table, Words, escape_markdown
from .pages.common import lacking
from .pages.lack_words import BRIEFLY
from .showing import html_of, is_result, read_in

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from pint import Quantity

__all__ = [
    "agreement",
    "answers",
    "load_ipython_extension",
    "plot",
    "show",
    "table",
    "unload_ipython_extension",
]

DIGITS = 3
INJECTED = "# Parameters"  # how a cell of given parameters begins
# A part in a thousand is one of the third digit at most.
SAME_DIGITS = 10.0**-DIGITS
_SAME = 1e-9


_NOT_WORKED = "*Not worked here: "


def needed(study: Study, view: View, names: str) -> Words | None:
    """What is said where the study lacks one of these, None where it has all.

    Parameters
    ----------
    names : str
        Properties of the study, with what lies within them, and keys of answers, parted by commas:
        ``"record, wires.main.run, energy.net"``.
    """
    for name in (each.strip() for each in names.split(",")):
        first, *within = name.split(".")
        if name in questions():
            answer = study.answer(name)
            if answer is None or not answer.known:
                unknown = BRIEFLY.get(name, f"the answer to {name}")
                return Words(f"{_NOT_WORKED}{unknown} is not known to this study.*")
            continue
        found = getattr(study, first)
        if found is None:
            return lacking(study, view, first)
        for each in within:
            found = getattr(found, each)
            if found is None:
                return Words("")  # a part that this plant need not have
    return None


def answers(study: Study, view: View, asked: Mapping[str, str], caption: str = "") -> Table:
    """Answers side by side: each with its 90 % interval, what it rests on, and where it comes from.

    Parameters
    ----------
    asked : mapping of str to str
        What a reader calls it to the key of the question: ``{"median year": "energy.annual.p50"}``.
    """
    rows = []
    for name, key in asked.items():
        found = study.answer(key)
        rows.append(
            (name, "not known", "", "", "")
            if found is None or not found.known
            else (name, view.shown(found), view.interval(found), found.evidence.words, found.source)
        )
    return Table(("what", "answer", "90 % interval", "evidence", "from"), rows, caption)


def table(frame: pd.DataFrame, caption: str = "", digits: int = DIGITS) -> Table:
    """A frame as a table of the page: its rows by their names, thousands parted, and nothing where
    nothing is known.

    Parameters
    ----------
    frame : pandas.DataFrame
    caption : str
        What it shows, also the title of a fold that it opens.
    digits : int
        Significant digits of its numbers.
    """
    columns = tuple(str(each) for each in (frame.index.name or "", *frame.columns))
    rows = [(str(name), *row) for name, row in zip(frame.index, frame.itertuples(index=False))]
    return Table(columns, rows, caption, digits=digits)


def agreement(
    view: View,
    what: str,
    by_hand: Quantity | float,
    answer: Answer | Quantity | float | None,
    why: str = "",
    kind: str = "",
    digits: int = DIGITS,
) -> Words:
    """The result of a sum by hand beside the answer of the study, and whether three digits agree.

    Parameters
    ----------
    what : str
        What was worked out: ``"the net energy of a mean year"``.
    by_hand : Quantity or float
        A bare number where the answer has no dimension, or is in kWh or money.
    answer : Answer, Quantity or float
        A result that is no answer to a reader's question is a quantity.
    why : str
        What the sum by hand leaves out, where it leaves anything out.
    kind : str
        How a result is shown that is no answer, such as ``"flow"``.
    digits : int
        Of such a result, as many as the page gives it elsewhere.
    """
    if answer is not None and not isinstance(answer, Answer):
        answer = Answer("", in_si(answer), kind, digits=digits)
    if answer is None or not answer.known:
        return Words(f"*{what} is not known to this study.*")
    value = in_si(by_hand)
    theirs = float(answer.value)
    apart = abs(value - theirs) / abs(theirs) if theirs else abs(value)
    # as many digits as the answer has: more would read as a difference where there is none
    mine = view.amount(value, answer.kind, answer.digits, True)
    shown = (
        view.shown(answer) if answer.key else view.amount(theirs, answer.kind, answer.digits, True)
    )
    if apart < SAME_DIGITS:
        same = "the same" if apart < _SAME else f"the same to {DIGITS} digits"
        return Words(f"By hand: {what} is **{shown}**; the study says {same}.")
    far = f"They are {plain_number(100 * apart, 2)} % apart"
    said = f"By hand: {what} is **{mine}**; the study says **{shown}**. "
    return Words(f"{said}{far}{f': {escape_markdown(why)}' if why else ''}.")


def in_si(amount: Quantity | float) -> float:
    """An amount as answers hold it: in SI, energy in kWh."""
    if isinstance(amount, (float, int, np.number)):
        return float(amount)
    if amount.is_compatible_with("kWh"):
        return float(amount.m_as("kWh"))
    return float(amount.to_base_units().magnitude)


def plot(result: object, ax: Axes | None = None, view: View | None = None) -> Axes:
    """Draw a result in one call, in the notebook's units; give its axes, so that more can be drawn there.

    Parameters
    ----------
    result
        What :func:`hydrokit.report.plotting.plot` draws: a record, a duration curve, a rating, …
    ax : Axes, optional
    view : View, optional
        That of the notebook where none is given.
    """
    from . import plotting

    return plotting.plot(result, ax, view)


def _as_png(axes: Axes) -> tuple[bytes, dict[str, str]] | None:
    """Axes that end a cell, as a picture with words for it."""
    import io

    made = axes.get_figure(root=True)
    if made is None or made.canvas.manager is not None:
        return None  # pyplot shows its own
    buffer = io.BytesIO()
    made.savefig(buffer, format="png", dpi=144, facecolor="white", metadata={"Software": None})
    names = " against ".join(
        each for each in (axes.get_title(), axes.get_ylabel(), axes.get_xlabel()) if each
    )
    return buffer.getvalue(), {"alt": ", ".join(each for each in (names, _reach(axes)) if each)}


def _reach(axes: Axes) -> str:
    """Least and most of what is drawn, in words."""
    from matplotlib.patches import Rectangle

    bars = [each.get_height() for each in axes.patches if isinstance(each, Rectangle)]
    lines = [np.asarray(each.get_ydata(), dtype=float).ravel() for each in axes.lines]
    drawn = np.concatenate([*lines, np.array(bars, dtype=float)]) if lines or bars else np.array([])
    known = drawn[np.isfinite(drawn)]
    if not known.size:
        return ""
    return f"from {plain_number(known.min(), 3)} to {plain_number(known.max(), 3)}"


def show(*things: object) -> None:
    """Show several things below one cell, in their order."""
    from IPython.display import display

    for each in things:
        if not (isinstance(each, Words) and not each.marked):
            display(each)


def load_ipython_extension(shell: Any) -> None:
    """Teach a notebook the line ``%%needs``, and to show results in the reader's units.

    Raises
    ------
    InputError
        The notebook was run with a parameter that it does not have.
    """
    read_in(shell.user_ns)
    refuse_unknown(shell.user_ns.get("In", []))

    def needs(line: str, cell: str) -> Any:
        names = shell.user_ns
        words = needed(names["s"], names["view"], line)
        if words is None:
            return run(shell, cell)
        # A page says once what is lacking; who works in the notebook is told at every cell.
        said = set() if attended() else names.setdefault("_lacking_said", set())
        # what no answer is known to, the sections of a page say in their own words
        unknown = words.marked.startswith(_NOT_WORKED) and not attended()
        if not words.marked or unknown or words.marked in said:
            return None
        said.add(words.marked)
        return words

    shell.register_magic_function(needs, "cell", "needs")
    shell.display_formatter.formatters["image/png"].for_type_by_name(
        "matplotlib.axes._axes", "Axes", _as_png
    )
    shell.display_formatter.formatters["text/html"].for_type(object, _as_html)


def refuse_unknown(typed: Sequence[str]) -> None:
    """Refuse a parameter given from outside, in a cell of its own after the notebook's, that is
    none of the notebook's."""
    for own, given in zip(typed, typed[1:]):
        if given.startswith(INJECTED):
            known = _assigned(own)
            mistakes = [
                Mistake(
                    "",
                    each,
                    f"the notebook takes {series_text(known)}{did_you_mean(each, known)}",
                )
                for each in _assigned(given)
                if each not in known
            ]
            if mistakes:
                raise InputError(mistakes)


def _assigned(source: str) -> list[str]:
    lines = (each for each in ast.parse(source).body if isinstance(each, ast.Assign))
    return [each.id for line in lines for each in line.targets if isinstance(each, ast.Name)]


def _as_html(thing: Any) -> str | None:
    """A result as a table in the reader's units; anything else as it shows itself."""
    if is_result(thing):
        return html_of(thing)
    form = get_real_method(thing, "_repr_html_")
    return None if form is None else form()


def run(shell: Any, source: str) -> Any:
    """Run a cell in the names of the notebook; give what its last line is worth, as a notebook shows it."""
    tree = shell.compile.ast_parse(shell.transform_cell(source))
    name = shell.compile.cache(source, shell.execution_count, raw_code=source)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    exec(shell.compile(tree, name, "exec"), shell.user_ns)
    if last is None:
        return None
    return eval(shell.compile(ast.Expression(last.value), name, "eval"), shell.user_ns)


def unload_ipython_extension(shell: Any) -> None:
    """Forget both."""
    read_in({})
    shell.magics_manager.magics["cell"].pop("needs", None)
    shell.display_formatter.formatters["text/html"].pop(object, None)
