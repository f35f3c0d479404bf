"""What is wrong with the plant, from whatever was read: the chain run backwards.

Every fault, size and place is worked out forward (:mod:`hydrokit.running.faults`) and weighed by
how well it foretells the readings, over all the plants the baseline allows
(:mod:`hydrokit.running.weighing`). What the readings cannot part is said to be inseparable; for each
state comes the one action that would part it from the next.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission
>>> from hydrokit.running.reading import reading
>>> from hydrokit.running.observation import observation
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> healthy = commission(seen, FixedJets((0.01905,) * 4, 0.95))
>>> found = diagnose(healthy, observation(4, "30 psi", power="2600 W", spilling=False))
>>> f"{found.first.name}: {100 * found.first.probability:.0f} %, {found.first.cost_w:.0f} W lost"
'under-fed (starved): clogged screen or too little water: 93 %, 2355 W lost'
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import Any, Sequence

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from .baseline import Baseline
from .card import card
from .epochs import GAUGE_CHANGED
from .faults import Fault
from .hiding import Hiding, hiding
from .next_step import Action, best_action
from .observation import Noise, Observation
from .pairs import Pair, pairs
from .signatures import Signatures, signatures
from .weighing import LEVEL, Weighed

__all__ = ["ALL_LEAST", "Diagnosis", "Suspect", "diagnose"]

_POORLY = 0.01  # chance of a worse fit under which a state is said not to explain the readings
_DOUBTED = 0.05  # and under which two at once are looked for
ALL_LEAST = 0.9  # chance of all jets alike from which nothing is said of one of them alone
_SEVERAL = 3  # numbers read from which on a second fault is asked after


@dataclass(frozen=True, eq=False)
class Suspect:
    """A state of the plant, weighed.

    Parameters
    ----------
    fault : Fault
    probability : float
        Among the states known here.
    evidence : float
        Logarithm of the chance of the readings in this state.
    explains : float
        Chance that readings fit worse although this is the state: under 0.01 it does not explain them.
    size, low, high : float
        Most likely size and the interval that holds it with a chance of 90 %; SI, see ``fault.kind``.
    which : int
        The jet it is in; 0 where it has no place, or the readings do not tell.
    cost_w : float
        Watts it takes, with the jets that are open.
    action : Action or None
        What would part it from the next; None where nothing known here does.
    alike : float
        Chance, if this is the state, that all jets have it alike; NaN where that has no meaning. The
        size is that of one jet; from ``ALL_LEAST`` on that of each jet.
    each : float
        Most likely size of each jet, if all have it alike; NaN where that has no meaning.
    jets : int
        How many jets the plant has.
    """

    fault: Fault
    probability: float
    evidence: float
    _: KW_ONLY
    explains: float
    size: float
    low: float
    high: float
    which: int
    cost_w: float
    action: Action | None = None
    alike: float = np.nan
    each: float = np.nan
    jets: int = 0

    @property
    def key(self) -> str:
        """Short name of the state."""
        return self.fault.key

    @property
    def name(self) -> str:
        """The state in words."""
        return self.fault.name


@dataclass(frozen=True, eq=False)
class Diagnosis(Result):
    """The states of the plant, the likeliest first.

    Parameters
    ----------
    suspects : tuple of Suspect
    inseparable : tuple of str
        Keys of the states that these readings cannot part from the first.
    jets : int
        Most jets open in what was seen.
    power_w : float
        What the healthy plant would give with them.
    findings : tuple of Finding
    outside : tuple of (str, int)
        What lies outside the band of the gauge card, ``"gauge"`` or ``"watts"``, and the jets then open.
    pairs : tuple of Pair
        Two faults at once, the likeliest first; looked for only where no single state explains what was read.
    basis : tuple, optional
        Signatures, what was weighed, and what was seen.
    """

    suspects: tuple[Suspect, ...]
    inseparable: tuple[str, ...]
    jets: int
    _: KW_ONLY
    power_w: float
    findings: tuple[Finding, ...]
    outside: tuple[tuple[str, int], ...] = ()
    pairs: tuple[Pair, ...] = ()
    basis: tuple[Signatures, Weighed, list[Observation]] | None = None

    @cached_property
    def hiding(self) -> tuple[Hiding, ...]:
        """Second faults that may hide behind the first; none where several looks were not taken, or
        the plant is well."""
        if self.basis is None or self.first.key == "well" or self.pairs:
            return ()
        tables, weighed, looks = self.basis
        if weighed.read < _SEVERAL:
            return ()
        found = hiding(tables, weighed, looks, weighed.noise, self.first.key)
        return tuple(each for each in found if each.fault.key not in self.inseparable)

    @property
    def clear(self) -> bool:
        """Whether it may be called healthy where that is the likeliest: all that was read lies in
        the card's bands."""
        return self.first.key != "well" or not self.outside

    @property
    def two_at_once(self) -> bool:
        """Whether two faults at once are likelier than any one."""
        return sum(each.probability for each in self.pairs) > 0.5

    @property
    def first(self) -> Suspect:
        """The likeliest state."""
        return self.suspects[0]

    def of(self, key: str) -> Suspect:
        """A state by its key."""
        return next(each for each in self.suspects if each.key == key)


def diagnose(
    plant: Baseline | Signatures,
    observations: Sequence[Observation] | Observation,
    noise: Noise = Noise(),
) -> Diagnosis:
    """Rank what may be the matter with a plant.

    Parameters
    ----------
    plant : Baseline or Signatures
        The healthy plant; its signatures where several diagnoses are made.
    observations : Observation, or sequence of them
        All made while the plant was in one state.
    noise : Noise

    Returns
    -------
    Diagnosis

    Raises
    ------
    HydrokitError
        Nothing read, more jets than there are, jets that are not of one fixed bore.

    Notes
    -----
    For each row of :class:`~hydrokit.running.signatures.Signatures` the readings have a normal
    distribution whose covariance is that of the gauges and that of the baseline, carried through
    the row's slopes. The sum over a state's rows is its evidence. Two states are told apart where
    the ratio of their evidence exceeds 20.

    References
    ----------
    .. [1] R. E. Kass, A. E. Raftery, "Bayes factors", J. Am. Stat. Assoc. 90:773-795, 1995.
    """
    tables = plant if isinstance(plant, Signatures) else signatures(plant)
    looks = [observations] if isinstance(observations, Observation) else list(observations)
    _refuse(looks, tables.plant.jets)
    weighed, season = Weighed.of(tables, looks, noise), _season(tables, looks)
    chance, unparted = (each[:, 0] for each in weighed.verdict(season))
    order = np.argsort(-chance, kind="stable")
    jets = max((each.jets for each in looks), default=0)
    suspects = [_suspect(weighed, int(place), float(chance[place]), jets) for place in order]
    ranked = []
    for rank, (place, suspect) in enumerate(zip(order, suspects)):
        other = order[1] if rank == 0 else order[0]
        ranked.append(replace(suspect, action=best_action(weighed, looks, int(place), int(other))))
    near = [tables.faults[place].key for place in order[1:] if unparted[place]]
    explained = max(each.explains for each in ranked if each.probability > 0.001)
    two = () if explained >= _DOUBTED else pairs(tables, weighed, looks, noise, season)
    return Diagnosis(
        tuple(ranked),
        tuple(near),
        jets,
        power_w=float(tables.table.power_w[tables.healthy, jets]),
        findings=tuple(_findings(tables, ranked, looks)),
        outside=_outside(tables.plant.baseline, looks, noise),
        pairs=two,
        basis=(tables, weighed, looks),
    )


def _refuse(looks: list[Observation], jets: int) -> None:
    told = [
        each
        for each in looks
        if np.isfinite([each.pressure_pa, each.true_pa, each.power_w, each.flow_m3s]).any()
        or each.spilling is not None
        or each.fluctuates is not None
        or each.falls is not None
    ]
    if not told:
        raise HydrokitError(
            "diagnose(): nothing was read; give a pressure, watts, or whether the forebay spills"
        )
    for each in looks:
        if each.jets not in range(jets + 1):
            raise HydrokitError(
                f"diagnose(): {each.name or 'an observation'} has {each.jets} jets open, but there are {jets}"
            )


def _outside(
    baseline: Baseline, looks: list[Observation], noise: Noise
) -> tuple[tuple[str, int], ...]:
    """What was read outside the bands that the gauge card shows."""
    shown, found = card(baseline, noise), []
    bands = {row.jets: row for row in shown.rows}
    for look in looks:
        row = bands.get(look.jets)
        if row is None:
            low, high = shown.shut_off_low_pa, shown.shut_off_high_pa
        else:
            low, high = row.pressure_low_pa, row.pressure_high_pa
            if look.power_w < row.power_low_w or look.power_w > row.power_high_w:
                found.append(("watts", look.jets))
        if look.pressure_pa < low or look.pressure_pa > high:
            found.append(("gauge", look.jets))
    return tuple(found)


def _season(tables: Signatures, looks: list[Observation]) -> np.ndarray:
    """How much likelier the weather makes each fault, and a gauge that is not the one of the
    commissioning."""
    air = min((each.air_k for each in looks if np.isfinite(each.air_k)), default=np.inf)
    water = min((each.water_k for each in looks if np.isfinite(each.water_k)), default=np.inf)
    changed = {each.what for each in tables.plant.baseline.changes}
    return np.array(
        [
            (1.0 if each.frost is None else each.frost.factor(air, water))
            * (GAUGE_CHANGED if each.key == "gauge" and "gauge" in changed else 1.0)
            for each in tables.faults
        ]
    )


def _findings(tables: Signatures, ranked: list[Suspect], looks: list[Observation]) -> Any:
    if max(each.explains for each in ranked if each.probability > 0.001) < _POORLY:
        yield Finding(
            "caution",
            "diagnosis",
            (
                "no single state known here explains these readings: read them again, or two "
                "things are wrong at once"
            ),
        )
    if not any(np.isfinite(each.power_w) for each in looks):
        yield Finding(
            "note",
            "diagnosis",
            "no watts were read, so runner, generator and wiring cannot be judged",
        )
    if not tables.plant.baseline.residuals:
        yield Finding(
            "caution",
            "diagnosis",
            (
                "the plant was never commissioned: it is compared with the values of the site "
                "file, and their uncertainty hides small faults"
            ),
        )


def _suspect(weighed: Weighed, fault: int, probability: float, jets: int) -> Suspect:
    from scipy.special import chdtrc, fdtrc

    tables, rows = weighed.tables, weighed.tables.rows_of[fault]
    share = weighed.within(fault)
    in_jets, which = tables.faults[fault].in_jets, tables.which[rows]
    by_jet = np.bincount(which, share) if in_jets else np.zeros(1)
    alike = float(by_jet[0]) if in_jets and 0 in which else np.nan
    each = np.nan
    if np.isnan(alike):
        size, low, high = weighed.size(fault)
    else:  # of one jet is another size than of all: the area is counted in jets
        of_all = [gained / tables.plant.jets for gained in weighed.size(fault, among=which == 0)]
        each = of_all[0]
        size, low, high = of_all if alike >= ALL_LEAST else weighed.size(fault, among=which != 0)
    lost = tables.table.power_w[tables.healthy, jets] - tables.table.power_w[rows, jets]
    spare = weighed.read - (len(share) > 1)  # its size was fitted
    worse = max(spare, 1)
    # squared misses by the deviations as they stand, which few degrees of freedom leave uncertain
    miss = float((weighed.squared_miss[rows, 0] * np.square(tables.scale[rows])).min())
    degrees = weighed.noise.degrees
    explains = float(
        chdtrc(worse, miss) if np.isinf(degrees) else fdtrc(worse, degrees, miss / worse)
    )
    return Suspect(
        tables.faults[fault],
        probability,
        float(weighed.evidence[fault, 0]),
        explains=explains,
        size=size,
        low=low,
        high=high,
        which=int(by_jet.argmax()) if by_jet.max() > LEVEL else 0,
        jets=tables.plant.jets,
        alike=alike,
        each=each,
        cost_w=float(share @ lost),
    )
