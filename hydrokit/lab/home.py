"""Where the workbook in the browser may keep its files."""

from __future__ import annotations

import os
from pathlib import Path

from ..errors import InputError, Mistake, RunError
from ..runner.terminal import say

__all__ = ["first_lesson", "lab_home", "open_lab", "refuse_shut_home", "workshop_in"]


def refuse_shut_home() -> None:
    """JupyterLab keeps its settings in the home folder, and tells a home that is shut in a page of text."""
    from jupyter_core.paths import jupyter_config_dir, jupyter_data_dir, jupyter_runtime_dir

    for folder in (jupyter_runtime_dir(), jupyter_config_dir(), jupyter_data_dir()):
        try:
            Path(folder).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            text = (
                f"this folder cannot be made ({error.strerror}), and JupyterLab keeps its "
                "settings there; let HOME be a folder that can be written"
            )
            raise InputError(Mistake(folder, "", text)) from None


def lab_home() -> Path:
    """The folder to work in: the checkout, or the working folder with notebooks of its own.

    An installed package's notebooks are copied, since a person's work must not
    lie where the next installation overwrites it.
    """
    from ..runner.lending import lend
    from ..site.folders import checkout

    root = checkout()
    if root:
        return root
    home = Path.cwd().resolve()
    lend(home, say)
    return home


def first_lesson(folder: Path) -> str:
    """Where a folder of a workshop begins, seen from it; empty for any other folder."""
    if (folder / "site.toml").exists() or not (folder / "lessons").is_dir():
        return ""
    found = sorted((folder / "lessons").glob("[0-9][0-9]_*.ipynb"))
    return found[0].relative_to(folder).as_posix() if found else ""


def workshop_in(named: str | None) -> str:
    """The first lesson of the folder that was named, where it is one of a workshop; else empty."""
    return first_lesson(Path(named).expanduser()) if named else ""


def open_lab(home: Path, port: int, browser: bool, study: str = "", first: str = "") -> None:
    """JupyterLab at the start page, on this machine only, until it is stopped.

    Parameters
    ----------
    home : Path
        Nothing outside this folder is shown.
    port : int
    browser : bool
        Open one.
    study : str
        Folder of the study that all notebooks are set to.
    first : str
        What to open, seen from home; the start page, or the list of notebooks, where nothing is named.

    Raises
    ------
    RunError
        JupyterLab is not installed.
    """
    try:
        from jupyterlab.labapp import LabApp
    except ImportError as error:
        raise RunError(
            f"JupyterLab is not installed here ({error}); install hydrokit anew."
        ) from error
    start = "notebooks/start.ipynb"
    first = first or (start if (home / start).is_file() else "notebooks")
    options = [
        "--ip=127.0.0.1",
        f"--port={port}",
        f"--ServerApp.root_dir={home}",
        f"--LabApp.default_url=/lab/tree/{first}",
        # A workbook for places without internet asks for no news and no newer version.
        "--ServerApp.kernel_spec_manager_class=hydrokit.lab.live.LabKernels",
        "--ServerApp.contents_manager_class=hydrokit.lab.contents.StudyContents",
        f"--StudyContents.study={study}",
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.handlers.announcements.NeverCheckForUpdate",
    ]
    if not browser:
        options.append("--no-browser")
    # Its page asks whether one wants news, unless a folder of settings says that nobody is to be asked.
    own = Path(__file__).parent / "jupyter"
    others = os.environ.get("JUPYTER_CONFIG_PATH", "")
    os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join(filter(None, (others, str(own))))
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--allow-root")
    LabApp.launch_instance(options)
