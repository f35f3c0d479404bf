"""The healthy baseline: loss, jets and efficiency as fitted, and what the readings cannot tell."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..energy.uncertain_inputs import Uncertainties
from ..errors import Finding
from ..plant.chain import Chain
from ..plant.parts import Runner
from ..plant.runner_speed import RunnerSpeed
from ..plant.turbine import PartLoad
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Q_, Floats, Quantity
from .epochs import Change
from .fit import PARAMETERS, STEP, Data
from .reading import Reading

if TYPE_CHECKING:
    from .fit import Model

__all__ = ["Baseline", "baseline"]


@dataclass(frozen=True, eq=False)
class Baseline(Result):
    """The healthy plant, jet count by jet count. Arrays run over 1 to all jets.

    Parameters
    ----------
    jets : ndarray of int
    shut_off_pa, shut_off_sd_pa : float
        Gauge pressure with everything shut, as fitted.
    pressure_pa, flow_m3s, net_head_m, loss_m, power_w : ndarray
        At each jet count, as fitted; the pressure is what the gauge should read.
    pressure_sd_pa, flow_sd_m3s, loss_sd_m, power_sd_w : ndarray
        Their standard deviations.
    estimate : dict of str to float
        ``head`` [m], ``loss`` (factor on the line given, or m per (m³/s)²), ``jet_area`` (factor on
        area times coefficient as stated), ``efficiency`` (jets to wire, all jets open), ``few_jets``.
    covariance : ndarray
        Of ``estimate`` in that order: of the logarithms, except ``few_jets``.
    residuals : tuple of (str, str, float)
        Reading, quantity, miss in standard deviations.
    cannot_tell : tuple of str or Sentence
        What these readings cannot separate.
    plant : Chain
        The fitted plant, ready for the year.
    has_line : bool
        Whether the loss is a factor on a pipe that is known.
    findings : tuple of Finding
    names : tuple of str
        Of what runs in each case, where machines differ and the arrays run over sets of them; else empty.
    days : tuple of str
        On which it was commissioned; ``("",)`` where the readings have no date.
    changes : tuple of Change
        What was changed since.
    """

    jets: np.ndarray
    shut_off_pa: float
    shut_off_sd_pa: float
    _: KW_ONLY
    pressure_pa: np.ndarray
    pressure_sd_pa: np.ndarray
    flow_m3s: np.ndarray
    flow_sd_m3s: np.ndarray
    net_head_m: np.ndarray
    loss_m: np.ndarray
    loss_sd_m: np.ndarray
    power_w: np.ndarray
    power_sd_w: np.ndarray
    estimate: dict[str, float]
    covariance: np.ndarray
    residuals: tuple[tuple[str, str, float], ...]
    cannot_tell: tuple[str | Sentence, ...]
    plant: Chain
    has_line: bool
    findings: tuple[Finding, ...]
    names: tuple[str, ...] = ()
    days: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def flow(self) -> Quantity:
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def pressure(self) -> Quantity:
        return Q_(self.pressure_pa, "Pa")

    @property
    def power(self) -> Quantity:
        return Q_(self.power_w, "W")

    @property
    def efficiency(self) -> float:
        """Jets to wire, all jets open; NaN without watts."""
        return self.estimate["efficiency"]

    @property
    def water_to_wire(self) -> float:
        """Watts over the power of the same water falling the whole head, all jets open."""
        return self.efficiency * float(self.net_head_m[-1]) / self.estimate["head"]

    def interval(self, name: str, level: float = 0.9) -> tuple[float, float]:
        """Interval that holds the true value with a chance of `level`, uncertainties of gauges and
        jets included."""
        from scipy.special import ndtri

        place = PARAMETERS.index(name)
        reach = ndtri(0.5 + level / 2) * float(np.sqrt(self.covariance[place, place]))
        value = self.estimate[name]
        return (
            (value - reach, value + reach)
            if name == "few_jets"
            else (value * np.exp(-reach), value * np.exp(reach))
        )

    def uncertainties(self, **others: Any) -> Uncertainties:
        """The plant's uncertainties and how they go together, for ``energy_uncertainty``; the
        creek's are given besides."""
        names = PARAMETERS[:4] if np.isfinite(self.efficiency) else PARAMETERS[:3]
        sd = np.sqrt(np.diag(self.covariance))[: len(names)]
        share = self.covariance[: len(names), : len(names)] / np.outer(sd, sd)
        tied = [
            (names[i], names[j], float(share[i, j])) for i in range(len(names)) for j in range(i)
        ]
        given = {name: min(float(each), 1.0) for name, each in zip(names, sd)}
        return Uncertainties(**{**given, "correlated": tuple(tied), **others})


def baseline(
    model: Model,
    data: Data,
    theta: Floats,
    covariance: Floats,
    misses: Floats,
    kept: list[Reading],
    findings: tuple[Finding, ...],
    has_line: bool,
    speed: RunnerSpeed,
) -> Baseline:
    table = {name: values[0] for name, values in model.table(theta).items()}
    steps = np.eye(len(theta)) * STEP
    around = model.table(np.concatenate([theta + steps, theta - steps]))

    def sd(name: str) -> np.ndarray:
        slope = (around[name][: len(theta)] - around[name][len(theta) :]) / (2 * STEP)
        return np.sqrt(np.einsum("ij,ik,kj->j", slope, covariance, slope))

    watts = bool(np.any(data.kind == 1))
    unknown = 1.0 if watts else np.nan
    estimate = dict(zip(PARAMETERS, [*np.exp(theta[:4]).tolist(), float(theta[4])]))
    estimate["efficiency"] *= unknown
    counts = np.arange(1, model.jets.count + 1)
    efficiency = np.where(watts, table["efficiency"], 0.5)
    if watts and estimate["efficiency"] > 1:
        text = Sentence(
            "the readings give an efficiency of {efficiency}: the jets pass more than "
            "stated, or the watts or pressures are wrong",
            efficiency=Amount(estimate["efficiency"], "share"),
        )
        findings = (*findings, Finding("problem", "commissioning", text))
    design = float(np.asarray(model.jets.openings()[-1].area_m2) / model.jets.area_factor)
    curve = PartLoad(
        "jets to wire",
        np.arange(counts[-1] + 1) / counts[-1],  # of the jets
        np.minimum(np.append(efficiency[1], efficiency[1:]), 1.0),
        minimum_ratio=0.0,
        source="fitted to readings",
        mark="measured",
        speed=speed,
    )
    plant = replace(model.chain(theta), runner=Runner(curve, design_area_m2=design))
    names = [each.split(": ") for each in data.names] + [
        ["jets", "area times coefficient as stated"]
    ]
    return Baseline(
        counts,
        float(table["pressure"][0]),
        float(sd("pressure")[0]),
        pressure_pa=table["pressure"][1:],
        pressure_sd_pa=sd("pressure")[1:],
        flow_m3s=table["flow"][1:],
        flow_sd_m3s=sd("flow")[1:],
        net_head_m=table["head"][1:],
        loss_m=table["loss"][1:],
        loss_sd_m=sd("loss")[1:],
        power_w=table["power"][1:] * unknown,
        power_sd_w=sd("power")[1:] * unknown,
        estimate=estimate,
        covariance=covariance,
        residuals=tuple((name, what, float(miss)) for (name, what), miss in zip(names, misses)),
        cannot_tell=_cannot_tell(data, kept, covariance, has_line),
        plant=plant,
        has_line=has_line,
        findings=findings,
    )


def _cannot_tell(
    data: Data, kept: list[Reading], covariance: np.ndarray, has_line: bool
) -> tuple[str | Sentence, ...]:
    """What stays tied together, from what was and was not read, and how strongly."""
    told: list[str | Sentence] = [
        "the bore of the jets and their coefficient: only their product acts; measure the bore"
    ]
    sd = np.sqrt(np.diag(covariance))
    tied = covariance / np.outer(sd, sd)
    flow_read, watts = bool(np.any(data.kind == 2)), bool(np.any(data.kind == 1))
    if not flow_read:
        told.append(
            Sentence(
                "flow and pipe loss: jets that pass 1 % more mean a pipe that loses 2 % less "
                "at the same flow (correlation {tie}); measure the flow once",
                tie=f"{tied[1, 2]:+.2f}",
            )
        )
    if watts and not flow_read:
        told.append(
            Sentence(
                "flow and efficiency: watts and pressure give only their product, to {sd} "
                "(correlation {tie}); measure the flow once",
                sd=Amount(np.sqrt(max(_product_variance(covariance), 0)), "share", 2),
                tie=f"{tied[2, 3]:+.2f}",
            )
        )
    if not watts:
        told.append("the efficiency: no watts were read")
    if not any(each.jets == 0 for each in kept):
        told.append("head and loss: nothing was read with everything shut")
    if len({each.jets for each in kept if each.jets}) < 2:
        told.append(
            "friction, which grows with the flow, and trapped air, which does not: only one "
            "number of jets was read"
        )
    if not has_line:
        told.append("what the pipe should lose: its size and length were not given")
    return tuple(told)


def _product_variance(covariance: np.ndarray) -> float:
    """Variance of the logarithm of jet area times efficiency."""
    return float(covariance[2, 2] + covariance[3, 3] + 2 * covariance[2, 3])
