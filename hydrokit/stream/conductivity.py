"""Conductivity as a measure of salt: compensation for temperature, and calibration by steps."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Iterator

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Floats, Given, Number, Outside, Quantity, units
from .gauging import findings_from

__all__ = ["SaltCalibration", "conductivity_at_25", "relative_calibration", "salt_calibration"]


@units("S/m", conductivity="S/m", temperature="K", per_kelvin="ratio")
def conductivity_at_25(
    conductivity: Given, temperature: Given, per_kelvin: Given = "1.9 %"
) -> Number:
    r"""Conductivity as it would read at 25 °C.

    Parameters
    ----------
    conductivity : Quantity or str [conductance/length]
        As read, not compensated, :math:`EC`. Scalar or array.
    temperature : Quantity or str [temperature]
        Of the water, :math:`T`.
    per_kelvin : ratio
        Rise of conductivity for each kelvin, :math:`\alpha`.

    Returns
    -------
    Quantity [conductance/length]

    Warns
    -----
    RangeWarning
        Water outside 0 to 35 °C.

    Notes
    -----
    .. math:: EC_{25} = \frac{EC}{1 + \alpha\,(T - 25\,°C)}

    References
    ----------
    .. [1] M. Richardson, G. Sentlinger, R. D. Moore, A. Zimmermann, "Quantifying the relation between
       electrical conductivity and salt concentration for dilution gauging via dry salt injection",
       Confluence: J. Watershed Sci. Mgmt 1(2), 2017, eq. 1.

    Examples
    --------
    >>> print(f"{conductivity_at_25('334.8 uS/cm', '3.3 degC').to('uS/cm'):.1f~P}")
    569.7 uS/cm
    >>> print(f"{conductivity_at_25('100 uS/cm', '50 degF').to('uS/cm'):.1f~P}")
    139.9 uS/cm
    """
    return np.asarray(conductivity) / (
        1 + np.asarray(per_kelvin) * (np.asarray(temperature) - 298.15)
    )


@conductivity_at_25.valid
def _(temperature: Given) -> Iterator[Outside]:
    yield (
        (np.asarray(temperature) < 273.15) | (np.asarray(temperature) > 308.15),
        Sentence("water outside {range}", range=Amount((273.15, 308.15), "temperature")),
    )


def _slope(x: np.ndarray, y: np.ndarray) -> Any:
    """Least-squares slope of y on x, its standard error, and r²."""
    x, y = x - x.mean(), y - y.mean()
    slope = (x @ y) / (x @ x)
    rest = y - slope * x
    error = np.sqrt(rest @ rest / max(len(x) - 2, 1) / (x @ x))
    return float(slope), float(error), float(1 - rest @ rest / (y @ y))


@dataclass(frozen=True, eq=False)
class SaltCalibration(Result):
    """Salt for each step of conductivity, from known additions to creek water.

    ``factor_si`` is in kg/m³ per S/m for dry salt, and in 1 per S/m for a solution;
    ``concentration`` and ``conductivity_sm`` are the points of the line.
    """

    factor_si: float
    uncertainty: float
    r_squared: float
    _: KW_ONLY
    concentration: np.ndarray
    conductivity_sm: np.ndarray
    unit: str
    findings: tuple[Finding, ...] = ()

    @property
    def factor(self) -> Quantity:
        """What `salt_slug` or `solution_slug` takes as its calibration."""
        return Quantity(self.factor_si, self.unit)


def _line(conductivity: np.ndarray, concentration: Floats, unit: str) -> SaltCalibration:
    if not np.ptp(conductivity) > 0:
        raise HydrokitError(
            "the conductivity stays the same whatever salt is added; check the probe"
        )
    slope, error, r_squared = _slope(conductivity, concentration)
    if not slope > 0:
        raise HydrokitError(
            "the conductivity does not rise with the salt added; check the order of the readings"
        )
    findings = findings_from(
        "salt calibration",
        (
            len(conductivity) < 5,
            "note",
            f"{len(conductivity)} points; five or more show whether the line is straight",
        ),
        (
            r_squared < 0.999,
            "caution",
            f"r² is {r_squared:.4f}: the points do not lie on a line; repeat the additions",
        ),
    )
    return SaltCalibration(
        slope,
        abs(error / slope),
        r_squared,
        concentration=concentration,
        conductivity_sm=conductivity,
        unit=unit,
        findings=tuple(findings),
    )


def _additions(where: str, added_volume: np.ndarray, conductivity: np.ndarray) -> None:
    if len(added_volume) != len(conductivity) or len(added_volume) < 3:
        raise HydrokitError(
            f"{where}(): needs a conductivity for each volume added so far, at least three, the first with "
            f"nothing added; got {len(added_volume)} and {len(conductivity)}"
        )
    if added_volume[0] != 0 or np.any(np.diff(added_volume) <= 0):
        raise HydrokitError(f"{where}(): added_volume is what was added so far, from 0 upwards")


@units(
    None,
    added_volume="m^3",
    conductivity="S/m",
    solution_concentration="kg/m^3",
    sample_volume="m^3",
    diluent_conductivity="S/m",
)
def salt_calibration(
    added_volume: Given,
    conductivity: Given,
    solution_concentration: Given,
    sample_volume: Given,
    diluent_conductivity: Given = None,
) -> SaltCalibration:
    r"""Factor between salt and conductivity, from steps of a known solution in creek water.

    Parameters
    ----------
    added_volume : array Quantity or list [length³]
        Solution added so far, :math:`V`, beginning with zero.
    conductivity : array Quantity or list [conductance/length]
        Read after each addition, all compensated to one temperature.
    solution_concentration : Quantity or str [mass/length³]
        Salt in the solution, :math:`c_s`.
    sample_volume : Quantity or str [length³]
        Creek water in the beaker, :math:`V_0`.
    diluent_conductivity : Quantity or str [conductance/length], optional
        Of the water the solution was made with; if given, the background it thins is made good.

    Returns
    -------
    SaltCalibration

    Raises
    ------
    HydrokitError
        Fewer than three points; additions out of order.

    Notes
    -----
    Concentration :math:`c_s V/(V_0+V)`; the factor is its least-squares slope on conductivity.
    The additions thin the creek's own background to
    :math:`(EC_0 V_0 + EC_d V)/(V_0+V)`, and that loss is added to the reading.

    References
    ----------
    .. [1] M. Richardson, G. Sentlinger, R. D. Moore, A. Zimmermann, Confluence: J. Watershed Sci.
       Mgmt 1(2), 2017, table 3.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> steps = salt_calibration(Q_([0, 5, 10, 15, 20], "mL"), Q_([84.7, 124.9, 163.8, 202, 239], "uS/cm"),
    ...                          "1990 mg/L", "0.5 L", "2 uS/cm")
    >>> print(f"{steps.factor.to('mg/L/uS*cm').magnitude:.3f} mg/L per µS/cm")
    0.486 mg/L per µS/cm
    >>> steps = salt_calibration(Q_([0, 0.1, 0.2, 0.3], "floz"), Q_([100, 120, 140, 160], "uS/cm"), "0.1 oz/gal", "1 gal")
    >>> print(f"{steps.factor.to('mg/L/uS*cm').magnitude:.4f}")
    0.0292
    """
    _additions("salt_calibration", added_volume, conductivity)
    together = sample_volume + added_volume
    concentration = solution_concentration * added_volume / together
    if diluent_conductivity is not None:
        thinned = (conductivity[0] * sample_volume + diluent_conductivity * added_volume) / together
        conductivity = conductivity + conductivity[0] - thinned
    return _line(np.asarray(conductivity), concentration, "kg/m^2/S")


salt_calibration.measurement = ("added_volume", "conductivity")


@units(
    None,
    added_volume="m^3",
    conductivity="S/m",
    solution_volume="m^3",
    water_volume="m^3",
    sample_volume="m^3",
)
def relative_calibration(
    added_volume: Given,
    conductivity: Given,
    solution_volume: Given,
    water_volume: Given,
    sample_volume: Given,
) -> SaltCalibration:
    r"""Calibration of a salt solution whose strength need not be known.

    Parameters
    ----------
    added_volume : array Quantity or list [length³]
        Secondary solution added to the sample so far, :math:`y`, beginning with zero.
    conductivity : array Quantity or list [conductance/length]
        Read after each addition.
    solution_volume, water_volume : Quantity or str [length³]
        Secondary solution: so much of the slug's own solution, :math:`X`, in so much creek water,
        :math:`V_0`.
    sample_volume : Quantity or str [length³]
        Creek water to which the secondary solution is added, :math:`V_c`.

    Returns
    -------
    SaltCalibration
        Relative concentration for each step of conductivity, for :func:`solution_slug`.

    Raises
    ------
    HydrokitError
        Fewer than three points; additions out of order.

    Notes
    -----
    .. math:: RC = \frac{X}{V_0+X}\,\frac{y}{V_c+y}

    References
    ----------
    .. [1] R. D. Moore, "Slug injection using salt in solution", Streamline Watershed Management
       Bulletin 8(2), 2005.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> steps = relative_calibration(Q_([0, 10, 20], "mL"), Q_([334.8, 351.8, 369.2], "uS/cm"), "10 mL", "1 L", "1 L")
    >>> print(f"{steps.concentration[1]:.4g}")
    9.803e-05
    >>> steps = relative_calibration(Q_([0, 1, 2], "floz"), Q_([300, 320, 340], "uS/cm"), "1 floz", "1 gal", "1 gal")
    >>> print(f"{steps.concentration[1]:.4g}")
    6.009e-05
    """
    _additions("relative_calibration", added_volume, conductivity)
    relative = (
        solution_volume
        / (water_volume + solution_volume)
        * added_volume
        / (sample_volume + added_volume)
    )
    return _line(np.asarray(conductivity), relative, "m/S")


relative_calibration.measurement = ("added_volume", "conductivity")
