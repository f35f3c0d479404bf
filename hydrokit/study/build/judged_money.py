"""What is wrong with a plant's money: a loan that is not covered, keys under [costs] that change nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ...energy.levels import SECURE
from ...errors import Finding
from ...sentences import Amount, Sentence
from .loan import loan
from .terms import labour_visits

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["of_grant", "of_keys", "of_loan"]

# Case of the energy -> what each year then brings.
CASES = {
    "p50": "the median (P50)",
    "p90_ten": "the P90 of the ten-year mean",
    "p90": "the P90 of one year",
    "p99": "the P99 of one year",
}


def of_loan(study: Study) -> Iterator[Finding]:
    """A loan that the plant does not cover, or that outlasts it."""
    borrowed, life = loan(study), study.site.costs.life
    if borrowed is None:
        return
    if borrowed.years > life:
        yield Finding(
            "caution",
            "loan",
            Sentence(
                "the loan runs for {years}, the plant for {life}: what is then still owed "
                "falls due at its end",
                years=Amount(borrowed.years, "years"),
                life=Amount(life, "years"),
            ),
        )
    if borrowed.short:
        mean = [
            name for name in borrowed.short if borrowed.left_money[name] < borrowed.instalment_money
        ]
        year = "even a mean year" if mean else f"a year exceeded with {SECURE} % probability"
        yield Finding(
            "caution",
            "loan",
            Sentence(
                "{year} leaves too little after upkeep for the instalment of {instalment} a year",
                year=year,
                instalment=Amount(borrowed.instalment_money, "money"),
            ),
        )
        return
    cover = study.debt_cover
    worst = (
        None
        if cover is None
        else min(
            (each for each in cover.cases if each.kept is False),
            key=lambda each: each.least / (each.asked or 1.0),
            default=None,
        )
    )
    if cover is not None and worst is not None and worst.asked is not None:
        yield Finding(
            "caution",
            "loan",
            Sentence(
                "if every year brought {case}, debt service would be covered {least} times in "
                "the worst of them, less than the {asked} that a bank asks; a loan of "
                "{largest} keeps to all that is asked",
                case=CASES[worst.key],
                least=Amount(worst.least, "number"),
                asked=Amount(worst.asked, "number"),
                largest=Amount(cover.largest_money, "money"),
            ),
        )


def of_keys(study: Study) -> Iterator[Finding]:
    """Keys under [costs] that change nothing without another, or more than they can."""
    section = study.site.costs
    for key, other, told in (
        ("first_value", "first_energy", "of how many kWh a year it is the value"),
        ("first_energy", "first_value", "what each of those kWh is worth"),
        ("loan_rate", "loan_years", "over how many years the loan runs"),
        ("loan_share", "loan_years", "over how many years the loan runs"),
        ("loan_kind", "loan_years", "over how many years the loan runs"),
        ("cover_p50", "loan_years", "over how many years the loan runs"),
        ("cover_p90", "loan_years", "over how many years the loan runs"),
        ("cover_p99", "loan_years", "over how many years the loan runs"),
        ("labour_visits", "labour_rate", "what an hour is worth"),
        ("labour_hours", "labour_rate", "what an hour is worth"),
        ("depreciation_years", "tax_rate", "what the tax takes"),
    ):
        if section.given(key) and not section.given(other):
            yield Finding(
                "note", "costs", f"[costs] {key} has no effect without {other}: say {told}"
            )
    if section.labour_rate is not None and labour_visits(study.site) is None:
        yield Finding(
            "note",
            "costs",
            "[costs] labour_rate has no effect without labour_visits: say how many visits a year there are",
        )


def of_grant(study: Study) -> Iterator[Finding]:
    """A grant of more than the plant costs."""
    grant, found = study.site.costs.grant, study.money
    if grant is not None and found is not None and found.items and grant > found.first_money:
        yield Finding(
            "caution",
            "costs",
            Sentence(
                "the grant of {grant} is more than the capital cost of {capital}; no more "
                "than that is counted",
                grant=Amount(grant, "money"),
                capital=Amount(found.first_money, "money"),
            ),
        )
