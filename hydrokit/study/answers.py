"""The headline numbers of a study: what a rerun is held against."""

from __future__ import annotations

from typing import Any

__all__ = ["numbers"]


def numbers(study: Any) -> dict[str, Any]:
    """Named tables of plain numbers with the unit in each name; what is not known is left out."""
    tables: dict[str, dict[str, Any]] = {"site": {"name": study.name}}
    if study.record is not None:
        curve = study.duration
        tables["creek"] = {
            "days": curve.days,
            "mean_flow_m3s": float(curve.mean_m3s),
            **{f"flow_{share:02d}_percent_m3s": float(curve.flow_at_si(share / 100)) for share in (5, 50, 95)},
            "usable_mean_m3s": float(study.usable.mean()),
        }
    elif study.gaugings is not None:
        tables["creek"] = {"gaugings": len(study.gaugings), "lowest_gauged_m3s": float(study.gaugings.flow_m3s.min())}
    if study.head is not None:
        tables["works"] = {"gross_head_m": study.head.value}
    return tables
