"""What the README prints must be what comes out."""

import doctest
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def test_python_examples_of_the_readme():
    text = (ROOT / "README.md").read_text(encoding="utf-8").replace("```", "")
    example = doctest.DocTestParser().get_doctest(text, {}, "README.md", "README.md", 0)
    assert len(example.examples) >= 3
    assert doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(example).failed == 0


def test_ci_finds_both_commands_and_the_pictures_are_there():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "python3 -m venv .venv && .venv/bin/pip install -e . && .venv/bin/hydrokit run studies/" in text
    assert "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/pytest" in text
    for picture in re.findall(r"!\[[^\]]{20,}\]\(([^)]+)\)", text):
        assert (ROOT / picture).is_file(), picture
