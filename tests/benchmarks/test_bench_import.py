"""The bars of starting up: importing, the first loss of a pipe, and a check.

Each is timed in processes of its own, the best of several, with the file cache and compiled files warm.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TIMER = "import time as _t; _s = _t.perf_counter()\n{}\nprint(_t.perf_counter() - _s)"
NEEDED = "import numpy, pint, scipy.special"


def seconds(code: str, tries: int = 7) -> float:
    """Best time of a piece of code in a fresh process."""
    import os

    environment = {
        name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"
    }
    told = [
        subprocess.run(
            [sys.executable, "-c", TIMER.format(code)],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()[-1]
        for _ in range(tries)
    ]
    return min(float(each) for each in told)


def test_import():
    took = seconds("import hydrokit")
    print(f"\nimport hydrokit: {1000 * took:.1f} ms (bar 50)")
    assert took <= 0.05


def test_first_loss():
    needed, took = (
        seconds(NEEDED),
        seconds("import hydrokit as hk\nhk.pipe_loss('320 gpm', '6 in', '640 ft', '0.01 mm')"),
    )
    print(
        f"\nfirst pipe_loss: {took:.2f} s; what it needs alone {needed:.2f} s; ratio {took / needed:.2f} (bar 1.3)"
    )
    assert took <= 1.3 * needed


def test_check():
    """Against importing the libraries and rooms that checking this study loads."""
    study = "studies/saltfern-creek"
    run = f"from hydrokit.cli import main\nmain(['check', {study!r}])"
    modules = (
        subprocess.run(
            [
                sys.executable,
                "-c",
                f"import sys\n{run}\nprint(' '.join(each for each, module in sys.modules.items() if getattr(module, '__file__', None) and each != '__main__'))",
            ],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        .stdout.splitlines()[-1]
        .split()
    )
    loads = "\n".join(
        f"try: import {each}\nexcept Exception: pass" for each in modules if "-" not in each
    )
    took, needed = seconds(run), seconds(loads)
    print(
        f"\nhydrokit check {study}: {took:.2f} s; importing what it needs {needed:.2f} s; ratio {took / needed:.2f} (bar 1.2)"
    )
    assert took <= 1.2 * needed
