"""Circuits: currents, breakers, meters, ballast, and what must be said about safety.

The numbers here are for planning and for reading meters. Wiring is done by the local code and a
licensed electrician.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding, HydrokitError
from ..units import Q_, Given, Number, Quantity, units
from .cable import line_current

__all__ = [
    "BALLAST_MARGIN",
    "CAUTIONS",
    "Ballast",
    "Circuit",
    "ballast",
    "breaker_load",
    "circuit",
    "continuous_current",
    "meter_range",
]

CAUTIONS = {
    "licensed": (
        "Electrical work is for a licensed electrician and follows the local code; this is "
        "planning only."
    ),
    "shock": (
        "A turning generator is live even when nothing is switched on: stop the water and lock it "
        "off before touching."
    ),
    "islanding": "Never feed a grid without the grid owner's consent and protection that parts from a dead "
    "line at once: a fed line can kill those who mend it.",
    "loss of load": "When the load is lost the machine speeds up and its voltage rises: ballast, valve or "
    "deflector must act by themselves.",
    "overspeed": "Runner and generator must bear runaway speed for as long as it takes to stop the water.",
    "ballast": "Ballast runs hot without warning: keep it from wood and hands; if it is water-heating, "
    "it needs its own thermostat, relief valve and a second place for the power to go.",
    "battery": (
        "Batteries give great currents and some give explosive gas: fuse at the terminal, air the "
        "room."
    ),
}

CONTINUOUS_MARGIN = 1.25
# Ballast over what must be absorbed.
BALLAST_MARGIN = {
    "generator": (1.10, "common practice: 110 to 125 % of rated generator output"),
    "charge controller": (1.20, "two manufacturers' manuals: 20 % over the total of all sources"),
    "battery code": (
        1.50,
        "a rule of 150 % for the rating of diversion controllers is quoted from the NEC",
    ),
}
# Usual ratings, from memory of NEC 240.6(A) and of IEC 60898.
BREAKERS = {
    "us": (
        15,
        20,
        25,
        30,
        35,
        40,
        45,
        50,
        60,
        70,
        80,
        90,
        100,
        110,
        125,
        150,
        175,
        200,
        225,
        250,
        300,
        350,
        400,
    ),
    "iec": (6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400),
}
_METER_STEPS = np.array([1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10])


# --- currents, breakers, meters ---------------------------------------------------------------


@units("A", continuous="A", other="A")
def continuous_current(continuous: Given, other: Given = "0 A") -> Number:
    """Least rating of conductor and breaker for currents that flow three hours or more.

    Parameters
    ----------
    continuous : Quantity or str [current]
        Greatest current expected for three hours or more; a hydro plant's is nearly all of this kind.
    other : Quantity or str [current]
        The rest.

    Returns
    -------
    Quantity [current]
        125 % of the continuous current and all of the other.

    References
    ----------
    .. [1] NEC 210.19(A)(1), 210.20(A), 215.2(A)(1), 215.3, as explained by trade journals. Assemblies
       listed for 100 % are exempt.

    Examples
    --------
    >>> print(f"{continuous_current('16 A'):.0f~P}")
    20 A
    >>> print(f"{continuous_current('10 A', '5 A'):.1f~P}")
    17.5 A
    """
    return CONTINUOUS_MARGIN * np.asarray(continuous) + other


@units("A", rating="A")
def breaker_load(rating: Given) -> Number:
    """Greatest continuous current for a breaker: 80 % of its rating.

    Parameters
    ----------
    rating : Quantity or str [current]

    Returns
    -------
    Quantity [current]

    References
    ----------
    .. [1] Reciprocal of NEC 210.20(A).

    Examples
    --------
    >>> print(f"{breaker_load('20 A'):.0f~P}")
    16 A
    >>> print(f"{breaker_load('100 A'):.0f~P}")
    80 A
    """
    return np.asarray(rating) / CONTINUOUS_MARGIN


def meter_range(usual: float, highest: float | None = None) -> float:
    """Full scale of a meter: at least a quarter above the highest reading, from the usual steps."""
    need = 1.25 * (usual if highest is None else highest)
    if not need > 0:
        raise HydrokitError(f"meter_range(): a reading above zero is needed, got {usual:g}.")
    decade = 10.0 ** np.floor(np.log10(need))
    return float(decade * _METER_STEPS[np.searchsorted(_METER_STEPS, need / decade * (1 - 1e-9))])


@dataclass(frozen=True, eq=False)
class Circuit:
    """Currents of one circuit, the protection it asks for, and the meters that read it well."""

    current_a: float
    rating_a: float
    breaker_a: float
    _: KW_ONLY
    ammeter_a: float
    voltmeter_v: float
    wattmeter_w: float
    findings: tuple[Finding, ...]

    @property
    def current(self) -> Quantity:
        return Q_(self.current_a, "A")

    @property
    def rating(self) -> Quantity:
        """Least rating of conductor and breaker."""
        return Q_(self.rating_a, "A")

    @property
    def breaker(self) -> Quantity:
        """Next usual size."""
        return Q_(self.breaker_a, "A")


@units(None, power="W", voltage="V", power_factor="ratio", highest_voltage="V")
def circuit(
    power: Given,
    voltage: Given,
    system: str = "one-phase",
    power_factor: Given = 1.0,
    highest_voltage: Given = None,
    continuous: bool = True,
    breakers: str = "iec",
) -> Circuit:
    """Current of a circuit, its least rating, the next breaker, and meter ranges.

    Parameters
    ----------
    power : Quantity or str [power]
    voltage : Quantity or str [voltage]
    system : {"one-phase", "three-phase", "dc"}
    power_factor : number
    highest_voltage : Quantity or str [voltage], optional
        That may appear, such as at runaway; 1.2 times the voltage when left out.
    continuous : bool
        Whether it flows three hours or more.
    breakers : {"iec", "us"}
        Whose usual sizes.

    Returns
    -------
    Circuit

    Raises
    ------
    HydrokitError
        A current above the largest usual breaker.

    Notes
    -----
    A meter whose full scale is a quarter above the highest reading puts the usual reading where it
    is read well (common practice). Breaker sizes are from memory.

    References
    ----------
    .. [1] NEC 210.19(A)(1), 210.20(A): 125 % of continuous current. Breaker sizes from memory of NEC 240.6(A)
       and IEC 60898.

    Examples
    --------
    >>> found = circuit("4 kW", "230 V")
    >>> print(f"{found.current:.1f~P}, {found.breaker:.0f~P}, ammeter to {found.ammeter_a:g} A")
    17.4 A, 25 A, ammeter to 25 A
    >>> print(f"{circuit('3 hp', '120 V', breakers='us').breaker:.0f~P}")
    25 A
    """
    if breakers not in BREAKERS:
        raise HydrokitError(f"circuit(): breakers must be iec or us, got {breakers!r}.")
    current = float(line_current(power, voltage, system, power_factor))
    rating = float(continuous_current.si(current) if continuous else current)
    sizes = np.array(BREAKERS[breakers], dtype=float)
    if rating > sizes[-1]:
        raise HydrokitError(
            f"circuit: {rating:.0f} A is above the largest usual breaker ({sizes[-1]:g} A); "
            "raise the voltage."
        )
    highest = 1.2 * voltage if highest_voltage is None else highest_voltage
    findings = [Finding("caution", "circuit", CAUTIONS["licensed"])]
    if system == "dc":
        findings.append(
            Finding(
                "caution",
                "circuit",
                "breakers and switches must be marked for direct current: "
                "an arc that alternating current lets die burns on",
            )
        )
    return Circuit(
        current,
        rating,
        float(sizes[np.searchsorted(sizes, rating * (1 - 1e-9))]),
        ammeter_a=meter_range(current),
        voltmeter_v=meter_range(highest / 1.25),
        wattmeter_w=meter_range(power),
        findings=tuple(findings),
    )


# --- ballast ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Ballast:
    """Heating resistors that take what the loads leave, and the stages they are switched in.

    ``resistances_ohm`` and ``currents_a`` are of one resistor; with three phases a stage is three of
    them in star, one a phase, so that ``currents_a`` is the current in each phase.
    """

    total_w: float
    stages_w: tuple[float, ...]
    smallest_step_w: float
    _: KW_ONLY
    resistances_ohm: tuple[float, ...]
    currents_a: tuple[float, ...]
    source: str
    findings: tuple[Finding, ...]

    @property
    def total(self) -> Quantity:
        return Q_(self.total_w, "W")


@units(None, sources="W", voltage="V", margin="ratio")
def ballast(
    sources: Given,
    voltage: Given,
    stages: int = 1,
    rule: str = "generator",
    margin: Given = None,
    pattern: str = "equal",
    system: str = "one-phase",
) -> Ballast:
    """Ballast for a plant that stands alone: how much, in which stages, of which resistance.

    Parameters
    ----------
    sources : Quantity or str, or a list of them [power]
        Greatest output of everything that feeds it; they add up.
    voltage : Quantity or str [voltage]
        Across the resistors.
    stages : int
    rule : {"generator", "charge controller", "battery code"}
        Whose margin; ``BALLAST_MARGIN`` tells where each comes from.
    margin : number, optional
        Ballast over sources, instead of the rule's.
    pattern : {"equal", "doubling"}
        Equal stages, or each twice the one before: fewer resistors for finer steps.
    system : {"one-phase", "three-phase", "dc"}
        Three phases: the voltage is between two of them, and each stage is three resistors in star.

    Returns
    -------
    Ballast

    Raises
    ------
    HydrokitError
        A margin below 1: ballast must take the whole output.

    Notes
    -----
    Plain resistive heaters only, not lamps or motors. Makers and codes differ in the margin; none
    goes below the full output.

    References
    ----------
    .. [1] Manuals of two makers of charge controllers (120 %); the other margins as ``BALLAST_MARGIN`` says.

    Examples
    --------
    >>> print(f"{ballast(['600 W', '400 W'], '24 V', rule='charge controller').total:.0f~P}")
    1200 W
    >>> print([round(each) for each in ballast("3 hp", "240 V", stages=3, pattern="doubling").stages_w])
    [352, 703, 1406]
    >>> found = ballast("10 kW", "400 V", stages=1, margin=1.25, system="three-phase")
    >>> print(f"{found.currents_a[0]:.2f} A in each phase, three resistors of {found.resistances_ohm[0]:.1f} ohm")
    18.04 A in each phase, three resistors of 12.8 ohm
    """
    if rule not in BALLAST_MARGIN:
        raise HydrokitError(
            f"ballast(): rule must be one of {', '.join(BALLAST_MARGIN)}, got {rule!r}."
        )
    if pattern not in ("equal", "doubling"):
        raise HydrokitError(f"ballast(): pattern must be equal or doubling, got {pattern!r}.")
    if not stages >= 1 or stages != int(stages):
        raise HydrokitError(f"ballast(): stages must be a whole number of 1 or more, got {stages}.")
    factor, source = BALLAST_MARGIN[rule] if margin is None else (margin, "given")
    if factor < 1:
        raise HydrokitError(
            f"ballast: it must take the whole output, so the margin cannot be below 1; got {factor:g}."
        )
    total = float(factor * np.sum(sources))
    if not total > 0 or not voltage > 0:
        raise HydrokitError("ballast(): sources and voltage must be above zero.")
    shares = np.ones(int(stages)) if pattern == "equal" else 2.0 ** np.arange(int(stages))
    each = total * shares / shares.sum()
    findings = (
        Finding("caution", "ballast", CAUTIONS["ballast"]),
        Finding("caution", "ballast", CAUTIONS["loss of load"]),
        Finding("note", "ballast", f"margin of {100 * (factor - 1):.0f} %: {source}"),
    )
    return Ballast(
        total,
        tuple(map(float, each)),
        float(each[0]),
        resistances_ohm=tuple(map(float, voltage**2 / each)),
        currents_a=tuple(np.ravel(line_current(each, voltage, system)).tolist()),
        source=source,
        findings=findings,
    )
