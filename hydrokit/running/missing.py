"""Watts that the healthy plant would make and this one does not, by cause."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np

from ..errors import Finding, HydrokitError
from ..plant.parts import LineLoss, Runner, steady
from ..result import Result
from .baseline import Baseline

__all__ = ["Missing", "missing_watts"]


@dataclass(frozen=True, eq=False)
class Missing(Result):
    """Watts that a healthy plant would give and this one does not, by number of jets open.

    Parameters
    ----------
    jets : ndarray of int
    power_w, healthy_w : ndarray
    pipe_w : ndarray
        Of the difference, what a pipe with its proper loss would bring.
    machine_w : ndarray
        What a proper efficiency would bring then.
    sd_w : ndarray
        Standard deviation of the difference from the readings.
    findings : tuple of Finding
    """

    jets: np.ndarray
    power_w: np.ndarray
    healthy_w: np.ndarray
    _: KW_ONLY
    pipe_w: np.ndarray
    machine_w: np.ndarray
    sd_w: np.ndarray
    findings: tuple[Finding, ...]

    @property
    def missing_w(self) -> np.ndarray:
        """The difference."""
        return self.healthy_w - self.power_w


def missing_watts(
    baseline: Baseline, efficiency: float | np.ndarray, line: LineLoss | None = None
) -> Missing:
    """Hold the fitted plant against one with a clean pipe and a proper machine.

    Parameters
    ----------
    baseline : Baseline
        With watts.
    efficiency : float or ndarray
        Jets to wire of a healthy machine of this kind and size; or one for each of ``baseline.jets``.
    line : LineLoss, optional
        The pipe as it should be; the one given to :func:`commission` when not given.

    Returns
    -------
    Missing

    Raises
    ------
    HydrokitError
        No watts were read, or an efficiency above 1.
    """
    if not np.isfinite(baseline.efficiency):
        raise HydrokitError(
            "missing_watts(): no watts were read at commissioning, so none can be missing"
        )
    findings = []
    penstock = baseline.plant.penstock
    if line is None and not baseline.has_line:
        findings.append(
            Finding(
                "note",
                "missing watts",
                (
                    "the pipe's size and length are not known, so all its head loss is taken as "
                    "that of a healthy pipe"
                ),
            )
        )
    elif line is None:
        penstock = replace(penstock, loss_factor=1.0)
    else:
        penstock = replace(penstock, line=line, loss_factor=1.0)
    clean = baseline.plant.replace(penstock=penstock)
    cleaned, healthy = [], []
    for count, each in zip(baseline.jets, np.broadcast_to(efficiency, baseline.jets.shape)):
        proper = clean.replace(runner=Runner(steady(float(each), "a healthy machine")))
        cleaned.append(float(clean.at_si(np.inf, jets=int(count)).power_w))
        healthy.append(float(proper.at_si(np.inf, jets=int(count)).power_w))
    return Missing(
        baseline.jets,
        baseline.power_w,
        np.array(healthy),
        pipe_w=np.array(cleaned) - baseline.power_w,
        machine_w=np.array(healthy) - np.array(cleaned),
        sd_w=baseline.power_sd_w,
        findings=tuple(findings),
    )
