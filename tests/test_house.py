"""What must hold of the whole house: the way of its imports, its lightness, its public functions."""

import ast
import importlib
import inspect
import pickle
import pkgutil
import re
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import numpy as np
import pytest

import hydrokit
from hydrokit.units import Q_, UnitsError, ureg

ROOT = Path(hydrokit.__file__).parent
# Along the water: each may import itself and what stands before it.
ROOMS = [
    "errors",
    "quantities",
    "units",
    "sentences",
    "result",
    "files",
    "cells",
    "headers",
    "columns",
    "water",
    "tables",
    "stream",
    "works",
    "plant",
    "energy",
    "running",
    "site",
    "study",
    "published",
    "report",
    "runner",
    "lab",
    "cli",
]
ONLY_ABOVE_STUDY = {
    "matplotlib",
    "IPython",
    "papermill",
    "nbconvert",
    "nbformat",
    "nbclient",
    "ipywidgets",
    "jupyter_client",
}


def modules():
    for path in sorted(ROOT.rglob("*.py")):
        if "_notebooks" not in path.parts and "template" not in path.parts:
            yield path


def room_of(path):
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def for_checkers(tree):
    """What stands under ``if TYPE_CHECKING``: it loads nothing."""
    return {
        each
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in node.body
        for each in ast.walk(inner)
    }


def imported(path):
    """(hydrokit room or None, top package) of every import in a module, wherever it stands."""
    package = ["hydrokit", *path.relative_to(ROOT).parts[:-1]]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    # the one place that says what every result gives, a table of pandas and axes of matplotlib
    said_only = for_checkers(tree) if path == ROOT / "result.py" else set()
    for node in ast.walk(tree):
        if node in said_only:
            continue
        if isinstance(node, ast.Import):
            names = [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            full = ".".join([*base, *([node.module] if node.module else [])])
            names = [f"{full}.{each.name}" for each in node.names]
        else:
            continue
        for name in names:
            parts = name.split(".")
            yield (parts[1] if parts[0] == "hydrokit" and len(parts) > 1 else None), parts[0]


@pytest.mark.parametrize(
    "path", list(modules()), ids=lambda path: path.relative_to(ROOT).as_posix()
)
def test_imports_run_along_the_water(path):
    room = room_of(path)
    if room in ("__init__", "__main__"):
        return
    for other, top in imported(path):
        if other in ROOMS:
            assert ROOMS.index(other) <= ROOMS.index(room), (
                f"{path.name} in {room} imports {other}, against the water"
            )
        if ROOMS.index(room) <= ROOMS.index("study"):
            assert top not in ONLY_ABOVE_STUDY, (
                f"{path.name} imports {top}; only report/ and above may"
            )
        if room in ("works", "plant"):
            assert top != "pandas", f"{path.name} in {room} imports pandas"


def modules_imported(path):
    """The modules of hydrokit that a module imports, wherever in it; those that only a type checker reads load nothing."""
    package = ["hydrokit", *path.relative_to(ROOT).parts[:-1]]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    unread = for_checkers(tree)
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or node in unread:
            continue
        base = package[: len(package) - node.level + 1] if node.level else []
        full = ".".join([*base, *([node.module] if node.module else [])])
        for each in node.names:
            yield from (f"{full}.{each.name}", full)


def test_no_modules_import_in_a_circle():
    names = {
        ".".join(["hydrokit", *path.relative_to(ROOT).with_suffix("").parts]): path
        for path in modules()
        if path.name != "__init__.py"
    }
    graph = {name: set(modules_imported(path)) & set(names) for name, path in names.items()}
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


@pytest.mark.parametrize(
    "path", list(modules()), ids=lambda path: path.relative_to(ROOT).as_posix()
)
def test_a_module_is_read_in_one_sitting(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def named_last(node):
    """Last name of a base, a decorator or an annotation: ``KW_ONLY`` of ``dataclasses.KW_ONLY``."""
    node = node.func if isinstance(node, ast.Call) else node
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def is_set(call, name, value):
    """Whether a call says so: ``kw_only=True``."""
    return isinstance(call, ast.Call) and any(
        each.arg == name and ast.unparse(each.value) == value for each in call.keywords
    )


def positional_fields(node):
    """Fields that a dataclass's own body lets be given by position; None of another class."""
    marks = [each for each in node.decorator_list if named_last(each) == "dataclass"]
    if not marks:
        return None
    names, by_name = [], is_set(marks[0], "kw_only", "True")
    for line in node.body:
        if not isinstance(line, ast.AnnAssign):
            continue
        kind = (
            line.annotation.value if isinstance(line.annotation, ast.Subscript) else line.annotation
        )
        if named_last(kind) == "KW_ONLY":
            by_name = True
        elif named_last(kind) != "ClassVar" and not (
            by_name or is_set(line.value, "kw_only", "True") or is_set(line.value, "init", "False")
        ):
            names.append(line.target.id)
    return names


def test_no_dataclass_takes_more_than_three_fields_by_position():
    """A call with a row of bare values cannot be read; those of the bases count too."""
    classes = [
        (path.relative_to(ROOT).as_posix(), node, fields)
        for path in modules()
        if "@dataclass" in (text := path.read_text(encoding="utf-8"))
        for node in ast.parse(text).body
        if isinstance(node, ast.ClassDef) and (fields := positional_fields(node)) is not None
    ]
    assert len(classes) > 200
    own = {}
    for _, node, fields in classes:  # of two with one name the longer
        own[node.name] = max(own.get(node.name, []), fields, key=len)
    bases = {node.name: [named_last(each) for each in node.bases] for _, node, _ in classes}

    def inherited(name):
        return [
            each for base in bases.get(name, []) for each in inherited(base) + own.get(base, [])
        ]

    many = [
        f"{path}:{node.lineno} {node.name}: {', '.join(all_of_them)}"
        for path, node, fields in classes
        if len(all_of_them := list(dict.fromkeys(inherited(node.name) + fields))) > 3
    ]
    assert not many, "put `_: KW_ONLY` after the third field:\n" + "\n".join(many)


def test_importing_hydrokit_loads_nothing_heavy():
    code = "import hydrokit, sys; print(sorted({'numpy','scipy','pandas','matplotlib','pint','IPython'} & set(sys.modules)))"
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "[]"
    )


def test_everything_promised_on_the_face_is_there():
    for name in hydrokit.__all__:
        assert getattr(hydrokit, name) is not None
    assert set(hydrokit.__all__) <= set(dir(hydrokit))
    with pytest.raises(AttributeError):
        _ = hydrokit.no_such_thing


def test_a_name_of_before_still_works_and_tells_the_new_one(monkeypatch):
    monkeypatch.setitem(hydrokit._RENAMED, "loss_in_pipe", "pipe_loss")
    with pytest.warns(
        DeprecationWarning, match="pipe_loss now; the old name goes with 0.3"
    ) as told:
        assert hydrokit.loss_in_pipe is hydrokit.pipe_loss
    assert len(told) == 1
    assert all(new in hydrokit.__all__ for new in hydrokit._RENAMED.values())
    assert not set(hydrokit._RENAMED) & set(hydrokit.__all__)


UPPER = (".site.", ".study.", ".report.", ".runner.", ".lab.", ".cli")


def public_functions():
    seen = {}
    for info in pkgutil.walk_packages(hydrokit.__path__, "hydrokit."):
        if any(part in info.name for part in ("._notebooks", *UPPER)) or info.name.endswith(
            "__main__"
        ):
            continue
        for function in vars(importlib.import_module(info.name)).values():
            if (
                inspect.isfunction(function)
                and hasattr(function, "si")
                and function.__module__ == info.name
            ):
                seen[f"{function.__module__}.{function.__qualname__}"] = function
    return sorted(seen.items())


FUNCTIONS = public_functions()
NAMES = [name for name, _ in FUNCTIONS]
BODIES = [function for _, function in FUNCTIONS]
PLAIN = ("ratio", "exceedance", "count")


def test_there_are_public_functions():
    assert len(FUNCTIONS) > 20


def test_every_public_function_is_called_by_the_project_or_promised_on_its_face():
    notebooks = (ROOT.parent / "notebooks").glob("**/*.ipynb")
    texts = {path: path.read_text(encoding="utf-8") for path in [*modules(), *notebooks]}
    called = set()
    for path, text in texts.items():
        if path.suffix == ".py":  # what a docstring shows is no use of it, nor is a name in a list
            tree = ast.parse(text)
            held = {
                each
                for node in ast.walk(tree)
                if isinstance(node, ast.Assign)
                for target in node.targets
                for each in ast.walk(target)
            }
            called |= {
                getattr(node, "id", None) or node.attr
                for node in ast.walk(tree)
                if isinstance(node, (ast.Name, ast.Attribute)) and node not in held
            }
        else:
            called |= set(re.findall(r"\w+", text))
    idle = [name for name, body in FUNCTIONS if body.__name__ not in called]
    assert not [each for each in idle if each.rpartition(".")[2] not in hydrokit.__all__]


def test_no_room_is_more_than_a_fifth_of_the_house():
    lines = {}
    for path in modules():
        room = room_of(path)
        lines[room] = lines.get(room, 0) + len(path.read_text(encoding="utf-8").splitlines())
    assert max(lines.values()) <= 0.2 * sum(lines.values()), lines


@pytest.mark.parametrize("function", BODIES, ids=NAMES)
def test_has_a_whole_docstring(function):
    text = inspect.getdoc(function) or ""
    for heading in ("Parameters", "Returns", "References", "Examples"):
        assert heading in text or (
            heading == "Parameters" and not inspect.signature(function).parameters
        ), f"no {heading}"


@pytest.mark.parametrize("function", BODIES, ids=NAMES)
def test_the_refusal_of_bare_numbers_is_told(function):
    refused = any(kind not in PLAIN for kind in function.unit_of.values())
    assert not refused or inspect.getdoc(function).count("UnitsError\n") == 1


@pytest.mark.parametrize("function", BODIES, ids=NAMES)
def test_the_raw_body_can_be_pickled(function):
    assert pickle.loads(pickle.dumps(function.si)) is function.si


@pytest.mark.parametrize("function", BODIES, ids=NAMES)
def test_bare_numbers_are_refused_where_there_is_a_unit(function):
    parameters = inspect.signature(function).parameters
    for argument, kind in function.unit_of.items():
        if kind in PLAIN:
            continue
        call = {
            name: "not reached"
            for name, each in parameters.items()
            if each.default is each.empty and name != argument
        }
        with pytest.raises(UnitsError, match=f"{argument}"):
            # The argument is converted in order of the call, so it is put first.
            function(**{argument: 1.5, **call})


# A plain value for each kind of argument, good enough to call most functions with.
VALUES = {"m": 0.8, "head": 20.0, "m^3/s": 0.02, "K": 283.15, "Pa": 2e5, "s": 30.0, "m/s": 1.2, "m^2": 0.5, "m^3": 0.01, "rad": 1.0, "ratio": 0.5, "exceedance": 0.5, "count": 2.0, "m^2/s": 1.3e-6}  # fmt: skip
IN_US = {"m": "ft", "head": "ft", "m^3/s": "gpm", "K": "degF", "Pa": "psi", "s": "min", "m/s": "ft/s", "m^2": "ft^2", "m^3": "gal", "rad": "deg", "m^2/s": "ft^2/s", "W": "hp", "kg": "lb", "delta_K": "delta_degF", "J": "kWh"}  # fmt: skip


def example_arguments(function):
    """Quantities for the arguments that must be given, or None where a plain example does not do."""
    arguments = {}
    for name, each in inspect.signature(function).parameters.items():
        kind = function.unit_of.get(name)
        if each.default is not each.empty:
            continue
        if kind not in VALUES or name in getattr(function, "measurement", ()):
            return None
        arguments[name] = (
            VALUES[kind] if kind in PLAIN else Q_(VALUES[kind], {"head": "m"}.get(kind, kind))
        )
    return arguments


def numbers(result):
    if isinstance(result, tuple):
        return np.array([np.asarray(numbers(each)) for each in result], dtype=float)
    return np.asarray(
        result.magnitude if isinstance(result, ureg.Quantity) else result, dtype=float
    )


CALLABLE = [
    (name, function)
    for name, function in FUNCTIONS
    if function.returns is not None
    and not getattr(function, "measurement", ())
    and example_arguments(function)
]


@pytest.mark.filterwarnings("ignore::hydrokit.errors.RangeWarning")
@pytest.mark.parametrize("function", [f for _, f in CALLABLE], ids=[n for n, _ in CALLABLE])
class TestEveryPlainFunction:
    def call(self, function, arguments):
        from hydrokit.errors import HydrokitError

        try:
            return numbers(function(**arguments))
        except HydrokitError as error:
            if isinstance(error, UnitsError):
                raise
            pytest.skip(f"the plain example lies outside what it takes: {error}")

    def test_us_units_give_the_same(self, function):
        metric = example_arguments(function)
        us = {
            name: value
            if function.unit_of[name] in PLAIN or function.unit_of[name] not in IN_US
            else value.to(ureg.Unit(IN_US[function.unit_of[name]]))
            for name, value in metric.items()
        }
        np.testing.assert_allclose(self.call(function, us), self.call(function, metric), rtol=1e-9)

    def test_array_is_its_scalars(self, function):
        """Members differ, so that a function which mixes them up, or takes their mean, is found out."""
        arguments = example_arguments(function)
        for name, value in arguments.items():
            other = value + 1 if function.unit_of[name] == "count" else 1.1 * value
            if function.unit_of[name] == "K":
                other = Q_(1.01 * value.magnitude, "K")
            each = [self.call(function, arguments | {name: one}) for one in (value, other)]
            both = arguments | {
                name: np.array([value, other])
                if isinstance(value, float)
                else Q_(np.array([value.magnitude, other.magnitude]), f"{value.units:~C}")
            }
            kept = numbers(both[name]).copy()
            found = self.call(function, both)
            found = (
                np.broadcast_to(found, (*np.shape(found)[:-1], 2))
                if np.ndim(found)
                else [found] * 2
            )
            np.testing.assert_allclose(np.moveaxis(np.atleast_1d(found), -1, 0), each, rtol=1e-9)
            np.testing.assert_array_equal(
                numbers(both[name]), kept, err_msg="an argument was written to"
            )
