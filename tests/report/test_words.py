"""What a reader sees is in the trade's words: no page and no finding says what the glossary says better."""

import inspect
import json
import re
from pathlib import Path

import pytest
import small_study

from hydrokit.report.display import Picture
from hydrokit.study.opening import open_study

ROOT = Path(__file__).resolve().parents[2]
# Not -> but. Where a word has another sense too, only the sense that misleads is looked for.
NOT = {
    r"\bdoubt(s|ed|ful)?\b": "uncertainty",
    r"\bluck of the years\b": "year-to-year variability",
    r"\bgive or take\b|\bstrays? by\b": "±; repeatability",
    r"\bnine (years )?in ten\b|\b19 times in 20\b": "90 %, 95 % interval",
    r"\bmiddling\b|\bmiddle (day|case|year)\b": "median",
    r"\benergy of use\b|\bkWh of use\b": "useful energy (demand met)",
    r"\bfirst cost\b": "capital cost",
    r"\bworth over its life\b|\bworth less cost\b": "net present value; net annual benefit",
    r"\binterest it earns\b|\bpayback with interest\b": "internal rate of return; discounted payback",
    r"\b(what|that) binds\b|\bbinding part\b": "limiting component",
    r"\beats\b|\btakes of its head\b": "head loss",
    r"(?<!hydraulic )\bgrade line\b": "hydraulic grade line",
    r"\bsummits?\b": "high point",
    r"\b(stage|weir) board\b": "staff gauge; weir plate",
    r"\b(bar|tilted) rack\b|\btilted screen\b": "trash rack; inclined wedge-wire screen",
    r"\bafloat\b": "buoyancy",
    r"\bplanted faults?\b|\bfaults are planted\b": "seeded fault",
    r"\bof the evidence\b|\ba worse fit\b": "posterior probability; p-value",
    r"(?<!\()\bstarv\w+": "under-fed (starved)",
    r"\breckoned\b|\bto be won\b": "calculated; gain available",
    r"\bfit of 100\b": "a score with its scale and rule",
    r"\bstands still\b|\bhunts\b": "steady, stopped; fluctuates",
    r"\bask the maker\b|\bthe maker'?s\b|\bmachine's maker\b": "manufacturer",
}
PATTERNS = {re.compile(wrong, re.IGNORECASE): right for wrong, right in NOT.items()}


def shown(made):
    if not isinstance(made, Picture):
        return repr(made) if type(made).__str__ is object.__str__ else str(made)
    told = [made.alt]
    for axes in made.figure.axes:
        told += [axes.get_title(), axes.get_title("left"), axes.get_xlabel(), axes.get_ylabel()]
        told += [each.get_text() for each in axes.texts]
        if axes.get_legend():
            told += [each.get_text() for each in axes.get_legend().get_texts()]
    return "\n".join(told)


def test_the_prose_of_the_notebooks_does_too():
    for path in sorted((ROOT / "notebooks").glob("**/*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            text = "".join(cell["source"]) if cell["cell_type"] == "markdown" else ""
            wrong = [found[0] for pattern in PATTERNS if (found := pattern.search(text))]
            assert not wrong, f"{path.name} {cell.get('id')}: {wrong}"


@pytest.mark.parametrize(
    "name",
    [
        "saltfern-creek",
        pytest.param("alder-burn", marks=pytest.mark.slow),
        pytest.param("hazel-beck", marks=pytest.mark.slow),
    ],
)
def test_pages_and_findings_speak_the_trades_words(name):
    study = open_study(ROOT / "studies" / name)
    view = study.view()
    told = {f"finding {each.where}": view.told(each) for each in study.findings()}
    for module in small_study.page_modules():
        for section in module.__all__:
            function = getattr(module, section)
            made = (
                function(study, view)
                if "study" in inspect.signature(function).parameters
                else function()
            )
            told[f"{module.__name__.rpartition('pages.')[2]}.{section}"] = shown(made)
    wrong = [
        f"{where}: …{text[max(0, found.start() - 40) : found.end() + 20]}… say {right}"
        for where, text in told.items()
        for pattern, right in PATTERNS.items()
        for found in pattern.finditer(text)
    ]
    assert not wrong, "\n".join(wrong)
