"""One notebook, run strictly: known parameters only, and failures told in a sentence.

Papermill does the running; what it lets pass in silence is refused here.
"""

from __future__ import annotations

import ast
import logging
from pathlib import Path
from typing import TYPE_CHECKING, Any

import nbformat
import papermill
from nbclient.exceptions import DeadKernelError
from nbformat import NotebookNode
from papermill.clientwrap import PapermillNotebookClient
from papermill.engines import Engine, papermill_engines
from papermill.exceptions import PapermillExecutionError

from .. import errors
from ..errors import HydrokitError, InputError, Mistake, RunError, did_you_mean
from .kernel import Kernel

if TYPE_CHECKING:
    from ..files import Entries

__all__ = ["label", "parameters_of", "read_notebook", "run_notebook"]

ENGINE = "hydrokit-shared-kernel"
DEAD = "the kernel died"
INJECTED = "injected-parameters"
# Told by our own sentences; nbclient's lines about a dead kernel would come twice.
QUIET = logging.Logger("hydrokit.run", level=logging.CRITICAL + 1)


class SharedKernelEngine(Engine):
    """Papermill's way in for a kernel that outlives one notebook."""

    @classmethod
    def execute_managed_notebook(
        cls, nb_man: object, kernel_name: str, kernel: Any = None, **_: object
    ) -> None:
        """Run the cells of a notebook in the given kernel."""
        started = [0]
        client = PapermillNotebookClient(
            nb_man,
            km=kernel.manager,
            log=QUIET,
            on_cell_start=lambda cell, cell_index: started.append(cell_index),
        )
        client.kc = kernel.client
        client.reset_execution_trackers()
        try:
            client.papermill_execute_cells()
        except DeadKernelError as error:
            raise PapermillExecutionError(started[-1], None, "", DEAD, "", []) from error


papermill_engines.register(ENGINE, SharedKernelEngine)


def label(path: Path) -> str:
    """How a notebook is called in a sentence: ``02 flow duration``."""
    return path.stem.replace("_", " ")


def parameters_of(notebook: NotebookNode, name: str) -> Entries:
    """The parameters a notebook takes, from its cell tagged ``parameters``.

    The cell holds plain literals only. Anything else would be computed before
    the values of the run arrive, and keep the value of the example.
    """
    cells = [cell for cell in notebook.cells if _tagged(cell, "parameters")]
    if len(cells) != 1:
        raise RunError(f"{name} needs one cell tagged 'parameters'; it has {len(cells)}.")
    found = {}
    try:
        for line in ast.parse(cells[0].source).body:
            (target,) = line.targets
            found[target.id] = ast.literal_eval(line.value)
    except (SyntaxError, AttributeError, ValueError) as error:
        raise RunError(
            f'{name}: the cell of parameters may hold only lines such as display = "metric".'
        ) from error
    return found


def read_notebook(path: Path, parameters: Entries) -> NotebookNode:
    """Read a notebook and make sure that it takes these parameters.

    Raises
    ------
    RunError
        Not a notebook, no plain cell of parameters, or a parameter it does not know.
    """
    name = label(path)
    try:
        notebook = nbformat.read(path, as_version=4)
    except (OSError, ValueError, nbformat.ValidationError) as error:
        raise RunError(f"{path} cannot be read as a notebook: {error}") from error
    notebook.cells = [cell for cell in notebook.cells if not _tagged(cell, INJECTED)]
    known = parameters_of(notebook, name)
    for each in parameters:
        if each not in known:
            raise RunError(
                f"{name} has no parameter '{each}'{did_you_mean(each, known)}; it takes: {', '.join(known)}."
            )
    return notebook


def run_notebook(
    name: str, notebook: NotebookNode, parameters: Entries, kernel: Kernel
) -> NotebookNode:
    """Run a notebook with these parameters in a fresh kernel and return it with its outputs.

    Raises
    ------
    RunError
        Names the notebook and the code cell, counted from one, and says why.
    InputError
        A cell met bad input; its mistakes, as they are.
    """
    try:
        return papermill.execute_notebook(
            notebook,
            None,
            parameters=parameters,
            engine_name=ENGINE,
            kernel_name="python3",
            language="python",
            progress_bar=False,
            kernel=kernel,
        )
    except PapermillExecutionError as error:
        raise _told(name, _code_cell(notebook, error.cell_index), error) from error


def _code_cell(notebook: NotebookNode, index: int) -> int:
    """The number, among the code cells of a notebook, of a cell of its executed form.

    The executed form has one cell more: the parameters of the run, after the example's.
    """
    (example,) = [i for i, cell in enumerate(notebook.cells) if _tagged(cell, "parameters")]
    last = index if index <= example else index - 1
    return sum(cell.cell_type == "code" for cell in notebook.cells[: last + 1])


def _told(name: str, number: int, error: PapermillExecutionError) -> HydrokitError:
    """The failure of a cell as one of our own errors."""
    if error.ename == "InputError":
        return InputError([Mistake("", "", line) for line in error.evalue.splitlines()])
    if error.ename == DEAD:
        return RunError(
            f"{name}: the kernel died in code cell {number}; running out of memory is the usual cause."
        )
    reason = error.evalue
    if error.ename not in errors.__all__:
        first = (error.evalue.splitlines() or [""])[0]
        reason = f"{error.ename}: {first}" if first else error.ename
    return RunError(f"{name} stopped in code cell {number}: {reason}")


def _tagged(cell: NotebookNode, tag: str) -> bool:
    return tag in cell.metadata.get("tags", [])
