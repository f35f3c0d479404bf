"""What to carry to a shed without internet: the packages of this installation, with their versions."""

from __future__ import annotations

import platform
import sys
from importlib import metadata

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import hydrokit

__all__ = ["kit_text", "needed"]

_HEAD = """# What hydrokit {version} needs, as it is installed here: {system}, Python {python}.
# With internet, on a machine of the same kind, fetch the wheels into a folder beside this file:
#     pip download --dest wheels --requirement packages.txt
# Put hydrokit's own wheel into that folder too; in its source folder this makes it:
#     pip wheel --no-deps --wheel-dir wheels .
# In the shed, on each machine of that kind with Python {python}:
#     python -m venv .venv
#     .venv/bin/pip install --no-index --find-links wheels hydrokit
# (on Windows: .venv\\Scripts\\pip). For another system or Python fetch another folder of wheels there.
"""


def needed(name: str = "hydrokit") -> dict[str, str]:
    """Packages that one needs here, and those that they need in turn: name to version.

    Parameters
    ----------
    name : str
        A package that is installed.
    """
    found: dict[str, str] = {}
    # A package and the extras of it that somebody asks for.
    waiting, seen = [(name, "")], set()
    while waiting:
        each, extra = waiting.pop()
        if (each, extra) in seen:
            continue
        seen.add((each, extra))
        try:
            known = metadata.distribution(each)
        except metadata.PackageNotFoundError:
            continue  # an offer that nobody took up
        found[canonicalize_name(each)] = known.version
        for line in known.requires or ():
            wanted = Requirement(line)
            if wanted.marker is None or wanted.marker.evaluate({"extra": extra}):
                named = canonicalize_name(wanted.name)
                waiting += [(named, ""), *((named, more) for more in wanted.extras)]
    found.pop(canonicalize_name(name), None)
    return dict(sorted(found.items()))


def kit_text() -> str:
    """A list that ``pip download`` reads, with how to use it in remarks."""
    head = _HEAD.format(
        version=hydrokit.__version__,
        system=f"{platform.system()} {platform.machine()}",
        python=f"{sys.version_info.major}.{sys.version_info.minor}",
    )
    return head + "".join(f"{name}=={version}\n" for name, version in needed().items())
