"""The register of risks: what can go wrong with a plant, what this study found of each, and what
answers it."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

from ...energy.levels import SECURE, SECURE_NAME
from ...errors import Finding

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["RIGHTS", "Risk", "risks"]

_LEVELS = ("problem", "caution", "note")


@dataclass(frozen=True)
class _Kind:
    """A risk that every plant has: where findings on it say they are, which answers tell of it,
    what answers it."""

    name: str
    wheres: frozenset[str]
    told: tuple[tuple[str, str], ...]
    _: KW_ONLY
    answered: str


@dataclass(frozen=True, eq=False)
class Risk:
    """A risk and what was found of it.

    Parameters
    ----------
    name : str
    told : tuple of (str, str)
        Words, and the question that answers them; only what is answered.
    findings : tuple of Finding
        Problems first, then cautions; notes only where neither was found.
    answered : str
        What is done about it, common practice.
    """

    name: str
    told: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    _: KW_ONLY
    answered: str

    @property
    def level(self) -> str:
        """The worst that was found: problem, caution, note, or none; not known where no number
        tells of it."""
        worst = self.findings[0].level if self.findings else "none found"
        return worst if self.told or worst in _LEVELS[:2] else "not known"


def _kind(name: str, wheres: str, told: tuple[tuple[str, str], ...], answered: str) -> _Kind:
    return _Kind(name, frozenset(wheres.split(", ")), told, answered=answered)


RIGHTS = "rights and residual flow"
_ELECTRIC = "electric shock, fire, overspeed"
_WAY = "air, leaves and silt in the way of the water"
KINDS = (
    _kind(
        "less water or energy than expected",
        (
            "record, extension, bracket, year, duration, measurements, uncertainty, rating, "
            "stage, gauging, log, floods of record, instruments"
        ),
        (
            ("median (P50) year", "energy.annual.p50"),
            (f"exceeded with {SECURE} % ({SECURE_NAME})", f"energy.annual.p{SECURE}"),
            ("a lean day's flow", "flow.lean"),
        ),
        f"gauge on; count on {SECURE_NAME} where money is lent; keep another source for the dry months",
    ),
    _kind(
        RIGHTS,
        "rights, licence, residual",
        (("mean usable flow", "water.usable_mean"),),
        "ask the authority before money is spent; see the permits above",
    ),
    _kind(
        "flood at intake and weir",
        "flood at the weir, flood at the intake, floods, weir, before the bank washes away, intake",
        (
            ("flood that the intake must survive, mean of its day", "flood.intake"),
            ("its return period", "flood.return_period"),
            ("peak that the weir is judged by", "flood.weir"),
        ),
        "an intake that floods pass over; nothing that people live below without a licensed dam engineer",
    ),
    _kind(
        "frost and ice",
        "frost, winter, temperature, freeze",
        (
            ("standing water in the pipe is blocked in", "freeze.worst"),
            ("days with frazil in a year", "frazil.days"),
        ),
        "cover, drains at low points, a flow that is kept; drain before a long stop",
    ),
    _kind(
        "burst or collapse of the pipe",
        "surge, vacuum, penstock, pipe, profile, closing_time, head, inlet of the penstock",
        (
            ("highest pressure, share of the pipe's rating", "pressure.share_of_rating"),
            ("closing no faster than", "closing_time.even"),
        ),
        "slow valves, air vents behind every valve, thrust blocks; a pressure test before use",
    ),
    _kind(
        _WAY,
        "air, screen, screens, forebay, diversion, diversion line, line, settling, channel, clogging",
        (("limiting component", "limiting.component"),),
        "a screen that cleans itself, a basin before the pipe, vents at high points, a weekly walk",
    ),
    _kind(
        "fault of the machine",
        (
            "plant, turbine, jets, generator, gauge, gauge card, commissioning, last visit, "
            "diagnosis, missing watts, readings, machine, pump run backwards"
        ),
        (("power at full flow", "plant.full_power"),),
        "commission it from shut to all open, read the gauge weekly, keep the spares of the list",
    ),
    _kind(
        _ELECTRIC,
        (
            "phases, short circuit, ballast, cable, main cable, circuit, inverter, battery, "
            "transformer, motor start"
        ),
        (
            ("voltage without load", "voltage.runaway"),
            ("short circuit at the terminals", "short_circuit.terminals"),
        ),
        "the electrician's list of page 06, done by a licensed person",
    ),
    _kind(
        "money",
        "costs, loan, money, demand, sizing, plan, fuel",
        (
            ("net present value", "money.npv"),
            ("debt service cover at P99, worst year", "money.cover.p99.least"),
        ),
        f"quotes in writing, a reserve for what is not foreseen, a loan that {SECURE_NAME} carries",
    ),
)
OTHER = _Kind("other", frozenset(), (), answered="see the checks of the index")


def risks(study: Study) -> tuple[Risk, ...]:
    """Each risk with what the study found of it; others where a finding belongs to none of them."""
    found: dict[str, list[Finding]] = {}
    circuits = {each.name for each in study.site.circuit}
    parts = {each.name for each in study.site.part if each.name}
    by_where = {where: kind.name for kind in KINDS for where in kind.wheres}
    for level in _LEVELS:
        for each in study.findings():
            if each.level == level:
                # a question's key in words, such as "plant healthy power", belongs where its first word does
                name = by_where.get(each.where) or by_where.get(
                    each.where.split(" ")[0], OTHER.name
                )
                if name == OTHER.name and each.where in circuits:
                    name = _ELECTRIC
                if name == OTHER.name and each.where in parts:
                    name = _WAY
                if name != OTHER.name or level != "note":
                    found.setdefault(name, []).append(each)
    made = [
        Risk(
            kind.name,
            tuple((words, key) for words, key in kind.told if study.answer(key) is not None),
            _gravest(found.get(kind.name, [])),
            answered=kind.answered,
        )
        for kind in (*KINDS, OTHER)
    ]
    return tuple(each for each in made if each.name != OTHER.name or each.findings)


def _gravest(findings: list[Finding]) -> tuple[Finding, ...]:
    """What is graver than a note; notes where nothing is."""
    return tuple(each for each in findings if each.level != "note") or tuple(findings)
