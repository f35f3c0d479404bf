"""What is assumed where the site file says nothing and nobody measured: each value once, with where
it comes from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...plant.parts import part_name
from ...result import Result
from ..answer import Answer, Evidence
from . import log as build_log
from . import pipes, provenance, rights
from . import turbine as build_turbine
from . import year as build_year
from .machines import opened
from .uncertain import uncertainties

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["Assumption", "assumed", "assumptions"]

_USUAL = "common practice"


@dataclass(frozen=True, eq=False)
class Assumption(Result):
    """A value that stands in for one nobody gave.

    Parameters
    ----------
    what : str
        In words.
    key : str
        Where the site file would say otherwise; empty where it cannot.
    answer : Answer
        Its value under a key of its own, ``assumed.…``.
    """

    what: str
    key: str
    answer: Answer


def assumptions(study: Study) -> tuple[Assumption, ...]:
    """Every assumption that the results of this study rest on, along the water."""
    return tuple(
        [
            *_creek(study),
            *_head(study),
            *_plant(study),
            *_uncertainty(study),
            *_years(study),
            *_money(study),
        ]
    )


def assumed(study: Study, key: str) -> Answer | None:
    """One of them by its key; None where this study does not rest on it."""
    return next((each.answer for each in study.assumptions if each.answer.key == key), None)


def _of(
    name: str,
    what: str,
    key: str,
    value: float,
    kind: str = "share",
    source: str = _USUAL,
    digits: int = 2,
) -> Assumption:
    return Assumption(
        what,
        key,
        Answer(
            f"assumed.{name}",
            value,
            kind,
            digits=digits,
            evidence=Evidence.COMMON_PRACTICE,
            source=source,
        ),
    )


def _creek(study: Study) -> Iterator[Assumption]:
    stream = study.site.stream
    if (
        study.record is not None
        and "record_uncertainty" not in stream
        and study.rating is None
        and study.gaugings is None
        and stream.provenance == "measured"
    ):
        yield _of(
            "ungauged",
            "uncertainty of a daily record that no gauging was held against",
            "[stream] record_uncertainty",
            rights.UNGAUGED_SD,
        )
    usual = provenance.NOT_MEASURED_SD.get(stream.provenance)
    if usual is not None and stream.record is not None and stream.record_uncertainty is None:
        yield _of(
            "not_measured",
            f"uncertainty of a record that is {stream.provenance}",
            "[stream] record_uncertainty",
            usual,
        )
    own = study.extension
    if own is not None and own.skill is None and own.error is not None:
        yield _of(
            "extension",
            "uncertainty of the median flow of borrowed years that no common day was held against",
            "[stream] record",
            float(own.error.sd_si(own.record.median())),
        )
    if not study.site.site.given("water_temperature"):
        yield _of(
            "water_temperature",
            "temperature of the water",
            "[site] water_temperature",
            study.water_temperature_k,
            "temperature",
        )


def _head(study: Study) -> Iterator[Assumption]:
    penstock, told = study.site.penstock, study.site.uncertainty.given("head")
    if study.head is None or told:
        return
    if "head" in penstock or study.profile is not None:
        if "head" not in penstock or penstock["head"].sd is None:
            yield _of(
                "head", "uncertainty of a surveyed head", "[penstock] head, with ±", pipes.SURVEY_SD
            )
    elif penstock["static_pressure"].sd is None:
        yield _of(
            "head",
            "uncertainty of a head read on a gauge",
            "[penstock] static_pressure, with ±",
            pipes.GAUGE_SD,
        )


def _speed(study: Study, plant: Chain) -> Iterator[Assumption]:
    """How the speed of an impulse runner is held while its jets slow down, and which head it suits."""
    speed = build_turbine.runner_speed(study)
    if speed.held > 0:
        yield _of(
            "runner_speed",
            (
                "net head that the speed of the runner suits, all jets open: as the plant stands; "
                "a change to the plant leaves the installed runner its speed"
            ),
            "",
            float(plant.replace(supply=(), states=()).running().at_si(np.inf).net_head_m),
            "head",
            digits=3,
        )
    if not speed.sure:
        yield Assumption(
            "share of the runner's speed that is held while under-fed jets slow down: 100 % "
            "by a grid or a governor, 0 % where it follows the jets",
            "[generator] speed",
            Answer(
                "assumed.speed_held",
                speed.held,
                "share",
                digits=2,
                low=speed.low,
                high=speed.high,
                evidence=Evidence.COMMON_PRACTICE,
                source=speed.why,
            ),
        )


def _plant(study: Study) -> Iterator[Assumption]:
    from ...plant.generator import GENERATOR_KINDS
    from ...plant.turbine import part_load

    site, plant = study.site, study.plant
    if plant is None or not site.turbine:
        return
    turbine, section = site.turbine, site.generator
    if (
        build_turbine.fixed_jets(turbine)
        and "jet_coefficient" not in turbine
        and study.baseline is None
    ):
        kind = build_turbine.jet_kind(turbine)
        yield _of(
            "jet_coefficient",
            f"discharge coefficient of the jets, found from {kind.low:g} to {kind.high:g}",
            "[turbine] jet_coefficient",
            kind.coefficient,
            source="the middle of what such jets are measured to have",
        )
    if build_turbine.fixed_jets(turbine):
        yield from _speed(study, plant)
    if "water_to_wire" in section or study.baseline is not None:
        return
    if not {"efficiency", "efficiency_table"} & turbine.keys() and not site.machine:
        yield _of(
            "runner_efficiency",
            "best efficiency of the runner",
            "[turbine] efficiency",
            float(part_load.si(turbine["kind"]).best),
        )
    generator = next((part for part in plant.electric if part_name(part) == "generator"), None)
    if generator is None:
        return
    made = section.kind
    if "efficiency" not in section:
        yield _of(
            "generator_efficiency",
            "efficiency of the generator at full load",
            "[generator] efficiency",
            float(getattr(generator, "losses", generator).efficiency_si(1.0)),
            source="motor classes as bounds (CEMEP); place between them common practice",
        )
    if "constant_loss" not in section:
        yield _of(
            "constant_loss",
            (
                f"share of the losses of {'an' if made[0] in 'aeiou' else 'a'} {made} generator "
                "at full load that it has at any load"
            ),
            "[generator] constant_loss",
            GENERATOR_KINDS[made].constant_share,
        )


_NAMES = {
    "loss": "head loss of the penstock",
    "efficiency": "efficiency, water to wire",
    "jet_area": "effective area of the jets",
}


def _uncertainty(study: Study) -> Iterator[Assumption]:
    from ...energy.uncertain_inputs import Uncertainties

    if study.plant is None:
        return
    gates = {"jet_area": "flow that the machine passes fully open"}
    for name, what in (_NAMES | (gates if opened(study) != "jet" else {})).items():
        usual = getattr(Uncertainties, name)
        if name not in study.site.uncertainty and np.isclose(
            getattr(uncertainties(study), name), usual
        ):
            yield _of(f"{name}_sd", f"uncertainty of the {what}", f"[uncertainty] {name}", usual)
    if study.energy_uncertainty is not None:
        yield _of(
            "outage_sd",
            "uncertainty of the share of time lost to unplanned stops, itself a share of time",
            "",
            Uncertainties.outage,
        )


def _years(study: Study) -> Iterator[Assumption]:
    from ...energy.outlook import FEW_YEARS_SD
    from ...running.log_year import WORTH_YEARS

    few, logged = (
        study.energy_uncertainty is not None and study.energy_uncertainty.outlook.few,
        build_log.by_log(study),
    )
    if few or logged:
        yield _of(
            "years_sd",
            "standard deviation of the energy of single years, "
            + (
                f"counted as {WORTH_YEARS} years beside those of the log"
                if logged
                else "where fewer than three are recorded"
            ),
            "",
            FEW_YEARS_SD,
        )
    if study.year is not None and not study.site.outage.given("unplanned"):
        yield _of(
            "unplanned",
            "share of time lost to unplanned stops",
            "[outage] unplanned",
            build_year.outages(study.site).unplanned,
            source="none is counted until the site file says one",
        )


def _money(study: Study) -> Iterator[Assumption]:
    section = study.site.costs
    if study.money is None:
        return
    for name, what, kind in (
        ("discount_rate", "discount rate, above inflation", "share"),
        ("life", "life of the plant", "years"),
    ):
        if not section.given(name):
            yield _of(name, what, f"[costs] {name}", getattr(section, name), kind)
