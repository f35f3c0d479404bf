"""The stub by which editors and checkers know the names of ``hk`` follows the map of the package.

``python tests/test_face.py`` writes it anew.
"""

from pathlib import Path

import hydrokit

STUB = Path(hydrokit.__file__).with_suffix(".pyi")


def stub():
    """The names of the map, each imported from its module."""
    by_module = {}
    for name, module in hydrokit._HOME.items():
        by_module.setdefault(module, []).append(name)
    lines = [
        "# Written by tests/test_face.py from the map in __init__.py.",
        *(
            f"from .{module} import {name} as {name}"
            for module in sorted(by_module)
            for name in sorted(by_module[module])
        ),
        "",
        "__version__: str",
        "__all__: list[str]",
    ]
    return "\n".join(lines) + "\n"


def test_the_stub_follows_the_map():
    assert STUB.read_text(encoding="utf-8") == stub(), "run python tests/test_face.py"


if __name__ == "__main__":
    STUB.write_text(stub(), encoding="utf-8")
