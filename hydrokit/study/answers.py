"""The headline numbers of a study: what a rerun is held against."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..energy.levels import LEVELS, SECURE, level_name
from ..errors import sure
from .build.extremes import LEAN_WEEK

if TYPE_CHECKING:
    from ..files import Entries
    from .study import Study

__all__ = ["numbers"]


def numbers(study: Study) -> Entries:
    """Named tables of plain numbers with the unit in each name; what is not known is left out."""
    tables: dict[str, dict[str, Any]] = {"site": {"name": study.name}}
    curve = study.duration
    if curve is not None:
        tables["creek"] = {
            "days": curve.days,
            "mean_flow_m3s": float(curve.mean_m3s),
            **{
                f"flow_{share:02d}_percent_m3s": float(curve.flow_at_si(share / 100))
                for share in (5, 50, 95)
            },
            "usable_mean_m3s": float(sure(study.usable).mean()),
            **_extremes(study),
        }
    elif study.gaugings is not None:
        tables["creek"] = {
            "gaugings": len(study.gaugings),
            "lowest_gauged_m3s": float(study.gaugings.flow_m3s.min()),
        }
    if study.head is not None:
        tables["works"] = {"gross_head_m": study.head.value, **_works(study)}
    if study.plant is not None:
        named = {
            "full_power_w": "plant.full_power",
            "full_flow_m3s": "plant.full_flow",
            "net_head_m": "head.net",
        }
        tables["plant"] = {
            name: float(answer.value)
            for name, key in named.items()
            if (answer := study.answer(key)) is not None
        } | _use(study)
    if study.sizing is not None:
        choice, (low, high) = study.sizing.choice, study.sizing.flat().flows_m3s
        tables["size"] = {
            "flow_m3s": choice.flow_m3s,
            "equal_from_m3s": low,
            "equal_to_m3s": high,
            "pipe": choice.pipe.name,
            "jets": choice.jets,
            "kwh": choice.kwh,
            "loss_share": choice.loss_share,
        }
    if study.baseline is not None:
        fitted = study.baseline
        tables["today"] = {
            "power_w": float(fitted.power_w[-1]),
            "flow_m3s": float(fitted.flow_m3s[-1]),
            "efficiency": float(fitted.efficiency),
            "loss_m": float(fitted.loss_m[-1]),
        }
    made = study.answer("energy.log")
    if made is not None:
        tables["log"] = {
            "annual_kwh": made.value,
            "low_kwh": made.low,
            "high_kwh": made.high,
            "healthy_kwh": sure(study.answer("energy.log.healthy")).value,
        }
    if study.bracket is not None:
        tables["bracket"] = {"low_kwh": study.bracket.low_kwh, "high_kwh": study.bracket.high_kwh}
    if study.upgrades is not None:
        first = study.answer("upgrade.first")
        tables["upgrades"] = {
            "aim": study.upgrades.aim,
            "today": float(study.upgrades.base[study.upgrades.aim]),
            "all": float(study.upgrades.end[study.upgrades.aim]),
            "first": "none" if first is None else first.value,
        }
    if study.year is not None:
        year = study.year
        tables["energy"] = {
            "annual_kwh": year.annual_kwh,
            "winter_kwh": year.winter_kwh,
            "capacity_factor": year.capacity_factor,
            "days_full": float(year.days_full.sum()),
            "days_under_fed": float(year.days_under_fed.sum()),
            "days_stopped": float(year.days_stopped.sum()),
            "monthly_kwh": [float(each) for each in year.monthly_kwh],
        }
        if year.useful_annual_kwh is not None:
            tables["energy"]["useful_kwh"] = year.useful_annual_kwh
    if study.energy_uncertainty is not None:
        found = study.energy_uncertainty.percentiles()
        tables["uncertainty"] = {
            f"annual_p{level}_kwh": float(found[level_name(level)]["annual"]) for level in LEVELS
        }
        tables["uncertainty"] |= {
            f"ten_years_p{SECURE}_kwh": study.energy_uncertainty.annual_kwh(SECURE, "several"),
            f"mean_p{SECURE}_kwh": study.energy_uncertainty.annual_kwh(SECURE, "mean"),
        }
    if study.site.operation and study.day_by_day is not None:
        cost = study.day_by_day.remembered.cost_kwh
        tables["days"] = {f"{name}_cost_kwh": float(each.sum()) for name, each in cost.items()}
    if study.money is not None:
        tables["money"] = _money(study.money)
    if study.house is not None:
        tables["heat"] = {"house_w_per_k": study.house.conductance_w_k}
        if study.warmth is not None and study.warmth.heat is not None:
            tables["heat"]["met_share"] = study.warmth.heat.met_share
    return {
        name: known
        for name, table in tables.items()
        if (known := {key: value for key, value in table.items() if _is_known(value)})
    }


def _money(found: Any) -> dict[str, float]:
    """What the plant costs and pays; what the energy is worth where it stands already."""
    from .build.useful_energy import FEW_GAUGINGS

    if not found.items:
        if found.energy.source == FEW_GAUGINGS:  # no middle is given of so few
            value = found.case.value_money_per_kwh
            return {
                "worth_at_least": value * found.energy.low_kwh,
                "worth_at_most": value * found.energy.high_kwh,
            }
        return {"worth": found.worth_money}
    numbers = {
        "capital_cost": found.first_money,
        "cost_per_kwh": float(found.stands.levelised_money_per_kwh),
    }
    if found.valued:
        low, high = found.drawn.percentiles((10, 90))["npv_money"]
        numbers |= {
            "net_present_value": float(found.stands.npv_money),
            "net_present_value_p10": float(low),
            "net_present_value_p90": float(high),
        }
        back = float(found.flow.payback_years)
        numbers |= {"payback_years": back} if back < float("inf") else {}
    if len(found.cases) > 1:
        numbers |= {"net_present_value_all_sold": float(found.cases[1].stands.npv_money)}
    return numbers


def _is_known(value: Any) -> bool:
    return all(
        each == each and each not in (float("inf"), float("-inf"))
        for each in (value if isinstance(value, list) else [value])
    )


def _use(study: Study) -> dict[str, Any]:
    """Where the jets change and what the main cable carries."""
    found: dict[str, Any] = {}
    if study.jet_plan is not None and len(study.jet_plan.schedule.bands) > 1:
        found["jets_change_m3s"] = [band.from_m3s for band in study.jet_plan.schedule.bands[1:]]
    if study.wires is not None and study.wires.main.asks is not None:
        found["cable_current_a"] = float(study.wires.main.asks.current_a)
    return found


def _extremes(study: Study) -> dict[str, float]:
    """The lowest week of ten years, and the flood the intake must survive, where the record tells them."""
    from ..stream.frequency import Quantile

    lean, flood = dict(sure(study.low_flows))[LEAN_WEEK], sure(study.intake_flood).flows[0][1]
    found = {"low_7_days_10_years_m3s": lean, "intake_flood_m3s": flood}
    return {name: each.flow_m3s for name, each in found.items() if isinstance(each, Quantile)}


def _works(study: Study) -> dict[str, float]:
    """What the penstock must hold, and whether the diversion line starts."""
    found = {}
    if study.pressures is not None:
        found["highest_pressure_pa"] = float(study.pressures.highest_pa.max())
    if study.intake_weir is not None:
        weir = study.intake_weir
        found["flood_over_weir_m"] = weir.peak_depth_m
        if weir.notch is not None:
            found["notch_width_m"] = weir.notch.used_m
    if study.overflow is not None:
        found["overflow_level_m"] = study.overflow.level_m
    if study.line_air is not None:
        walked = study.line_air.filling
        found["line_full_bore_m3s"] = study.line_air.line.full_bore_m3s
        found["line_margin_m"] = walked.margin_m
        if walked.stalls_m is not None:
            found["line_stalls_at_m"] = walked.stalls_m
    return found
