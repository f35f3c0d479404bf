"""How sure the site file's values are: one standard deviation for each thing the energy rests on,
and what is said of it twice or in vain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...result import Result
from ...sentences import Amount, Sentence
from ...site.schema import SECTIONS, TYPES
from ...site.section import Section
from ...site.values import Measured

if TYPE_CHECKING:
    from ...energy.uncertain_inputs import Uncertainties
    from ..study import Study

__all__ = ["length_findings", "uncertainties", "uncertainty_findings"]


def uncertainties(study: Study) -> Uncertainties:
    """What the energy rests on, with the uncertainty of each: the site file's, else what was
    measured, else the usual."""
    from ...energy.uncertain_inputs import Uncertainties

    given = {key: value for key, value in study.site.uncertainty.items() if key != "draws"}
    if study.head is not None and study.head.relative is not None:
        given["head"] = study.head.relative
    for name, found in _measured(study).items():
        given.setdefault(name, found)
    return Uncertainties(
        rating=study.rating_error or study.record_uncertainty,
        extension=study.transfer_error or 0.0,
        **given,
    )


def _measured(study: Study) -> dict[str, float]:
    """Standard deviations as shares that follow from what stands behind ± in the site file."""
    from ...energy.uncertain_inputs import Uncertainties

    site, found = study.site, {}
    machine = [
        each
        for each in (_of(site.turbine, "efficiency"), _of(site.generator, "efficiency"))
        if each is not None
    ]
    whole = _of(site.generator, "water_to_wire")
    if whole is not None:
        found["efficiency"] = whole
    elif machine and not site.generator.given("water_to_wire"):
        # of a runner of which nothing is said, the usual
        runner = Uncertainties.efficiency if _of(site.turbine, "efficiency") is None else 0.0
        found["efficiency"] = float(np.hypot(np.linalg.norm(machine), runner))
    if (coefficient := _of(site.turbine, "jet_coefficient")) is not None:
        found["jet_area"] = coefficient
    if (length := _length_used(study)) is not None:
        found["loss"] = float(np.hypot(Uncertainties.loss, length))
    if (capacity := _of(site.intake, "capacity")) is not None:
        found["intake"] = min(capacity, 1.0)
    return found


def _of(section: Section, key: str) -> float | None:
    """What stands behind the ± of a value, as a share of it."""
    value = section.get(key)
    return value.relative if isinstance(value, Measured) else None


def _length_used(study: Study) -> float | None:
    """Standard deviation of the pipe's length as a share, where the length is what the site file says."""
    open_ended = any("length" not in entry for entry in study.site.penstock.pipe)
    return _of(study.site.penstock, "length") if study.profile is None and open_ended else None


# --- what is said twice, in vain, or beyond belief -------------------------------------------

_UNLIKELY = {
    "head": 0.10,
    "loss": 0.50,
    "efficiency": 0.25,
    "jet_area": 0.25,
}  # standard deviations beyond which nothing was measured; common practice
_UNLIKELY_RECORD, _UNLIKELY_VALUE = 0.40, 0.50
_SAME = 0.1  # two standard deviations nearer to each other than this share of them are one


def uncertainty_findings(study: Study) -> tuple[Finding, ...]:
    """Standard deviations so wide that the value says nothing, and those that another one overrules."""
    site = study.site
    found: list[Finding] = []

    def caution(template: str, **amounts: Amount | str | int) -> None:
        found.append(Finding("caution", "uncertainty", Sentence(template, **amounts)))

    for key, most in _UNLIKELY.items():
        if (sd := site.uncertainty.get(key) or 0.0) >= most:
            caution(
                "[uncertainty] {key} is {sd}, one standard deviation: a measurement stays far "
                "below {most}; measure it, or look for a slip in the site file",
                key=key,
                sd=Amount(sd, "share", 2),
                most=Amount(most, "share", 2),
            )
    if (sd := site.stream.record_uncertainty or 0.0) >= _UNLIKELY_RECORD:
        caution(
            "[stream] record_uncertainty is {sd}, one standard deviation: flows from a rating "
            "stay far below {most}; look for a slip, or gauge the creek",
            sd=Amount(sd, "share", 2),
            most=Amount(_UNLIKELY_RECORD, "share", 2),
        )
    for name in TYPES:
        for entry in [site[name]] if name in SECTIONS else site[name]:
            for key, value in entry.items():
                if isinstance(value, Measured) and (sd := value.relative or 0.0) >= _UNLIKELY_VALUE:
                    caution(
                        "[{section}] {key} is given ± {sd} of itself, one standard deviation: "
                        "so wide that the value says next to nothing; measure it, or look for "
                        "a slip",
                        section=name,
                        key=key,
                        sd=Amount(sd, "share", 2),
                    )
    gauged = study.gaugings
    if gauged is not None and (wide := int(np.sum(gauged.uncertainty >= _UNLIKELY_VALUE))):
        caution(
            "{wide} of {all} gaugings have an uncertainty of {sd} or more, one standard "
            "deviation: even a float is better; look for a slip in the sheet",
            wide=wide,
            all=len(gauged),
            sd=Amount(_UNLIKELY_VALUE, "share", 2),
        )
    return (*found, *_overruled(study), *length_findings(study))


def _overruled(study: Study) -> tuple[Finding, ...]:
    """Values behind ± that do nothing, because the site file says something else of the same thing."""
    site, told = study.site, study.site.uncertainty
    pairs = [
        ("efficiency", "[turbine] efficiency", _of(site.turbine, "efficiency")),
        ("efficiency", "[generator] efficiency", _of(site.generator, "efficiency")),
        ("efficiency", "[generator] water_to_wire", _of(site.generator, "water_to_wire")),
        ("jet_area", "[turbine] jet_coefficient", _of(site.turbine, "jet_coefficient")),
        ("loss", "[penstock] length", _length_used(study)),
    ]
    found = [
        Finding(
            "note",
            "uncertainty",
            Sentence(
                "the ± of {key} is not used: [uncertainty] {name} gives {sd} for the whole of it",
                key=key,
                name=name,
                sd=Amount(told[name], "share", 2),
            ),
        )
        for name, key, sd in pairs
        if sd is not None and name in told and abs(told[name] - sd) > _SAME * sd
    ]
    if site.generator.given("water_to_wire"):
        found += [
            Finding(
                "note",
                "uncertainty",
                f"the ± of {key} is not used: water_to_wire stands for the whole",
            )
            for key, section in (
                ("[turbine] efficiency", "turbine"),
                ("[generator] efficiency", "generator"),
            )
            if _of(site[section], "efficiency") is not None
        ]
    own = _of(site.penstock, "head")
    if own is not None and "head" in told and abs(told["head"] - own) > _SAME * own:
        found.append(
            Finding(
                "note",
                "uncertainty",
                Sentence(
                    "[penstock] head is given ± {own}, which is used; [uncertainty] head says "
                    "{other}: leave one of them out",
                    own=Amount(own, "share", 2),
                    other=Amount(told["head"], "share", 2),
                ),
            )
        )
    return tuple(found)


_APART = 0.02  # of its length: as good as a tape along the line is
_LEVELS_APART_M = 0.3  # three times what a careful level survey may be off, common practice


def length_findings(study: Study) -> tuple[Finding, ...]:
    """A length and a water level that stand beside a surveyed profile: held against it, for the
    profile is what is used."""
    surveyed, found = study.profile, []
    length, level = study.site.penstock.length, study.site.intake.level
    if length is not None and surveyed is not None:
        apart = abs(length.value - surveyed.length_m)
        if apart > max(_APART * surveyed.length_m, 3 * (length.sd or 0.0)):
            found.append(
                Finding(
                    "caution",
                    "penstock",
                    Sentence(
                        "length is {length}, but the profile is {surveyed} long, which is "
                        "used: find out which is wrong",
                        length=Amount(length.value, "length", 4),
                        surveyed=Amount(surveyed.length_m, "length", 4),
                    ),
                )
            )
        else:
            found.append(
                Finding(
                    "note",
                    "penstock",
                    Sentence(
                        "length, {length}, agrees with the profile, which is used",
                        length=Amount(length.value, "length", 4),
                    ),
                )
            )
    elif (
        length is not None
        and study.site.penstock.pipe
        and all("length" in entry for entry in study.site.penstock.pipe)
    ):
        found.append(
            Finding(
                "note",
                "penstock",
                "length is held against those of the pipes, which are used; its ± changes nothing",
            )
        )
    if level is not None and surveyed is None:
        found.append(
            Finding(
                "note",
                "intake",
                "level is not used: it is held against the profile of the penstock, and there is none",
            )
        )
    elif level is not None and surveyed is not None:
        top = float(surveyed.elevation_m[0])
        apart = abs(level - top)
        if apart > _LEVELS_APART_M:
            found.append(
                Finding(
                    "caution",
                    "intake",
                    Sentence(
                        "level is {level}, but the profile of the penstock begins at {top}, "
                        "which is used as the level of the water: they are {apart} apart; "
                        "level again, in one datum",
                        level=Amount(level, "length", 5),
                        top=Amount(top, "length", 5),
                        apart=Amount(apart, "length", 2),
                    ),
                )
            )
        else:
            found.append(
                Finding(
                    "note",
                    "intake",
                    Sentence(
                        "level, {level}, agrees with the first station of the profile, which is used",
                        level=Amount(level, "length", 5),
                    ),
                )
            )
    return tuple(found)


# --- from the median to the P90 --------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class SourceStep(Result):
    """What one source of uncertainty, or all together, takes from the median (P50) down to the P90.

    Parameters
    ----------
    name : str
        Source as the uncertainty of the energy names it; ``"all"`` for all together.
    sd_kwh : float
        One standard deviation of the annual energy by it; NaN for all together.
    one_year_kwh, mean_kwh : float
        Part of the step of one year, and of the long-run mean.
    """

    name: str
    sd_kwh: float
    one_year_kwh: float
    mean_kwh: float


_LEAST_STEP = 0.002  # of the whole step of one year: a smaller one is left out of tables


def uncertainty_steps(study: Study) -> tuple[SourceStep, ...]:
    """From P50 to P90 source by source, all together last; nothing without an uncertainty of the energy."""
    found = study.energy_uncertainty
    if found is None:
        return ()
    single, mean = found.steps("single"), found.steps("mean")
    steps = [
        SourceStep(
            name=str(name),
            sd_kwh=float(found.tornado.loc[name, "sd_kwh"]),
            one_year_kwh=float(single[name]),
            mean_kwh=float(mean[name]),
        )
        for name in single.index
        if max(single[name], mean[name]) > _LEAST_STEP * single.sum()
    ]
    whole = SourceStep(
        name="all",
        sd_kwh=np.nan,
        one_year_kwh=float(single.sum()),
        mean_kwh=float(mean.sum()),
    )
    return (*steps, whole)
