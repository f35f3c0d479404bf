"""Low flows and floods of the creek."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

__all__ = ["IntakeFlood", "floods", "intake_flood", "low_flows"]


# --- how low, how high ----------------------------------------------------------------------


def low_flows(study: Any) -> Any:
    """Low-flow statistics by name, each a number in SI, a Quantile, a Recession, or the reason why not; None without a record."""
    if study.record is None:
        return None
    from ...stream import low_flow as room

    record = study.record
    return _each(
        ("lowest 7 days in 2 years", lambda: room.low_flow(record, 7, 2)),
        ("lowest 7 days in 10 years", lambda: room.low_flow(record, 7, 10)),
        ("the same, by plotting positions", lambda: room.low_flow(record, 7, 10, method="weibull")),
        *(
            (
                f"mean of the years' lowest {'day' if days == 1 else f'{days} days'}",
                lambda days=days: room.mean_annual_minimum(record, days).m_as("m^3/s"),
            )
            for days in (1, 7, 30)
        ),
        ("share of base flow, by filter", lambda: room.base_flow_index(record)),
        ("share of base flow, by five-day blocks", lambda: room.base_flow_index(record, "blocks")),
        ("recession", lambda: room.recession_constant(record)),
    )


FLOOD_YEARS = (2, 5, 10, 25, 50, 100)


def floods(study: Any) -> Any:
    """Floods by return period: (years, log-Pearson III, extreme value), each a Quantile or why not; None without a record."""
    if study.record is None:
        return None
    return tuple((years, *(found for _, found in _two_ways(study, years))) for years in FLOOD_YEARS)


def _two_ways(study: Any, years: float) -> list[tuple[str, Any]]:
    from ...stream.floods import flood

    stream = study.site["stream"]
    regional = {"regional_skew": stream.get("regional_skew")} | (
        {"regional_mse": stream["regional_skew_error"]} if "regional_skew_error" in stream else {}
    )
    return list(
        _each(
            ("lp3", lambda: flood(study.record, years, **regional)),
            ("gev", lambda: flood(study.record, years, "gev")),
        )
    )


def _each(*work: tuple[str, Any]) -> tuple[tuple[str, Any], ...]:
    """What each gives, or its sentence where it refuses."""
    from ...errors import HydrokitError
    from ...site.sheets import reason

    done = []
    for name, make in work:
        try:
            done.append((name, make()))
        except HydrokitError as error:
            done.append(
                (name, str(reason(error)).partition(";")[0])
            )  # what follows is for those who call the function
    return tuple(done)


@dataclass(frozen=True, eq=False)
class IntakeFlood:
    """The flood the intake is to survive.

    Parameters
    ----------
    life_years, risk : float
        How long it is to stand, and the chance of a greater flood that is accepted.
    given : bool
        Whether the site file says both.
    return_period_years : float
    flows : tuple
        (method, Quantile or why not).
    """

    life_years: float
    risk: float
    given: bool
    return_period_years: float
    flows: tuple[tuple[str, Any], ...]


_USUAL_LIFE, _USUAL_RISK = 25.0, 0.2  # of a small intake that can be mended, common practice


def intake_flood(study: Any) -> IntakeFlood | None:
    """The flood the intake must survive for its life and the risk accepted, or None without a record."""
    if study.record is None:
        return None
    from ...stream.floods import return_period_for

    intake = study.site["intake"]
    life, chance = intake.get("life", _USUAL_LIFE), intake.get("flood_risk", _USUAL_RISK)
    years = max(float(return_period_for(chance, life)), 1.01)
    return IntakeFlood(
        life, chance, {"life", "flood_risk"} <= set(intake), years, tuple(_two_ways(study, years))
    )
