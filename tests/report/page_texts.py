"""What the nine notebooks say of the metric demo, line by line, against what is committed.

``python tests/report/page_texts.py studies/alder-burn`` reads the pages that a run left there and tells each line that
differs; with ``--write`` it writes what they say anew. The stage ``demos`` of ``.ci/stages`` runs it after the demo.
"""

from __future__ import annotations

import argparse
import difflib
import re
import sys
from pathlib import Path

from bs4 import BeautifulSoup, Tag

COMMITTED = Path(__file__).parent / "page_texts"
_APART = ("details.code", "nav", "footer", "script", "style", ".provenance", ".terms")
_READ = ("h1", "h2", "h3", "p", "li", "pre", "caption", "tr", "img", "summary")


def lines(page: str) -> list[str]:
    """All that a page says of the study, in its order: text, rows of tables, words of pictures and formulas."""
    main = BeautifulSoup(page, "html.parser").find("main")
    assert isinstance(main, Tag), "a page without its main part"
    for each in main.select(", ".join(_APART)):
        each.decompose()
    for table in main.find_all("table"):
        # day, versions and files of a run say nothing of the creek
        if any(cell.get_text() == "made" for cell in table.find_all("td")):
            table.decompose()
    found = []
    for each in main.find_all(_READ):
        if each.name == "img":
            text = str(each.get("alt", ""))
        elif each.name == "tr":
            text = " | ".join(cell.get_text() for cell in each.find_all(("th", "td")))
        else:
            text = each.get_text()
        found += [" ".join(text.split())]
    return [each for each in found if each]


def apart(study: Path, committed: Path = COMMITTED) -> list[str]:
    """The lines in which the pages of a run differ from what is committed."""
    pages = {each.stem: each for each in sorted((study / "reports").glob("0[1-9]_*.html"))}
    kept = {each.stem: each for each in sorted((committed / study.name).glob("*.txt"))}
    told = [f"{name}: not on both sides" for name in sorted(pages.keys() ^ kept.keys())]
    for name in sorted(pages.keys() & kept.keys()):
        before = kept[name].read_text(encoding="utf-8").splitlines()
        now = lines(pages[name].read_text(encoding="utf-8"))
        if len(now) == len(before):
            now = [old if _as_good_as(old, new) else new for old, new in zip(before, now)]
        told += [
            f"{name}: {each}"
            for each in difflib.unified_diff(before, now, "committed", "now", lineterm="", n=0)
            if not each.startswith(("---", "+++", "@@"))
        ]
    return told


_NUMBER = re.compile(r"-?[\d,]*\d(?:\.\d+)?")


def _as_good_as(before: str, now: str) -> bool:
    """Whether two lines differ by a unit in the last digit of a number at most: another processor may round a tie the other way."""
    if _NUMBER.sub("#", before) != _NUMBER.sub("#", now):
        return False
    pairs = zip(_NUMBER.findall(before), _NUMBER.findall(now))
    return all(
        abs(float(one.replace(",", "")) - float(other.replace(",", "")))
        <= 1.001 * _last(one, other)
        for one, other in pairs
    )


def _last(*numbers: str) -> float:
    """One unit in the last digit that is shown, three of them at the most."""
    units = []
    for each in numbers:
        digits = each.lstrip("-").replace(",", "")
        whole, _, part = digits.partition(".")
        units.append(10.0 ** -len(part) if part else 10.0 ** max(len(whole) - 3, 0))
    return max(units)


def write(study: Path, committed: Path = COMMITTED) -> None:
    """Keep what the pages of a run say."""
    folder = committed / study.name
    folder.mkdir(parents=True, exist_ok=True)
    for each in sorted((study / "reports").glob("0[1-9]_*.html")):
        text = "\n".join(lines(each.read_text(encoding="utf-8")))
        (folder / f"{each.stem}.txt").write_text(text + "\n", encoding="utf-8")


def main() -> int:
    """Compare or write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("study", type=Path)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    study = asked.study.resolve()
    if asked.write:
        write(study)
        return 0
    told = apart(study)
    print("\n".join(told) or f"the pages of {study.name} say what is committed")
    return 1 if told else 0


if __name__ == "__main__":
    sys.exit(main())
