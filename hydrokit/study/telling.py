"""What a study says of itself: every mistake of its files at once, every finding, and what could
not be worked out."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property, wraps
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Callable, TypeVar

from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import shown_path
from ..sentences import Reader
from ..site.named_files import named_files
from ..site.sheets import reason
from .questions import questions

if TYPE_CHECKING:
    from .study import Study

__all__ = ["TOLD_BY_CHECK", "answer_findings", "attempted", "findings", "read"]

# Properties whose findings belong in the checks, along the water, and whether a check, which works
# nothing out that takes long, tells them too.
_TOLD = {
    "examples_left": True,
    "gaugings": True,
    "visit_findings": True,
    "rating": True,
    "stage_record": True,
    "record_findings": True,
    "water_findings": True,
    "extension": True,
    "rights": True,
    "profile": True,
    "head_findings": True,
    "uncertainty_findings": False,
    "diversion": True,
    "penstock": True,
    "section": False,
    "pressures": False,
    "intake_weir": False,
    "line_air": False,
    "open_findings": False,
    "overflow": False,
    "judged_findings": False,
    "ignored_findings": True,
    "unusual_findings": True,
    "duration": False,
    "sizing": False,
    "pipe_findings": False,
    "machine_findings": False,
    "overruled_findings": False,
    "generator_findings": False,
    "baseline": True,
    "missing": False,
    "plant": True,
    "year": False,
    "energy_uncertainty": False,
    "money": False,
    "bracket": False,
    "use_findings": False,
    "cover_findings": False,
    "questionable_findings": False,
    "meter_findings": False,
    "card": False,
    "wires": False,
    "house": False,
    "log": True,
    "log_findings": False,
    "winter_outlook": False,
    "answer_findings": False,
    "sheet_notes": True,
}
TELLING = tuple(_TOLD)
TOLD_BY_CHECK = tuple(name for name, told in _TOLD.items() if told)
# What a check reads: everything that comes from a file, nothing that takes long.
READING = (
    "gaugings",
    "field_sheets",
    "leaks",
    "temperature",
    "snow",
    "rating",
    "stage_record",
    "own_record",
    "extension",
    "record_uncertainty",
    "rights",
    "expected_range",
    "profile",
    "head_findings",
    "diversion",
    "head",
    "penstock",
    "diversion_line",
    "supply",
    "stretches",
    "readings",
    "baseline",
    "pipes_tried",
    "described",
    "circuits",
    "cable_prices",
    "day_use",
    "house",
    "changes",
    "log",
)


Result = TypeVar("Result")


def attempted(work: Callable[[Study], Result]) -> cached_property[Result | None]:
    """A result that may not come about though all that was read is sound: None then, and the reason
    is kept to be told."""

    @wraps(work)
    def tried(study: Study) -> Result | None:
        try:
            return work(study)
        except HydrokitError as error:
            if isinstance(error, InputError) and error.__cause__ is None:
                raise  # a mistake in what was handed in, not something that cannot be: it is no finding
            study.refused[work.__name__] = reason(error)
            return None

    return cached_property(tried)


def read(study: Study) -> None:
    """Read everything the site file names.

    Raises
    ------
    InputError
        Every mistake at once.
    """
    mistakes: dict[str, Mistake] = {}
    looks: list[Callable[[Any], Any]] = [*(attrgetter(name) for name in READING), named_files]
    for look in looks:
        try:
            look(study)
        except InputError as error:
            mistakes.update({str(each): each for each in error.mistakes})
        except HydrokitError as error:
            mistakes[str(error)] = Mistake(shown_path(study.path / "site.toml"), "", reason(error))
    if mistakes:
        raise InputError(mistakes.values(), Reader(study.site.site.display))


# What reads sheets, and little else of the site file.
_SHEETS = (
    "gaugings",
    "stage_record",
    "temperature",
    "snow",
    "measured_record",
    "profile",
    "diversion",
    "readings",
    "log",
)


def mistakes_of_sheets(study: Study | None) -> list[Mistake]:
    """What is wrong in the sheets of a study whose site file has mistakes of its own.

    A key that is wrong may be what a sheet is read by: what fails for that is told once it is mended.
    """
    if study is None:
        return []
    mistakes: dict[str, Mistake] = {}
    site_file = shown_path(study.path / "site.toml")
    looks: list[Callable[[Any], Any]] = [attrgetter(name) for name in _SHEETS]
    for look in (*looks, named_files):
        try:
            look(study)
        except InputError as error:
            mistakes.update({str(each): each for each in error.mistakes if each.file != site_file})
        except (HydrokitError, TypeError, KeyError, AttributeError, ValueError):
            continue
    return list(mistakes.values())


def found_in_sheets(study: Study | None) -> list[Finding]:
    """What is wrong or doubtful in gaugings and stages, in the reader's units, where other mistakes
    keep a study from being sound."""
    found: list[Finding] = []
    for name in () if study is None else ("gaugings", "stage_record"):
        try:
            found += _findings_of(getattr(study, name))
        except (HydrokitError, TypeError, KeyError, AttributeError, ValueError):
            continue
    reader = Reader() if study is None else Reader(study.site.site.display)
    return [
        Finding(each.level, each.where, reader.told(each.sentence))
        for each in found
        if each.level != "note"
    ]


def findings(study: Study, rooms: Iterable[str] | None = None) -> list[Finding]:
    """What a reader must know, gathered from everything that was worked out."""
    gathered = [Finding("note", where, text) for where, text in study.site.renamed]
    for name in TELLING if rooms is None else rooms:
        gathered += _findings_of(getattr(study, name))
    gathered += [
        Finding("problem", name.replace("_", " "), "it could not be worked out: " + why)
        for name, why in study.refused.items()
    ]
    seen: dict[tuple[str, str], Finding] = {}
    for each in gathered:
        seen.setdefault((each.where, each.message), each)
    return list(seen.values())


def answer_findings(study: Study) -> tuple[Finding, ...]:
    """Where answers to one question lie farther apart than they are uncertain, and what else an
    answer must tell."""
    found: list[Finding] = []
    for key in questions():
        answer = study.answer(key)
        found += () if answer is None else answer.findings
    return tuple(found)


def _findings_of(result: Any) -> list[Finding]:
    found = result if isinstance(result, tuple) else getattr(result, "findings", ())
    return list(found() if callable(found) else found)
