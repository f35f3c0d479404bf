"""A study and notebooks small enough to run in a second, for the tests of the runner."""

from __future__ import annotations

import hashlib
from pathlib import Path

import nbformat
from nbformat import v4

from hydrokit.errors import Finding

PARAMETERS = 'study = "studies/none"\ndisplay = "metric"'
PICTURE = """
import base64, io
import matplotlib.pyplot as plt
from IPython.display import display
figure, axes = plt.subplots(figsize=(3, 2))
axes.plot([0, 1], [0, 1])
buffer = io.BytesIO()
figure.savefig(buffer, format="png")
plt.close(figure)
display({"image/png": base64.b64encode(buffer.getvalue()).decode(), "text/plain": "a line"},
        metadata={"image/png": {"alt": "a line that rises"}}, raw=True)
"""
# Of a kernel for these notebooks: they ask for none of the rooms, whose import takes longer than they do.
EXTENSIONS = ("hydrokit.runner.fresh",)
HOSTILE = "<script>alert(1)</script> \"quoted\" 'too'\nсело & 谷"


def words(text: str) -> str:
    """The source of a cell that shows Markdown."""
    return f"from IPython.display import Markdown\nMarkdown({text!r})"


def code(source: str, *tags: str):
    """A code cell."""
    return v4.new_code_cell(source, metadata={"tags": list(tags)} if tags else {})


def notebook(
    path: Path, *cells, title: str = "How much?", headline: str = "**12 L/s**, give or take 1."
) -> Path:
    """Write a notebook: a title, parameters, the cells given, a headline."""
    content = v4.new_notebook(
        cells=[
            v4.new_markdown_cell(f"# {title}\n\nA word to begin with."),
            code(PARAMETERS, "parameters"),
            *cells,
            code(words(headline), "headline"),
        ]
    )
    nbformat.write(content, path)
    return path


def notebooks(folder: Path, **sources: str) -> Path:
    """A folder of notebooks, one code cell each: ``notebooks(folder, _01_one="print(1)")``."""
    folder.mkdir(exist_ok=True)
    for name, source in sources.items():
        notebook(folder / f"{name.lstrip('_')}.ipynb", code(source), title=name.lstrip("_"))
    return folder


def study(folder: Path, name: str = "Toy creek") -> Path:
    """A study folder that `open_toy` opens."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(f"name = {name!r}\n", encoding="utf-8")
    return folder


class ToyStudy:
    """What the runner asks of a study."""

    def __init__(
        self,
        folder: Path,
        name: str = "Toy creek",
        place: str = "Nowhere",
        energy: float = 12345.6789,
    ) -> None:
        self.folder, self.name, self.place, self.energy = folder, name, place, energy

    def read(self) -> None:
        """All there is was read."""

    def results(self) -> dict:
        return {
            "year": {"energy_kwh": self.energy, "months": [1.5, 2.5]},
            "site": {"name": self.name, "jets": 4},
        }

    def findings(self) -> list[Finding]:
        return [
            Finding("note", "record", f"12 years of days ({self.name})."),
            Finding("problem", "rights", "No residual flow is given."),
            Finding("caution", "rating", "One reading below 8 L/s."),
        ]

    def told(self, display: str = "") -> list[Finding]:
        return self.findings()

    def inputs(self) -> dict[str, str]:
        return {"site.toml": hashlib.sha256((self.folder / "site.toml").read_bytes()).hexdigest()}


def open_toy(folder: Path) -> ToyStudy:
    """Open the toy."""
    return ToyStudy(folder)


def all_bytes(folder: Path) -> dict[str, bytes]:
    """Every file of a folder, to compare two states byte by byte."""
    return {
        str(each.relative_to(folder)): each.read_bytes()
        for each in sorted(folder.rglob("*"))
        if each.is_file()
    }
