"""The healthy plant of the baseline, and the directions in which the baseline may be wrong."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..plant.parts import FixedJets
from ..plant.runner_speed import FOLLOWS, RunnerSpeed
from ..water import GRAVITY
from .baseline import Baseline

if TYPE_CHECKING:
    from ..plant.chain import Chain
    from ..units import Floats, Number

__all__ = ["HealthyPlant", "SHUT"]

_USUAL_EFFICIENCY = (
    0.5  # where no watts were ever read; the baseline's covariance then holds its uncertainty
)
SHUT = 1e-12


@dataclass(frozen=True, eq=False)
class HealthyPlant:
    """What the forward model needs of a baseline. SI.

    Parameters
    ----------
    head_m : float
    jet_area_m2 : float
        Area times coefficient of one jet.
    efficiency : ndarray
        Jets to shaft by jets open, none to all; jets to wire where that was read.
    chain : Chain
        The plant with its wires: the power at the shaft goes through them to the meter.
    speed : RunnerSpeed
        How far that of the runner is held while its jets slow down.
    log_flow, log_loss : ndarray
        The pipe's loss against its flow.
    weight_nm3 : float
        Of a cubic metre of water.
    gauge_height_m, gauge_speed : float
        Height of the gauge over the jets; velocity head at it over the square of the flow.
    spread : ndarray
        Five directions in which the baseline may be wrong, one standard deviation each, as columns:
        of head, loss, jet area, efficiency (logarithms) and ``few_jets``.
    baseline : Baseline
    """

    head_m: float
    jet_area_m2: float
    efficiency: np.ndarray
    _: KW_ONLY
    chain: Chain
    speed: RunnerSpeed
    log_flow: np.ndarray
    log_loss: np.ndarray
    weight_nm3: float
    gauge_height_m: float
    gauge_speed: float
    spread: np.ndarray
    baseline: Baseline

    @classmethod
    def of(cls, baseline: Baseline) -> HealthyPlant:
        """Read it off a baseline.

        Raises
        ------
        HydrokitError
            Jets that are not of fixed bore, or not alike: pressure then does not tell the flow.
        """
        jets = baseline.plant.jets
        if not isinstance(jets, FixedJets) or len(set(jets.diameters_m)) > 1:
            raise HydrokitError(
                "diagnosis: it needs jets of one fixed bore; with a spear or a gate, or "
                "unlike jets, pressure does not tell the flow"
            )
        weight = baseline.plant.density_kgm3 * GRAVITY
        head, full, net = (
            baseline.estimate["head"],
            float(baseline.flow_m3s[-1]),
            float(baseline.net_head_m[-1]),
        )
        height = head - baseline.shut_off_pa / weight
        flows = full * np.geomspace(1e-3, 4.0, 97)
        with np.errstate(invalid="ignore", divide="ignore"):
            efficiency = _shaft_w(baseline) / (weight * baseline.flow_m3s * baseline.net_head_m)
        known = np.isfinite(efficiency)
        efficiency = np.where(
            known, efficiency, efficiency[known][-1] if known.any() else _USUAL_EFFICIENCY
        )
        values, directions = np.linalg.eigh(baseline.covariance)
        return cls(
            head,
            full / (jets.count * np.sqrt(2 * GRAVITY * net)),
            np.append(efficiency[0], efficiency),
            chain=baseline.plant,
            speed=getattr(baseline.plant.runner.part_load, "speed", FOLLOWS),
            log_flow=np.log(flows),
            log_loss=np.log(np.maximum(baseline.plant.penstock.loss_si(flows), 1e-12)),
            weight_nm3=weight,
            gauge_height_m=height,
            gauge_speed=(net - height - float(baseline.pressure_pa[-1]) / weight) / full**2,
            spread=directions * np.sqrt(np.maximum(values, 0.0)),
            baseline=baseline,
        )

    def power_si(self, shaft_w: Number) -> Number:
        """Watts at the meter from those at the shaft."""
        return self.chain.net_si(shaft_w)

    @property
    def jets(self) -> int:
        """How many jets there are."""
        return len(self.efficiency) - 1

    @property
    def valves(self) -> bool:
        """Whether single jets can be shut."""
        jets = self.baseline.plant.jets
        return isinstance(jets, FixedJets) and jets.valves

    @property
    def full_flow_m3s(self) -> float:
        """Through all jets."""
        return float(self.baseline.flow_m3s[-1])

    @property
    def static_pa(self) -> float:
        """Gauge pressure with everything shut."""
        return self.baseline.shut_off_pa

    def loss_si(self, flow_m3s: Floats) -> Number:
        """Head in m the pipe loses."""
        return np.exp(
            np.interp(np.log(np.maximum(flow_m3s, SHUT)), self.log_flow, self.log_loss)
        ) * (flow_m3s > SHUT)


def _shaft_w(baseline: Baseline) -> np.ndarray:
    """Healthy watts at the shaft by jets open; those at the meter, where that is all that is known."""
    plant = baseline.plant
    if not plant.electric:
        return baseline.power_w
    known = [
        int(count) if np.isfinite(watts) else 0
        for count, watts in zip(baseline.jets, baseline.power_w)
    ]
    fed = [
        float(plant.running(jets=count).shaft_si(np.inf)) if count else np.nan for count in known
    ]
    return np.array(fed)
