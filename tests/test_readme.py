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


def test_ci_runs_both_commands_and_the_pictures_are_there():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [
        line.split("|", 2)
        for line in (ROOT / ".ci" / "stages").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    stages = {name.strip(): command.strip() for name, _, command in lines}
    assert f"\n{stages['tests']}\n" in text and f"\n{stages['main']}\n" in text
    for command in stages.values():  # no stage names a test that is not there
        for path in re.findall(r"tests/\w+\.py", command):
            assert (ROOT / path).is_file(), path
    for picture in re.findall(r"!\[[^\]]{20,}\]\(([^)]+)\)", text):
        assert (ROOT / picture).is_file(), picture
