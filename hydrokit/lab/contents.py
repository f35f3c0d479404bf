"""The notebooks as the browser gets them: set to the study that `hydrokit lab` was opened on.

What a person reads in the cell of parameters is what runs. On disk the notebooks stay as they were,
so that no study's name is left behind in them.
"""

from __future__ import annotations

import ast
import json
import re
from typing import TYPE_CHECKING, Any

from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager
from traitlets import Unicode

if TYPE_CHECKING:
    from ..files import Entries

__all__ = ["StudyContents", "set_to"]

_LINE = re.compile(r"^study = (.*?)(\s*#.*)?$", re.MULTILINE)


def study_of(notebook: Entries) -> str | None:
    """The study that the cell of parameters names; None where it names none, or not plainly."""
    cell = _parameters(notebook)
    found = None if cell is None else _LINE.search(_source(cell))
    if found is None:
        return None
    try:
        named = ast.literal_eval(found[1])
    except (SyntaxError, ValueError):
        return None
    return named if isinstance(named, str) else None


def set_to(notebook: Entries, study: str) -> None:
    """Let the cell of parameters name this study, where it names one."""
    cell = _parameters(notebook)
    if cell is not None and study_of(notebook) is not None:
        line = f"study = {json.dumps(study)}"
        cell["source"] = _LINE.sub(lambda was: line + (was[2] or ""), _source(cell), count=1)


def _parameters(notebook: dict[str, Any]) -> dict[str, Any] | None:
    cells = notebook.get("cells", [])
    tagged = (each for each in cells if "parameters" in each.get("metadata", {}).get("tags", []))
    return next(tagged, None)


def _source(cell: dict[str, Any]) -> str:
    return "".join(cell["source"])


class StudyContents(AsyncLargeFileManager):
    """Files of the lab; a notebook is opened on a study, and saved without it.

    A notebook in which the person has written another study keeps that.
    """

    study = Unicode("", help="folder of the study that notebooks are opened on").tag(config=True)

    async def get(self, path: str, content: bool = True, *rest: object, **named: object) -> Any:
        """A file or folder; a notebook set to the study."""
        model = await super().get(path, content, *rest, **named)
        if self.study and content and model["type"] == "notebook":
            usual = study_of(model["content"])
            if usual is not None:
                self._usual[model["path"]] = usual
                set_to(model["content"], self.study)
        return model

    async def save(self, model: Entries, path: str = "") -> Any:
        """Write a file; of a notebook the study it had on disk."""
        notebook = model.get("content") if model.get("type") == "notebook" else None
        if notebook and study_of(notebook) == self.study and path.strip("/") in self._usual:
            set_to(notebook, self._usual[path.strip("/")])
        return await super().save(model, path)

    def __init__(self, *args: object, **named: object) -> None:
        super().__init__(*args, **named)
        self._usual: dict[str, str] = {}  # path -> the study its notebook names on disk
