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
from typing import Sequence

import numpy as np

from ..errors import Finding, HydrokitError
from ..plant.parts import FixedJets, LineLoss, MeasuredLoss
from ..plant.runner_speed import UNKNOWN, RunnerSpeed
from ..sentences import Amount, Sentence, series_text
from ..water import density
from .baseline import Baseline, baseline
from .epochs import Change, added_variance, commissioned_on, enough, since
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
    changes: Sequence[Change] = (),
    speed: RunnerSpeed = UNKNOWN,
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
    changes : sequence of Change
        What was changed at the plant, whenever: what was changed after the commissioning makes the
        plant less sure by what is usual.
    speed : RunnerSpeed
        How far that of the runner is held while under-fed jets slow down.

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
    fall when few jets run: its logarithm goes with that of the share of jets open. Only readings of
    the day of commissioning are fitted (:func:`~hydrokit.running.epochs.commissioned_on`): a later
    visit may find a plant that is no longer well.
    """
    if density_kgm3 is None:
        density_kgm3 = float(density.si())
    kept, findings = _usable(readings, jets)
    days = tuple(sorted({each.day for each in kept}))
    changed = since(changes, days[-1])
    if zero_error_pa:
        kept = [replace(each, pressure_pa=each.pressure_pa - zero_error_pa) for each in kept]
    sigma_pa = pressure_sd * max(each.pressure_pa for each in kept)
    findings += _above_static(kept, sigma_pa) + _changed(changed)
    model = Model(
        jets,
        line or MeasuredLoss(1.0),
        density_kgm3,
        gauge_height_m=gauge_height_m,
        gauge_bore_m=gauge_bore_m,
    )
    data = Data.of(kept, sigma_pa, power_sd, flow_sd)
    theta, spread, misses = fit(model, data, model.start(kept, line), coefficient_sd)
    found = Fitted(data, theta, spread, misses=misses)
    covariance = found.covariance
    if found.excess > 1:
        covariance = covariance * found.scatter**2
        worst = data.names[int(np.argmax(np.abs(found.misses)))]
        text = Sentence(
            "readings scatter {times} times as much as stated, most of all {worst}; the "
            "intervals are widened, look at it again",
            times=Amount(found.scatter, "number", 2),
            worst=worst,
        )
        findings.append(Finding("caution", "commissioning", text))
    covariance = covariance + np.diag(added_variance(changed))
    made = baseline(
        model,
        data,
        found.theta,
        covariance,
        found.misses,
        kept,
        tuple(findings),
        line is not None,
        speed,
    )
    return replace(made, days=days, changes=changed)


# --- readings -------------------------------------------------------------------------------


def _usable(readings: Sequence[Reading], jets: FixedJets) -> tuple[list[Reading], list[Finding]]:
    """Readings that may be fitted, named, and what must be told of the others."""
    named = [
        replace(each, name=each.name or f"reading {number}")
        for number, each in enumerate(readings, 1)
    ]
    if len(set(jets.diameters_m)) > 1:
        raise HydrokitError(
            f"commission(): the {jets.name} differ in bore, so a number of jets does not say "
            "which; give equal jets, or all open"
        )
    for each in named:
        if each.jets not in range(jets.count + 1):
            raise HydrokitError(
                f"commission(): {each.name} has {each.jets} jets open, but there are {jets.count}"
            )
        if not each.pressure_pa >= 0:
            raise HydrokitError(
                f"commission(): {each.name} needs a gauge pressure, zero or more, got {each.pressure_pa:g} Pa"
            )
        for what, value in (("power", each.power_w), ("flow", each.flow_m3s)):
            if each.jets and value < 0:
                raise HydrokitError(
                    f"commission(): {each.name} has a {what} of {value:g}; leave it out if it was not read"
                )
    kept = [each for each in named if each.spilling is not False]
    findings = _left_out(
        [each for each in named if each.spilling is False],
        "the forebay was not spilling, so the jets may have been under-fed",
    )
    still = [
        each
        for each in kept
        if each.pressure_pa == 0 or (each.jets and 0 in (each.power_w, each.flow_m3s))
    ]
    kept = [each for each in kept if each not in still]
    days = commissioned_on(kept)
    if not enough([each for each in kept if each.day in days]):
        on = f" on {' and '.join(days)}, which is marked as the commissioning" if any(days) else ""
        raise HydrokitError(
            "commission(): give a pressure with everything shut and one with jets open, or "
            f"two numbers of jets{on}"
        )
    findings += _left_out(
        [each for each in still if each.day in days],
        "nothing ran, or the pipe was dry, which no healthy plant shows",
    )
    if len({each.day for each in kept}) > len(days) and not any(
        each.commissioning for each in kept
    ):
        text = (
            f"taken as commissioned on {' and '.join(days)}, for most numbers of jets were read "
            "then; readings of other days are held against it and are no part of it. To say so "
            "yourself write commissioning = yes beside the readings of the day"
        )
        findings.append(Finding("note", "commissioning", text))
    kept = [each for each in kept if each.day in days]
    if any(each.spilling is None and each.jets for each in kept):
        findings.append(
            Finding(
                "note",
                "commissioning",
                (
                    "the readings do not say whether the forebay spilled; it is taken to have "
                    "spilled while the jets ran"
                ),
            )
        )
    return kept, findings


def _left_out(readings: list[Reading], why: str) -> list[Finding]:
    """That readings are no part of the baseline, and why; nothing where there are none."""
    names = _listed([each.name for each in readings])
    return [Finding("caution", "commissioning", f"{names} left out: {why}")] if readings else []


def _changed(changes: Sequence[Change]) -> list[Finding]:
    """That the plant is no longer the one that was commissioned, where that is so."""
    if not changes:
        return []
    told = ", ".join(f"the {each.what} on {each.day}" for each in changes)
    text = (
        f"changed since the commissioning: {told}; what the plant should show is less sure by "
        "that. Commission it again: everything shut, then one jet to all, the forebay spilling"
    )
    return [Finding("caution", "commissioning", text)]


def _above_static(kept: list[Reading], sigma_pa: float) -> list[Finding]:
    """Refuse a running pressure that no gauge's error explains; tell of one that it does."""
    shut = [each.pressure_pa for each in kept if each.jets == 0]
    if not shut:
        return []
    static, found = float(np.mean(shut)), []
    for each in kept:
        text = Sentence(
            "{name} has a running pressure of {running} with {jets} jets open, above the "
            "{static} with everything shut",
            name=each.name,
            running=Amount(each.pressure_pa, "pressure"),
            jets=each.jets,
            static=Amount(static, "pressure"),
        )
        if each.jets and each.pressure_pa > static + 3 * sigma_pa * np.sqrt(1 + 1 / len(shut)):
            raise HydrokitError(
                Sentence(
                    "commission(): {text}; water that moves loses pressure, so one of them is "
                    "wrong or they are swapped",
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


def _listed(names: list[str]) -> str:
    """Names of readings in a row; lines of one file as "log.csv lines 4 and 7"."""
    files = {name.rpartition(" line ")[0] for name in names}
    if len(names) < 2 or len(files) > 1 or not all(files):
        return series_text(names)
    return f"{files.pop()} lines {series_text([name.rpartition(' line ')[2] for name in names])}"
