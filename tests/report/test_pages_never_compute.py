"""Pages show; they never work an answer out.

A page reads a property of the study, an answer, or a small frozen dataclass made in `study/build/`.
Only code that draws may reduce, interpolate and sample: a function whose name ends in `_figure`, or
that takes `axes`. Every function and module of the pages is read, nested ones included, and what a
name of an import stands for is looked up where it was defined.
"""

import ast
import importlib
import inspect
from pathlib import Path

import pytest

import hydrokit

ROOT = Path(hydrokit.__file__).parent
PAGES = ROOT / "report" / "pages"
COMPUTING_ROOMS = ("stream", "works", "plant", "energy", "running", "water")
# Ways of numpy, pandas and scipy to make one number of many, or numbers that were not there.
REDUCTIONS = {
    *("sum", "mean", "median", "std", "var", "min", "max", "prod", "average", "ptp", "percentile"),
    *("quantile", "argmin", "argmax", "idxmin", "idxmax", "cumsum", "cumprod", "diff", "interp"),
    *("trapezoid", "gradient", "maximum", "minimum", "bincount", "digitize", "searchsorted", "dot"),
    *("histogram", "polyfit", "corrcoef", "groupby", "rolling", "resample", "rank", "polyval"),
    *("nansum", "nanmean", "nanmedian", "nanstd", "nanmin", "nanmax", "nanquantile"),
    *("nanpercentile", "nanargmin", "nanargmax", "count_nonzero", "value_counts", "clip"),
}


def pages():
    return [
        path
        for path in sorted(PAGES.rglob("*.py"))
        if "pages" in path.parts and path.name != "__init__.py"
    ]


def name_of(path):
    return path.relative_to(PAGES).as_posix()


def _draws(function):
    if not isinstance(function, (ast.FunctionDef, ast.AsyncFunctionDef)):
        return False
    arguments = function.args
    named = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    return function.name.endswith("_figure") or any(each.arg == "axes" for each in named)


def _imports(tree, package):
    """Local name -> (module, name there) of every import from hydrokit, wherever it stands."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            if module.split(".")[0] == "hydrokit":
                found.update({each.asname or each.name: (module, each.name) for each in node.names})
    return found


def _computing(module, name):
    """The room where an imported function was defined, if that is one of those that compute."""
    try:
        thing = getattr(importlib.import_module(module), name)
    except AttributeError:
        thing = importlib.import_module(f"{module}.{name}")
    if inspect.ismodule(thing):
        home = thing.__name__
    elif inspect.isclass(thing) or not callable(thing):
        return None
    else:
        home = inspect.unwrap(thing).__module__
    # A list of months or a date in words is a text, wherever it is written.
    if getattr(thing, "__annotations__", {}).get("return") in ("str", "Sentence"):
        return None
    parts = home.split(".")
    return home if parts[0] == "hydrokit" and parts[1] in COMPUTING_ROOMS else None


def offences(source, package):
    """(line, what) of every computation in the source of a page."""
    tree = ast.parse(source)
    imports = _imports(tree, package)
    found = []

    def read(node):
        if _draws(node):
            return
        if isinstance(node, ast.Attribute):
            if node.attr == "si" or node.attr.endswith("_si"):
                found.append((node.lineno, f"plain numbers by .{node.attr}"))
        elif isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Attribute) and called.attr in REDUCTIONS:
                found.append((node.lineno, f"a reduction by .{called.attr}()"))
            root = called
            while isinstance(root, ast.Attribute):
                root = root.value
            if isinstance(root, ast.Name) and root.id in imports:
                home = _computing(*imports[root.id])
                if home is not None:
                    found.append((node.lineno, f"{root.id}() of {home}"))
        for child in ast.iter_child_nodes(node):
            read(child)

    read(tree)
    return sorted(set(found))


def offences_of(path):
    package = ["hydrokit", *path.relative_to(ROOT).parts[:-1]]
    return offences(path.read_text(encoding="utf-8"), package)


@pytest.mark.parametrize("path", pages(), ids=name_of)
def test_a_page_never_computes(path):
    found = offences_of(path)
    told = "\n".join(f"  {name_of(path)}:{line}: {what}" for line, what in found)
    assert not found, f"worked out on a page:\n{told}\nmake it in study/build and read it here"


@pytest.mark.parametrize(
    "line, what",
    [
        ("x = study.duration.flow_at_si(0.5)", "flow_at_si"),
        ("x = pipe_flow.si(1.0)", ".si"),
        ("x = study.record.mean()", ".mean()"),
        ("x = study.record.groupby(study.record.index.month).median()", ".groupby()"),
        (
            "def inner():\n    import numpy as np\n    return np.quantile(study.record, 0.5)",
            "quant",
        ),
        ("from ....stream.duration import flow_duration\nx = flow_duration(1)", "flow_duration"),
        ("from ....stream import duration\nx = duration.flow_duration(1)", "duration"),
        ("def table(study, view):\n    return [max(1, 2), view.record.max()]", ".max()"),
    ],
)
def test_a_computation_is_found(line, what):
    found = offences(line, ["hydrokit", "report", "pages", "p02"])
    assert found and any(what in each for _, each in found)


@pytest.mark.parametrize(
    "line",
    [
        "def curve_figure(study, view):\n    return study.record.mean()",
        "def _drawn(axes, values):\n    axes.set(ylim=(values.min(), values.max()))",
        "from ....stream.duration import TABLE\nrows = [str(each) for each in TABLE]",
        "x = max(1, 2)",
        "from ....stream.duration import Duration\nx = isinstance(1, Duration)",
        "from ....stream.months import told_months\nx = told_months([1, 2])",
    ],
)
def test_what_draws_and_what_only_shows_may_stand(line):
    assert not offences(line, ["hydrokit", "report", "pages", "p02"])
