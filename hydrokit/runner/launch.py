"""Starts the kernel of a notebook. Python runs this file itself, with ``-P``, for `run` and for `lab`.

A notebook's working folder may hold anything: a neighbour's zip, a download. So nothing in it is
imported and none of its files is taken for settings. What a kernel may import is the Python it is
run by and this hydrokit, which is found by its place and not by way of a folder to search.
"""

from __future__ import annotations

import importlib.util
import os
import sys
import warnings
from pathlib import Path

HERE = Path(__file__).resolve()
PACKAGE = HERE.parents[1]
CHECKOUT = PACKAGE.parent if (PACKAGE.parent / "pyproject.toml").is_file() else None


def own_path() -> None:
    """Search only the folders of this Python: no working folder, and not the checkout that hydrokit
    may lie in."""
    sys.path[:] = [
        each
        for each in sys.path
        if os.path.isabs(each) and Path(each) not in (CHECKOUT, PACKAGE, HERE.parent)
    ]


def quiet_worker() -> None:
    """Begin a process that works for another: what it has to say comes back as its result."""
    own_path()
    warnings.simplefilter("ignore")


def for_children() -> dict[str, str]:
    """What the environment of a new Python process must say, so that its working folder is no place
    to import from."""
    places = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return {
        "PYTHONSAFEPATH": "1",
        "PYTHONPATH": os.pathsep.join(each for each in places if os.path.isabs(each)),
    }


def find_hydrokit() -> None:
    """Import hydrokit from where this file lies."""
    if "hydrokit" in sys.modules:
        return
    spec = importlib.util.spec_from_file_location(
        "hydrokit", PACKAGE / "__init__.py", submodule_search_locations=[str(PACKAGE)]
    )
    assert spec is not None and spec.loader is not None  # this very file lies in the package
    module = sys.modules["hydrokit"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)


def main() -> None:
    """Start a kernel with the arguments of the command line."""
    own_path()
    find_hydrokit()
    from hydrokit.report.plot_settings import settings_from_elsewhere

    settings_from_elsewhere()
    from ipykernel import kernelapp

    kernelapp.launch_new_instance(["--IPKernelApp.ignore_cwd=True", *sys.argv[1:]])


if __name__ == "__main__":
    main()
