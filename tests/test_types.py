"""What an editor shows of a study and of public functions, and what is said to be anything at all."""

import ast
from pathlib import Path

import pytest

import hydrokit as hk

ROOT = Path(hk.__file__).parent
# Names for what has no type, each with its reason where it stands.
ALIASES = {"Alike", "Entries", "Given", "Outside", "Standing"}
# Why -> module -> public functions and classes whose signatures or fields still hold Any. It may only become shorter.
ANYTHING = {
    "the other side is a library that says no types": {
        "cli.py": "Verb",
        "lab/contents.py": "StudyContents.get StudyContents.save",
        "lab/lesson_pages.py": "Kept",
        "lab/variant_button.py": "variant_box",
        "lab/knobs.py": "Knob Knob.over Knob.first Knob.widget Knob.value_of Panel Panel.first Panel.box moving",
        "lab/start.py": "checked page",
        "report/display.py": "Picture",
        "report/html.py": "PageExporter.markdown2html",
        "report/style.py": "figure",
        "report/workbook.py": "load_ipython_extension run unload_ipython_extension",
        "runner/fresh.py": "bundle",
        "runner/kernel.py": "Kernel.ask",
        "runner/notebooks.py": "SharedKernelEngine.execute_managed_notebook",
    },
    "what a learner or a checker of published values may hand in": {
        "lab/lessons.py": "check_answer check_choice",
        "report/pages/verification.py": "calibration_table",
        "published.py": "Check Outcome",
    },
    "a number, twelve of them or a word: by the question, the key or the entry": {
        "errors.py": "Told.told",
        "report/pages/common.py": "needs value in_frost",
        "runner/moves.py": "Told.lines",
        "runner/results.py": "Move",
        "sentences.py": "Reader.number Reader.amount Amount.__init__",
        "site/keys.py": "day when",
        "site/named_files.py": "maker_efficiency",
        "site/schema.py": "Site.__getitem__",
        "site/section.py": "Section.__getitem__",
        "site/values.py": "value_of",
        "stream/gauging.py": "Gauging Gauging.from_parts",
        "study/answer.py": "Answer",
        "tables/__init__.py": "load",
    },
    "whatever the one who is called for gives": {
        "energy/many.py": "Many Many.next alike",
        "energy/staircase.py": "Staircase",
        "quantities.py": "Q_ magnitude",
        "runner/spread.py": "in_order alone each_of",
        "units.py": "to_si Public Public.check_si Public.valid units",
    },
    "parts alike only by what they can do": {
        "energy/designs.py": "Sizing Sizing.design",
        "energy/sizing.py": "Layout sweep",
        "plant/chain.py": "Chain Chain.replace",
        "plant/choice.py": "cautions_of",
        "plant/operation.py": "Running",
        "study/build/machines.py": "with_groups machines curve",
        "study/build/upgrade_acts.py": "finished_by",
        "study/build/waterway.py": "supply",
        "works/rated.py": "Gauged Gauged.__getattr__ as_built",
    },
    "a record, or a flow of each month where there is none": {
        "energy/cases.py": "Case Case.water Upgrade World add_water",
        "energy/sweeping.py": "grid_of energy_of",
        "energy/uncertainty.py": "energy_uncertainty",
        "energy/year.py": "annual_energy",
        "study/build/sizing_net.py": "left_by_jets",
    },
    "moments and cells as numpy and pandas have them": {
        "columns.py": "read_csv",
        "running/baseline.py": "Baseline.uncertainties",
    },
}  # fmt: skip


def holds_any(annotation):
    return annotation is not None and any(
        isinstance(each, ast.Name) and each.id == "Any" for each in ast.walk(annotation)
    )


def public(body, prefix=""):
    """Name and annotations of every public function and class, methods by their class."""
    for node in body:
        name = getattr(node, "name", "_")
        if name.startswith("_") and name not in (
            "__init__",
            "__getitem__",
            "__getattr__",
            "__setattr__",
        ):
            continue
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            given += [each for each in (node.args.vararg, node.args.kwarg) if each]
            yield prefix + name, [node.returns, *(each.annotation for each in given)]
        elif isinstance(node, ast.ClassDef):
            fields = [each for each in node.body if isinstance(each, ast.AnnAssign)]
            yield prefix + name, [each.annotation for each in fields]
            yield from public(node.body, f"{prefix}{name}.")


def test_only_what_has_a_reason_is_said_to_be_anything():
    found = {
        (path.relative_to(ROOT).as_posix(), name)
        for path in ROOT.rglob("*.py")
        if "_notebooks" not in path.parts
        for name, annotations in public(ast.parse(path.read_text(encoding="utf-8")).body)
        if any(map(holds_any, annotations))
    }
    listed = {
        (module, name)
        for modules in ANYTHING.values()
        for module, names in modules.items()
        for name in names.split()
    }
    assert found - listed == set(), "give it a type, or its reason in the list"
    assert listed - found == set(), "it has a type now: take it off the list"


def test_what_has_no_type_has_a_name_in_one_place():
    found = {
        node.target.id
        for path in ROOT.rglob("*.py")
        if "_notebooks" not in path.parts
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.AnnAssign)
        and ast.unparse(node.annotation) == "TypeAlias"
        and holds_any(node.value)
    }
    assert found == ALIASES


@pytest.mark.slow
def test_an_editor_completes_functions_a_study_and_its_results():
    jedi = pytest.importorskip("jedi")

    def completed(code):
        return {each.name for each in jedi.Interpreter(code, [{"hk": hk}]).complete()}

    (shown,) = jedi.Interpreter("hk.pipe_loss(", [{"hk": hk}]).get_signatures()
    told = {each.name: each.to_string() for each in shown.params}
    assert "Quantity | str [m^3/s]" in told["flow"] and "Quantity | str [m]" in told["diameter"]
    study = "s = hk.open_study('x')\ns."
    assert {"duration", "penstock", "year", "answer", "described"} <= completed(study)
    for result, names in {
        "duration": {"days", "mean_m3s", "flow_at"},
        "penstock": {"pipes", "length_m", "loss_si"},
        "year": {"annual_kwh", "winter_kwh", "monthly_kwh"},
        "rating": {"flow", "stage", "band"},
        "money": {"first_money", "case"},
        "upgrades": {"base", "end"},
        "answer('flow.median')": {"value", "low", "high", "evidence"},
        "diagnose()": {"suspects", "first"},
    }.items():
        assert names <= completed(f"{study}{result}."), result
