"""From the site file to how a plant is paid for: inflation, loan, tax, and what is paid each year."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...energy.accounts import Terms
    from ...site.schema import Site
    from ...site.schema_costs import Costs

__all__ = ["LABOUR", "borrowing_rate", "labour_visits", "terms", "yearly_lines"]

LABOUR = "owner's labour"
_DAYS_OF_A_YEAR = 365.25


def borrowing_rate(section: Costs) -> float:
    """What borrowed money costs a year as a bank writes it; without a loan, what the owner's own
    money does."""
    from ...energy.discounting import nominal_rate

    if section.loan_rate is not None:
        return section.loan_rate
    return float(nominal_rate.si(section.discount_rate, section.inflation))


def terms(section: Costs) -> Terms:
    """How the plant is paid for."""
    from ...energy.accounts import Terms

    return Terms(
        section.inflation,
        section.loan_years,
        borrowing_rate(section),
        loan_share=section.loan_share,
        equal_principal=section.loan_kind == "equal principal",
        tax_rate=section.tax_rate or 0.0,
        depreciation_years=section.depreciation_years,
    )


def labour_visits(site: Site) -> float | None:
    """Visits of the owner in a year; None where nobody said how often."""
    if site.costs.labour_visits is not None:
        return site.costs.labour_visits
    if not site.operation.given("visit_days"):
        return None
    return _DAYS_OF_A_YEAR / site.operation.visit_days


def yearly_lines(site: Site) -> tuple[tuple[str, float], ...]:
    """What is paid in a year whatever the plant costs, by what for."""
    section, visits = site.costs, labour_visits(site)
    labour = (
        None
        if section.labour_rate is None or visits is None
        else visits * section.labour_hours * section.labour_rate
    )
    lines = (
        ("insurance", section.insurance),
        ("abstraction fee", section.abstraction_fee),
        ("land rent", section.land_rent),
        ("standing charge", section.standing_charge),
        (LABOUR, labour),
    )
    return tuple((name, money) for name, money in lines if money)
