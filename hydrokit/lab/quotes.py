"""A kind word before the traceback, where an answer in a lesson lacks a quote or a cell came too early.

``%reload_ext hydrokit.lab.lessons`` looks at each cell before it is run:

>>> print(hint('answer_3 = 180 gpm', {}))
Quotes are missing around the answer. Write it like this and run the cell again:
    answer_3 = "180 gpm"
>>> print(hint("answer_3 = 214", {}))
None
"""

from __future__ import annotations

import ast
import builtins
import re
import warnings
from collections.abc import Mapping, Set
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

__all__ = ["answered_in", "hint", "load_ipython_extension", "unload_ipython_extension"]

_ANSWER = re.compile(r"^(?P<name>answer_\d+)\s*(?P<sign>={0,2})\s*(?P<typed>.*?)\s*$")
_NAMED = re.compile(r"answer_\d+")
_QUOTES = "\"'`“”„‚‘’«»"
_SHOWN = 60  # letters of an answer that are said again


class _Cell(Protocol):
    raw_cell: str


def hint(source: str, names: Mapping[str, object]) -> str | None:
    """What to say to a cell that cannot be run because an answer was typed wrongly; None for any other cell.

    Parameters
    ----------
    source : str
        The cell as typed.
    names : mapping of str to object
        What is defined in the notebook.
    """
    slip = _slip(source, names)
    return slip[1] if slip else _too_early(source, names)


def _slip(source: str, names: Mapping[str, object]) -> tuple[str, str] | None:
    """The answer that was typed wrongly, and what to say to it."""
    lines = source.splitlines()
    tree, at = _read(source)
    if tree is None:
        return _about(lines[at - 1]) if 0 < at <= len(lines) else None
    known = set(names) | set(dir(builtins)) | _assigned(tree)
    for part in tree.body:
        line = lines[part.lineno - 1]
        compared = isinstance(part, ast.Expr) and isinstance(part.value, ast.Compare)
        # A number times what nobody has named, or a word alone: its quotes were forgotten.
        bare = isinstance(part, ast.Assign) and (
            isinstance(part.value, ast.Name) or re.match(r"\w+\s*=\s*\d", line)
        )
        if compared or (bare and _loaded(part) - known):
            said = _about(line)
            if said:
                return said
    return None


def _too_early(source: str, names: Mapping[str, object]) -> str | None:
    """What a cell lacks that runs before those above it; a cell with an answer is never told so."""
    tree, _ = _read(source)
    if tree is None:
        return None
    made = _assigned(tree)
    if any(_NAMED.fullmatch(each) for each in made):
        return None
    known = set(names) | set(dir(builtins)) | made
    lacking = sorted(each for each in _loaded(tree) - known if not _NAMED.fullmatch(each))
    if not lacking:
        return None
    first = next((each for each in lacking if each.startswith("check_")), lacking[0])
    return f"This cell needs {first}. Run the cells above it first, from the top."


def answered_in(source: str) -> set[str]:
    """Names such as ``answer_3`` that a cell gives or asks for."""
    return set(re.findall(r"\banswer_\d+\b", source))


def _read(source: str) -> tuple[ast.Module | None, int]:
    """The cell read, or None with the line at which it cannot be read."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return ast.parse(source), 0
    except SyntaxError as error:
        return None, error.lineno or 0
    except ValueError:
        return None, 0


def _about(line: str) -> tuple[str, str] | None:
    """A hint on a line that was to hold an answer, and the name of that answer."""
    found = _ANSWER.match(line)
    if not found or not found["typed"]:
        return None
    typed = found["typed"]
    if "(" in typed:
        if typed.count("(") <= typed.count(")"):
            return None  # a sum, not an answer without its quotes
        said = 'A bracket "(" is opened and not closed. Close it and run the cell again.'
        return found["name"], said
    bare = typed.strip(_QUOTES + " ")
    if found["sign"] == "==" and typed[0] in "\"'" and typed[-1] == typed[0]:
        wrong = "One sign = gives an answer; two only compare."
    elif found["sign"] == "":
        wrong = "The sign = is missing before the answer."
    elif typed[0] in _QUOTES and typed[-1] in _QUOTES and len(typed) > 1:
        wrong = "The quotes around the answer are not a pair of straight ones."
    elif typed[0] in _QUOTES or typed[-1] in _QUOTES:
        wrong = "A quote is missing at one end of the answer."
    else:
        wrong = "Quotes are missing around the answer."
    example = f'{found["name"]} = "{bare[:_SHOWN]}"'
    return found["name"], f"{wrong} Write it like this and run the cell again:\n    {example}"


def _loaded(tree: ast.AST) -> set[str]:
    return {
        each.id
        for each in ast.walk(tree)
        if isinstance(each, ast.Name) and isinstance(each.ctx, ast.Load)
    }


def _assigned(tree: ast.AST) -> Set[str]:
    found: set[str] = set()
    for each in ast.walk(tree):
        if isinstance(each, ast.Name) and isinstance(each.ctx, ast.Store):
            found.add(each.id)
        elif isinstance(each, (ast.FunctionDef, ast.ClassDef)):
            found.add(each.name)
        elif isinstance(each, (ast.Import, ast.ImportFrom)):
            found.update((name.asname or name.name).partition(".")[0] for name in each.names)
        elif isinstance(each, ast.arg):
            found.add(each.arg)
        elif isinstance(each, ast.ExceptHandler) and each.name:
            found.add(each.name)
    return found


# --- in the notebook -----------------------------------------------------------------------------


class _Reader:
    """Looks at each cell of one notebook before it is run."""

    def __init__(self, shell: InteractiveShell) -> None:
        self.shell = shell

    def before(self, cell: _Cell) -> None:
        names = self.shell.user_ns
        slip = _slip(cell.raw_cell, names)
        said = slip[1] if slip else _too_early(cell.raw_cell, names)
        if said:
            print(said)
        # What cannot be read is no answer, and takes the place of the one before it.
        if slip:
            names[slip[0]] = None
        for name in answered_in(cell.raw_cell):
            names.setdefault(name, None)


_readers: dict[int, _Reader] = {}


def load_ipython_extension(shell: InteractiveShell) -> None:
    """Look at each cell before it is run."""
    unload_ipython_extension(shell)
    reader = _readers[id(shell)] = _Reader(shell)
    shell.events.register("pre_run_cell", reader.before)


def unload_ipython_extension(shell: InteractiveShell) -> None:
    """Look at none any more."""
    reader = _readers.pop(id(shell), None)
    if reader is not None:
        shell.events.unregister("pre_run_cell", reader.before)
