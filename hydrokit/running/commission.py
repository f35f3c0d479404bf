"""Commissioning: what the plant does when all is well, from pressures and watts by jet count.

Read the gauge with everything shut, then with one jet, two jets, up to all of them, the pond
spilling all the while, and the watts each time. The jets are the flow meter, the pipe shows its loss,
the watts show the machine. The fit is the baseline that later readings are held against.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission
>>> from hydrokit.running.reading import reading
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> healthy = commission(seen, FixedJets((0.01905,) * 4, 0.95))
>>> print(f"{healthy.flow[3].to('gpm'):.0f~P} through four jets, {healthy.efficiency:.0%} from jets to wire")
433 gpm through four jets, 57% from jets to wire
"""

from __future__ import annotations

from dataclasses import replace
from typing import Callable, Sequence

import numpy as np

from ..errors import Finding, HydrokitError
from ..plant.parts import FixedJets, LineLoss, MeasuredLoss
from ..sentences import Amount, Sentence
from ..water import density
from .baseline import Baseline, baseline
from .fit import Data, Fitted, Model, fit
from .reading import Reading

__all__ = ["commission"]


def commission(
    readings: Sequence[Reading],
    jets: FixedJets,
    line: LineLoss | None = None,
    coefficient_sd: float = 0.03,
    pressure_sd: float = 0.01,
    power_sd: float = 0.02,
    flow_sd: float = 0.05,
    gauge_height_m: float = 0.0,
    zero_error_pa: float = 0.0,
    gauge_bore_m: float | None = None,
    density_kgm3: float | None = None,
) -> Baseline:
    """Fit head, pipe loss, jets and machine to readings of the healthy plant.

    Parameters
    ----------
    readings : sequence of Reading
        With everything shut and with one to all jets open, the pond spilling.
    jets : FixedJets
        Bores as drilled and the usual coefficient of their kind.
    line : LineLoss, optional
        The pipe as known; its loss is fitted as a factor. None: a loss that grows with the square.
    coefficient_sd : float
        Standard deviation of area times coefficient as stated, as a share: half the spread of the
        kind in ``plant.jets.JET_KINDS``.
    pressure_sd : float
        Of a pressure reading, as a share of the highest pressure read.
    power_sd, flow_sd : float
        Of a reading of watts or flow, as a share of it.
    gauge_height_m : float
        Height of the gauge above the jets; negative if it hangs lower.
    zero_error_pa : float
        What the gauge reads with no pressure on it.
    gauge_bore_m : float, optional
        Bore of the pipe at the gauge, to count the velocity there.
    density_kgm3 : float, optional

    Returns
    -------
    Baseline

    Raises
    ------
    HydrokitError
        Too few readings, jets that are not there, a running pressure above that with everything shut.

    Notes
    -----
    Gauss-Newton in logarithms with normal errors. Area times coefficient has the stated uncertainty as
    its prior; the other priors are too wide to matter where there are readings. Efficiency may
    fall when few jets run: its logarithm goes with that of the share of jets open. Days whose
    readings do not fit those of the day on which most numbers of jets were read are left out and
    told: the plant may no longer have been well.
    """
    if density_kgm3 is None:
        density_kgm3 = float(density.si())
    kept, findings = _usable(readings, jets)
    if zero_error_pa:
        kept = [replace(each, pressure_pa=each.pressure_pa - zero_error_pa) for each in kept]
    sigma_pa = pressure_sd * max(each.pressure_pa for each in kept)
    findings += _above_static(kept, sigma_pa)
    model = Model(
        jets,
        line or MeasuredLoss(1.0),
        density_kgm3,
        gauge_height_m=gauge_height_m,
        gauge_bore_m=gauge_bore_m,
    )

    def fitted(some: Sequence[Reading]) -> Fitted:
        data = Data.of(some, sigma_pa, power_sd, flow_sd)
        return Fitted(data, *fit(model, data, model.start(some, line), coefficient_sd))

    kept, strange = _of_one_state(kept, fitted)
    findings += strange
    found = fitted(kept)
    data, theta, covariance, misses = found.data, found.theta, found.covariance, found.misses
    if found.excess > 1:
        covariance = covariance * found.scatter**2
        worst = data.names[int(np.argmax(np.abs(misses)))]
        text = Sentence(
            "readings scatter {times} times as much as stated, most of all {worst}; the intervals are widened, look at it again",
            times=Amount(found.scatter, "number", 2),
            worst=worst,
        )
        findings.append(Finding("caution", "commissioning", text))
    return baseline(model, data, theta, covariance, misses, kept, tuple(findings), line is not None)


# --- readings -------------------------------------------------------------------------------


def _of_one_state(
    kept: list[Reading], fitted: Callable[[Sequence[Reading]], Fitted]
) -> tuple[list[Reading], list[Finding]]:
    """The readings without the days that do not fit the day of commissioning, and a finding on those.

    Commissioned was the plant on the day on which most numbers of jets were read, the first of
    such. The other days join it one after the other where they fit. Where most would be left out,
    all are kept.
    """
    days = sorted({each.day for each in kept})
    first = max(days, key=lambda day: len({each.jets for each in kept if each.day == day}))
    rest = [each for each in kept if each.day == first]
    if len(days) == 1 or not _enough(rest) or fitted(rest).excess > 1 or fitted(kept).excess <= 1:
        return kept, []
    for day in days:
        more = [each for each in kept if each.day == day or each in rest]
        if fitted(more).excess <= 1:
            rest = more
    if 2 * len(rest) < len(kept):  # that is scatter, not one sick day
        return kept, []
    left = ", ".join(
        f"{each.name} of {each.day}" if each.day else each.name for each in kept if each not in rest
    )
    text = f"{left} left out: not as on the day the plant was commissioned, so it may not have been healthy then; see the diagnosis"
    return rest, [Finding("caution", "commissioning", text)]


def _enough(kept: list[Reading]) -> bool:
    """Whether head and loss can be told from these: everything shut and jets open, or two numbers of jets."""
    running = {each.jets for each in kept if each.jets}
    return len(running) > 1 or (len(running) == 1 and any(each.jets == 0 for each in kept))


def _usable(readings: Sequence[Reading], jets: FixedJets) -> tuple[list[Reading], list[Finding]]:
    """Readings that may be fitted, named, and what must be told of the others."""
    named = [
        replace(each, name=each.name or f"reading {number}")
        for number, each in enumerate(readings, 1)
    ]
    if len(set(jets.diameters_m)) > 1:
        raise HydrokitError(
            f"commission(): the {jets.name} differ in bore, so a number of jets does not say which; give equal jets, or all open"
        )
    for each in named:
        if each.jets not in range(jets.count + 1):
            raise HydrokitError(
                f"commission(): {each.name} has {each.jets} jets open, but there are {jets.count}"
            )
        if not each.pressure_pa > 0:
            raise HydrokitError(
                f"commission(): {each.name} needs a gauge pressure above zero, got {each.pressure_pa:g} Pa"
            )
        for what, value in (("power", each.power_w), ("flow", each.flow_m3s)):
            if each.jets and value <= 0:
                raise HydrokitError(
                    f"commission(): {each.name} has a {what} of {value:g}; leave it out if it was not read"
                )
    kept = [each for each in named if each.spilling is not False]
    findings = []
    if len(kept) < len(named):
        left = ", ".join(each.name for each in named if each.spilling is False)
        findings.append(
            Finding(
                "caution",
                "commissioning",
                f"{left} left out: the forebay was not spilling, so the jets may have been under-fed",
            )
        )
    if any(each.spilling is None and each.jets for each in kept):
        findings.append(
            Finding(
                "note",
                "commissioning",
                "nothing is said of the forebay; it is taken to have spilled while the jets ran",
            )
        )
    if not _enough(kept):
        raise HydrokitError(
            "commission(): give a pressure with everything shut and one with jets open, or two numbers of jets"
        )
    return kept, findings


def _above_static(kept: list[Reading], sigma_pa: float) -> list[Finding]:
    """Refuse a running pressure that no gauge's error explains; tell of one that it does."""
    shut = [each.pressure_pa for each in kept if each.jets == 0]
    if not shut:
        return []
    static, found = float(np.mean(shut)), []
    for each in kept:
        text = Sentence(
            "{name} has a running pressure of {running} with {jets} jets open, above the {static} with everything shut",
            name=each.name,
            running=Amount(each.pressure_pa, "pressure"),
            jets=each.jets,
            static=Amount(static, "pressure"),
        )
        if each.jets and each.pressure_pa > static + 3 * sigma_pa * np.sqrt(1 + 1 / len(shut)):
            raise HydrokitError(
                Sentence(
                    "commission(): {text}; water that moves loses pressure, so one of them is wrong or they are swapped",
                    text=text,
                )
            )
        if each.jets and each.pressure_pa > static:
            found.append(
                Finding(
                    "caution",
                    "commissioning",
                    text + ", though within the gauge's error; read both again",
                )
            )
    return found
