"""What a reader sees is in the trade's words: no finding and no notebook says what the glossary says better.

Pages are looked through where they are made, in test_pages.py.
"""

import json
from pathlib import Path

import pytest
import shared
from trade_words import wrong_words

ROOT = Path(__file__).resolve().parents[2]


def test_the_prose_of_the_notebooks_is_in_the_trades_words():
    for path in sorted((ROOT / "notebooks").glob("**/*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            text = "".join(cell["source"]) if cell["cell_type"] == "markdown" else ""
            wrong = wrong_words(text)
            assert not wrong, f"{path.name} {cell.get('id')}: {wrong}"


@pytest.mark.parametrize("name", shared.DEMOS)
def test_findings_speak_the_trades_words(name):
    study = shared.demo(name)
    view = study.view()
    told = {each.where: wrong_words(view.told(each)) for each in study.findings()}
    assert not {where: wrong for where, wrong in told.items() if wrong}
