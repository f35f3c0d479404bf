"""The page to begin on: which study, which question; check it, run it, open its report."""

from __future__ import annotations

import json
import os
import re
import webbrowser
from pathlib import Path
from typing import Any, Callable

from ..errors import HydrokitError, InputError
from ..report.display import Words, escape_markdown, findings_table
from ..site import folders

__all__ = ["checked", "opened", "page", "questions", "ran", "studies_in", "where"]

_HEADING = re.compile(r"^#[ \t]+(.+)$", re.MULTILINE)


def studies_in(folder: str = "studies") -> dict[str, Path]:
    """The studies of a folder, by name; looked for here, beside the notebooks, and in the checkout."""
    found: dict[str, Path] = {}
    for root in (Path.cwd(), Path.cwd().parent, folders.checkout()):
        for site in sorted((root / folder).glob("*/site.toml")) if root else ():
            found.setdefault(site.parent.name, site.parent.resolve())
    return found


def questions() -> dict[str, str]:
    """The numbered notebooks, by name, each with the question it is headed by."""
    found = {}
    for path in folders.notebooks_in(folders.notebook_folder()):
        first = _HEADING.search(
            "".join(json.loads(path.read_text(encoding="utf-8"))["cells"][0]["source"])
        )
        found[path.stem] = first[1].strip() if first else path.stem
    return found


# --- what the buttons do --------------------------------------------------------------------


def checked(study: Path) -> Any:
    """Every mistake of a study, or what is noteworthy about it."""
    from ..study.opening import check_study, open_study

    try:
        findings = check_study(study)
    except HydrokitError as error:
        return _sentences(error)
    return findings_table(findings, open_study(study).view(), f"{study.name} is sound")


def ran(study: Path, notebook: str = "", say: Callable[[str], object] = lambda line: None) -> Words:
    """Run one notebook of a study, or all, and tell how it went."""
    from ..runner.run import run_study

    try:
        outcome = run_study(study, [notebook] if notebook else None, progress=say)
    except HydrokitError as error:
        return _sentences(error)
    moves = [f"- {escape_markdown(str(move))}" for move in outcome.moves]
    return Words(
        "\n".join(
            [
                f"The report of {escape_markdown(study.name)} is made.",
                *(["", "Moved against the accepted results:", "", *moves] if moves else []),
            ]
        )
    )


def opened(study: Path, notebook: str = "", show: Callable[[str], bool] = webbrowser.open) -> Words:
    """Show a study's report, or the page of one notebook, in the browser of this machine."""
    reports = study / folders.REPORTS
    page = (
        reports / f"{notebook}.html"
        if notebook and (reports / f"{notebook}.html").is_file()
        else reports / "index.html"
    )
    if not page.is_file():
        return Words("There is no report yet: press **Run** first.")
    done = show(page.as_uri())
    beside = os.path.relpath(page, Path.cwd()).replace(os.sep, "/")
    return Words(
        f"{'Opened in a browser' if done else 'No browser was found here'}. It opens here "
        f"too: [{page.name}]({beside})"
    )


def where(study: str, notebook: str = "", set_to: str = "") -> Words:
    """The notebook to open, and the line that sets it to the study where the lab has not."""
    asked = questions()
    links = [
        f"- [{escape_markdown(asked[name])}]({name}.ipynb)"
        for name in ([notebook] if notebook else asked)
    ]
    line = (
        "They are set to this study. Choose *Run All Cells* from the menu *Run*."
        if study == set_to
        else f'In its second cell write `study = "{study}"`, then choose *Run All Cells* from the menu *Run*.'
    )
    return Words("\n".join([*links, "", line]))


def _sentences(error: HydrokitError) -> Words:
    lines = (
        [str(each) for each in error.mistakes] if isinstance(error, InputError) else [str(error)]
    )
    return Words("\n".join(["**Not yet.**", "", *(f"- {escape_markdown(line)}" for line in lines)]))


# --- the page -------------------------------------------------------------------------------


def page(folder: str = "studies", study: str = "") -> Any:
    """Two lists to choose from, three buttons, and what came of them.

    Parameters
    ----------
    folder : str
        Where the studies lie.
    study : str
        Folder of the study that the notebooks are set to; chosen to begin with.
    """
    import ipywidgets
    from IPython.display import clear_output, display

    known, set_to = studies_in(folder), study
    if study:
        own = folders.find_study(study)
        known = {own.name: own} | known
    if not known:
        return Words(
            f"There is no study in the folder `{folder}` yet. Make one in a terminal, with "
            f"`hydrokit new {folder}/mine`, or fetch a demo with `hydrokit new --demo "
            "alder-burn`, and run this cell again."
        )
    look = {"layout": {"width": "52em", "max_width": "100%"}, "style": {"description_width": "8em"}}
    chosen = ipywidgets.Dropdown(options=list(known), description="which study", **look)
    question = ipywidgets.Dropdown(
        options=[
            (f"all {len(questions())}", ""),
            *((title, name) for name, title in questions().items()),
        ],
        description="which question",
        **look,
    )
    buttons = [ipywidgets.Button(description=text) for text in ("Check", "Run", "Open the report")]
    told, guide = ipywidgets.Output(), ipywidgets.Output()

    def show(place: Any, *things: Any) -> None:
        with place:
            clear_output(wait=True)
            display(*things)

    def pressed(act: Callable[[], Any]) -> None:
        for button in buttons:
            button.disabled = True
        try:
            show(told, act())
        except Exception as error:  # nobody sees what a button's work raises
            what = escape_markdown(f"{type(error).__name__}: {error}")
            show(told, Words(f"**hydrokit met an error it did not expect** ({what})."))
        finally:
            for button in buttons:
                button.disabled = False

    def run() -> Words:
        lines: list[str] = []

        def say(line: str) -> None:
            lines.append(f"- {escape_markdown(line)}")
            show(told, Words("\n".join(lines)))

        say("running; a minute or so")
        return ran(known[chosen.value], question.value, say)

    acts = (
        lambda: checked(known[chosen.value]),
        run,
        lambda: opened(known[chosen.value], question.value),
    )
    for button, act in zip(buttons, acts):
        button.on_click(lambda _, act=act: pressed(act))

    def guided(_: Any = None) -> None:
        ours = set_to and known[chosen.value] == folders.find_study(set_to)
        show(guide, where(set_to if ours else f"{folder}/{chosen.value}", question.value, set_to))

    for choice in (chosen, question):
        choice.observe(guided, "value")
    guided()
    return ipywidgets.VBox([chosen, question, ipywidgets.HBox(buttons), told, guide])
