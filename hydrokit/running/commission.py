"""Commissioning: what the plant does when all is well, from pressures and watts by jet count.

Read the gauge with everything shut, then with one jet, two jets, up to all of them, the pond
spilling all the while, and the watts each time. The jets are the flow meter, the pipe shows its loss,
the watts show the machine. The fit is the baseline that later readings are held against.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission, reading
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> healthy = commission(seen, FixedJets((0.01905,) * 4, 0.95))
>>> print(f"{healthy.flow[3].to('gpm'):.0f~P} through four jets, {healthy.efficiency:.0%} from jets to wire")
433 gpm through four jets, 57% from jets to wire
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Callable, Sequence

import numpy as np

from ..energy.doubt import Uncertainties
from ..errors import Finding, HydrokitError
from ..plant.chain import Chain
from ..plant.parts import FixedJets, LineLoss, MeasuredLoss, Runner, steady
from ..plant.turbine import PartLoad
from ..units import Q_, units
from ..water import density
from .fit import PARAMETERS, STEP, Data, Fitted, Model, fit

__all__ = ["Baseline", "Missing", "Reading", "commission", "missing_watts", "reading"]


@dataclass(frozen=True, eq=False)
class Reading:
    """One look at the gauges. SI; what was not read is NaN.

    Parameters
    ----------
    jets : int
        Jets open; 0: everything shut.
    pressure_pa : float
        Gauge pressure as read.
    power_w : float
    flow_m3s : float
        Measured by other means: a drum at the tailrace, a salt slug.
    spilling : bool or None
        Whether the pond was spilling; None: not said.
    name : str
        How messages call it.
    day : str
        Day it was read, as 2026-07-04; readings of one day show the plant in one state.
    """

    jets: int
    pressure_pa: float
    power_w: float = np.nan
    flow_m3s: float = np.nan
    spilling: bool | None = None
    name: str = ""
    day: str = ""


@units(
    None,
    jets="count",
    pressure="Pa",
    power="W",
    volts="V",
    amps="A",
    power_factor="ratio",
    flow="m^3/s",
)
def reading(
    jets,
    pressure,
    power=None,
    volts=None,
    amps=None,
    power_factor=1.0,
    flow=None,
    spilling=None,
    name="",
):
    """One look at the gauges.

    Parameters
    ----------
    jets : int
        Jets open; 0: everything shut.
    pressure : Quantity or str [pressure]
        Gauge pressure as read.
    power : Quantity or str [power], optional
        Watts read; or give `volts` and `amps`.
    volts, amps : Quantity or str, optional
    power_factor : number
        1 for direct current and heaters.
    flow : Quantity or str [volume/time], optional
        Measured by other means.
    spilling : bool, optional
        Whether the pond was spilling.
    name : str

    Returns
    -------
    Reading

    References
    ----------
    .. [1] Power is volts times amperes times the power factor.

    Examples
    --------
    >>> reading(2, "4.1 bar", volts="48 V", amps="21 A").power_w
    1008.0
    >>> round(reading(2, "60 psi").pressure_pa)
    413685
    """
    if power is None and volts is not None and amps is not None:
        power = volts * amps * power_factor
    known = [np.nan if value is None else float(value) for value in (power, flow)]
    return Reading(int(jets), float(pressure), *known, spilling, name)


@dataclass(frozen=True, eq=False)
class Baseline:
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
    cannot_tell : tuple of str
        What these readings cannot separate.
    plant : Chain
        The fitted plant, ready for the year.
    has_line : bool
        Whether the loss is a factor on a pipe that is known.
    findings : tuple of Finding
    names : tuple of str
        Of what runs in each case, where machines differ and the arrays run over sets of them; else empty.
    """

    jets: np.ndarray
    shut_off_pa: float
    shut_off_sd_pa: float
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
    cannot_tell: tuple[str, ...]
    plant: Chain
    has_line: bool
    findings: tuple[Finding, ...]
    names: tuple[str, ...] = ()

    @property
    def flow(self) -> Any:
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def pressure(self) -> Any:
        return Q_(self.pressure_pa, "Pa")

    @property
    def power(self) -> Any:
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
        """Interval that holds the true value with a chance of `level`, doubts of gauges and jets included."""
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
        """The plant's doubts and how they go together, for ``energy_doubt``; the creek's are given besides."""
        names = PARAMETERS[:4] if np.isfinite(self.efficiency) else PARAMETERS[:3]
        sd = np.sqrt(np.diag(self.covariance))[: len(names)]
        share = self.covariance[: len(names), : len(names)] / np.outer(sd, sd)
        tied = [
            (names[i], names[j], float(share[i, j])) for i in range(len(names)) for j in range(i)
        ]
        given = {name: min(float(each), 1.0) for name, each in zip(names, sd)}
        return Uncertainties(**{**given, "correlated": tuple(tied), **others})


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
    Gauss-Newton in logarithms with normal errors. Area times coefficient has the stated doubt as
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
    model = Model(jets, line or MeasuredLoss(1.0), density_kgm3, gauge_height_m, gauge_bore_m)

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
        text = f"readings scatter {found.scatter:.1f} times as much as stated, most of all {worst}; the intervals are widened, look at it again"
        findings.append(Finding("caution", "commissioning", text))
    return _baseline(
        model, data, theta, covariance, misses, kept, tuple(findings), line is not None
    )


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
    text = f"{left} left out: not as on the day the plant was commissioned, so it may not have been well then; see the diagnosis"
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
                f"{left} left out: the pond was not spilling, so the jets may have been starved",
            )
        )
    if any(each.spilling is None and each.jets for each in kept):
        findings.append(
            Finding(
                "note",
                "commissioning",
                "nothing is said of the pond; it is taken to have spilled while the jets ran",
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
        text = (
            f"{each.name} has a running pressure of {each.pressure_pa / 1e5:.2f} bar with {each.jets} jets open, above the "
            f"{static / 1e5:.2f} bar with everything shut"
        )
        if each.jets and each.pressure_pa > static + 3 * sigma_pa * np.sqrt(1 + 1 / len(shut)):
            raise HydrokitError(
                f"commission(): {text}; water that moves loses pressure, so one of them is wrong or they are swapped"
            )
        if each.jets and each.pressure_pa > static:
            found.append(
                Finding(
                    "caution",
                    "commissioning",
                    f"{text}, though within the gauge's error; read both again",
                )
            )
    return found


# --- result ---------------------------------------------------------------------------------


def _baseline(model, data, theta, covariance, misses, kept, findings, has_line) -> Baseline:
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
        text = f"the readings ask for an efficiency of {estimate['efficiency']:.0%}: the jets pass more than stated, or the watts or pressures are wrong"
        findings = (*findings, Finding("problem", "commissioning", text))
    ratios = table["flow"] / table["flow"][-1]
    known = np.isfinite(ratios) & (np.arange(len(ratios)) > 0)
    points = np.unique(np.r_[ratios[known], 1.0]) if known.sum() > 1 else np.array([0.0, 1.0])
    curve = PartLoad(
        "jets to wire",
        points,
        np.minimum(np.interp(points, ratios[known], efficiency[known]), 1.0),
        0.0,
        "fitted to readings",
        "measured",
    )
    plant = replace(
        model.chain(theta), runner=Runner(curve, design_flow_m3s=float(table["flow"][-1]))
    )
    names = [each.split(": ") for each in data.names] + [
        ["jets", "area times coefficient as stated"]
    ]
    return Baseline(
        counts,
        float(table["pressure"][0]),
        float(sd("pressure")[0]),
        table["pressure"][1:],
        sd("pressure")[1:],
        table["flow"][1:],
        sd("flow")[1:],
        table["head"][1:],
        table["loss"][1:],
        sd("loss")[1:],
        table["power"][1:] * unknown,
        sd("power")[1:] * unknown,
        estimate,
        covariance,
        tuple((name, what, float(miss)) for (name, what), miss in zip(names, misses)),
        _cannot_tell(data, kept, covariance, has_line),
        plant,
        has_line,
        findings,
    )


def _cannot_tell(
    data: Data, kept: list[Reading], covariance: np.ndarray, has_line: bool
) -> tuple[str, ...]:
    """What stays tied together, from what was and was not read, and how strongly."""
    told = ["the bore of the jets and their coefficient: only their product acts; measure the bore"]
    sd = np.sqrt(np.diag(covariance))
    tied = covariance / np.outer(sd, sd)
    flow_read, watts = bool(np.any(data.kind == 2)), bool(np.any(data.kind == 1))
    if not flow_read:
        told.append(
            f"flow and pipe loss: jets that pass 1 % more mean a pipe that loses 2 % less at the same flow (correlation {tied[1, 2]:+.2f}); measure the flow once"
        )
    if watts and not flow_read:
        told.append(
            f"flow and efficiency: watts and pressure know only their product, to {np.sqrt(max(_product_variance(covariance), 0)):.1%} "
            f"(correlation {tied[2, 3]:+.2f}); measure the flow once"
        )
    if not watts:
        told.append("the efficiency: no watts were read")
    if not any(each.jets == 0 for each in kept):
        told.append("head and loss: nothing was read with everything shut")
    if len({each.jets for each in kept if each.jets}) < 2:
        told.append(
            "friction, which grows with the flow, and trapped air, which does not: only one number of jets was read"
        )
    if not has_line:
        told.append("what the pipe should lose: its size and length were not given")
    return tuple(told)


def _product_variance(covariance: np.ndarray) -> float:
    """Variance of the logarithm of jet area times efficiency."""
    return float(covariance[2, 2] + covariance[3, 3] + 2 * covariance[2, 3])


# --- against a healthy plant ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Missing:
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
    pipe_w: np.ndarray
    machine_w: np.ndarray
    sd_w: np.ndarray
    findings: tuple[Finding, ...]

    @property
    def missing_w(self) -> np.ndarray:
        """The difference."""
        return self.healthy_w - self.power_w


def missing_watts(baseline: Baseline, efficiency: float, line: LineLoss | None = None) -> Missing:
    """Hold the fitted plant against one with a clean pipe and a proper machine.

    Parameters
    ----------
    baseline : Baseline
        With watts.
    efficiency : float
        Jets to wire of a healthy machine of this kind and size.
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
                "the pipe's size and length are not known, so all its loss is taken as proper",
            )
        )
    elif line is None:
        penstock = replace(penstock, loss_factor=1.0)
    else:
        penstock = replace(penstock, line=line, loss_factor=1.0)
    clean = baseline.plant.replace(penstock=penstock)
    proper = clean.replace(runner=Runner(steady(efficiency, "a healthy machine")))
    through = {
        name: np.array(
            [float(plant.at_si(np.inf, jets=int(count)).power_w) for count in baseline.jets]
        )
        for name, plant in (("clean", clean), ("proper", proper))
    }
    return Missing(
        baseline.jets,
        baseline.power_w,
        through["proper"],
        through["clean"] - baseline.power_w,
        through["proper"] - through["clean"],
        baseline.power_sd_w,
        tuple(findings),
    )
