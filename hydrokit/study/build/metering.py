"""Where along the wire a watt is counted: generator terminals, sending end, receiving end of the
main cable, loads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding
from ...result import Result
from ...sentences import Amount, Sentence
from ...water import GRAVITY
from . import losses

if TYPE_CHECKING:
    from ...energy.machine_size import SizedGenerator
    from ...plant.chain import Chain
    from ...plant.wire import ElectricPart
    from ...site.schema import Site
    from ...units import Number
    from ..study import Study

__all__ = [
    "PLACES",
    "Powers",
    "RuleOfThumb",
    "after_meter",
    "at_loads_si",
    "card_at",
    "findings",
    "metered_at",
    "powers",
    "rule_of_thumb",
    "sending_si",
    "sent_by_jets",
]

# From the generator on; the names of the trade. Where the site file does not say, the meter is
# taken to hang at the last.
PLACES = ("generator terminals", "sending end", "receiving end")


def metered_at(site: Site) -> str:
    """Where the watts that were read, or an efficiency from water to wire, are counted."""
    return site.readings.metered_at


def after_meter(site: Site, metered_w: float) -> tuple[ElectricPart, ...]:
    """What the power meets behind the meter, up to the loads."""
    place = metered_at(site)
    powerhouse = losses.between(site, "powerhouse") if place == PLACES[0] else ()
    cable = losses.wire(site, metered_w) if place != PLACES[2] else ()
    return (*powerhouse, *cable, *losses.between(site, "loads"))


@dataclass(frozen=True, eq=False)
class Powers(Result):
    """Power of the plant with all the water it can take, from the generator on.

    Parameters
    ----------
    terminals_w, sending_w, receiving_w, loads_w : float
        At the generator's terminals; at the beginning of the main cable, behind a transformer at the
        powerhouse; at its far end; behind what stands there.
    metered_at : str
        Where the watts the plant is known by are counted; empty where it is known by its parts.
    """

    terminals_w: float
    sending_w: float
    receiving_w: float
    _: KW_ONLY
    loads_w: float
    metered_at: str


def powers(study: Study) -> Powers | None:
    """The power at each place along the wire; None without a plant."""
    if study.plant is None:
        return None
    shaft = float(np.max(study.plant.running().shaft_si(np.inf)))
    ahead, cable, behind = _parts(study.site, study.plant)
    if _generator(study.plant) is not None:
        terminals = _forward(study.plant.electric[:1], shaft)
        sending = _forward(ahead, terminals)
        receiving = _forward(cable, sending)
        return Powers(
            terminals, sending, receiving, loads_w=_forward(behind, receiving), metered_at=""
        )
    place = metered_at(study.site)
    if place == PLACES[0]:
        terminals, sending = shaft, _forward(ahead, shaft)
        receiving = _forward(cable, sending)
    else:
        sending = shaft if place == PLACES[1] else _backward(cable, shaft)
        receiving = shaft if place == PLACES[2] else _forward(cable, sending)
        terminals = _backward(ahead, sending)
    return Powers(
        terminals, sending, receiving, loads_w=_forward(behind, receiving), metered_at=place
    )


def sending_si(study: Study) -> Callable:
    """From the watts of the healthy plant to those at the sending end: fitted ones are those of the
    meter, calculated ones those at the loads."""
    if study.plant is None:
        return _as_they_are
    ahead, cable, behind = _parts(study.site, study.plant)
    if _fitted(study):  # what was fitted to a meter is counted there
        place = metered_at(study.site)
        if place == PLACES[0]:
            return lambda watts: _forward(ahead, watts)
        return _as_they_are if place == PLACES[1] else lambda watts: _backward(cable, watts)
    return lambda watts: _backward(cable, _backward(behind, watts))


def sent_by_jets(study: Study) -> np.ndarray | None:
    """Power at the sending end with one to all jets open and fed, of a plant known by its parts; None
    where it is known by its watts, or its machines are opened by name."""
    plant = study.plant
    if plant is None or _fitted(study) or _generator(plant) is None:
        return None
    if getattr(plant.jets, "sets", ()) or len(set(getattr(plant.jets, "diameters_m", ()))) > 1:
        return None
    ahead, _, _ = _parts(study.site, plant)
    bare = plant.replace(supply=(), states=(), schedule=())
    shaft = [
        float(np.max(bare.running(jets=count).shaft_si(np.inf)))
        for count in range(1, plant.jets.count + 1)
    ]
    return np.array([_forward((*plant.electric[:1], *ahead), each) for each in shaft])


def card_at(study: Study) -> str:
    """Where the watts of the healthy plant are counted: at the meter where they were fitted to
    readings, else at the loads."""
    return metered_at(study.site) if _fitted(study) else "loads"


def _fitted(study: Study) -> bool:
    return study.baseline is not None and bool(np.isfinite(study.baseline.efficiency))


def at_loads_si(study: Study) -> Callable:
    """From the watts of the meter, as readings and log have them, to those at the loads."""
    if study.plant is None:
        return _as_they_are
    ahead, cable, behind = _parts(study.site, study.plant)
    place = metered_at(study.site)
    after = (
        *(ahead if place == PLACES[0] else ()),
        *(cable if place != PLACES[2] else ()),
        *behind,
    )
    return lambda watts: np.asarray(_forward(after, np.asarray(watts, dtype=float)), dtype=float)


def findings(study: Study) -> tuple[Finding, ...]:
    """That nobody said where the watts are metered, where it matters, and what hangs on it."""
    site = study.site
    known_by_meter = study.plant is not None and _generator(study.plant) is None
    if not known_by_meter or site.readings.given("metered_at"):
        return ()
    found = powers(study)
    if found is None:
        return ()
    share = 1 - found.receiving_w / found.terminals_w if found.terminals_w > 0 else 0.0
    if not share > 0.002:
        return ()
    return (
        Finding(
            "caution",
            "readings",
            Sentence(
                "it is not given where the watts are metered; they are taken to be those of "
                "the receiving end of the cable. If the meter is at the powerhouse {less} "
                'less reaches the loads: give metered_at = "sending end" or "generator '
                'terminals" under [readings]',
                less=Amount(share, "share", 2),
            ),
        ),
    )


# --- against the rule of thumb ---------------------------------------------------------------

_GPM_FT_W = 1 / (6.30901964e-5 * 0.3048)  # gpm and ft in a m⁴/s
_DIVISORS = (13, 10)  # watts = gpm × ft ÷ 10 to 13 for small plants, common practice


@dataclass(frozen=True, eq=False)
class RuleOfThumb(Result):
    """The plant against the rule of thumb for small plants.

    Parameters
    ----------
    efficiency : float
        From the water under the whole head to the loads.
    low, high : float
        Between which the rule has it.
    divisor : float
        By which gpm × ft is divided to give its watts.
    """

    efficiency: float
    low: float
    high: float
    _: KW_ONLY
    divisor: float

    @property
    def factors(self) -> tuple[float, float, float]:
        """Watts over litres a second times metres: of the rule, least and most, and of the plant."""
        return GRAVITY * self.low, GRAVITY * self.high, GRAVITY * self.efficiency


def rule_of_thumb(study: Study) -> RuleOfThumb | None:
    """The plant with all the water it can take against the rule; None where it makes no power."""
    if study.plant is None:
        return None
    full = study.plant.running().at_si(np.inf)
    head, flow, power = (
        float(study.plant.penstock.static_si()),
        float(full.used_m3s),
        float(full.power_w),
    )
    weight = study.plant.density_kgm3 * GRAVITY
    if not weight * flow * head > 0 or not power > 0:
        return None
    efficiency = power / (weight * flow * head)
    low, high = (_GPM_FT_W / (weight * divisor) for divisor in _DIVISORS)
    return RuleOfThumb(efficiency, low, high, divisor=_GPM_FT_W / (weight * efficiency))


# --- along the wire -------------------------------------------------------------------------


def _as_they_are(watts: Any) -> np.ndarray:
    """The same watts: nothing stands between."""
    return np.asarray(watts, dtype=float)


def _generator(chain: Chain) -> SizedGenerator | None:
    """The generator of a plant known by its parts; None where it is known by its watts."""
    from ...plant.parts import part_name

    return next((part for part in chain.electric[:1] if part_name(part) == "generator"), None)


def _parts(site: Site, chain: Chain) -> tuple[tuple[Any, ...], tuple[Any, ...], tuple[Any, ...]]:
    """What stands before the main cable, the cable, and what stands behind it."""
    ahead, behind = losses.between(site, "powerhouse"), losses.between(site, "loads")
    if _generator(chain) is not None:
        middle = chain.electric[1 + len(ahead) : len(chain.electric) - len(behind)]
        return ahead, tuple(middle), behind
    known = losses.wire(site)
    if known:
        return ahead, known, behind
    metered = float(np.max(chain.running().shaft_si(np.inf)))
    lost = 0.0 if site.cable.loss is None else site.cable.loss
    full = metered / (1 - lost) if metered_at(site) == PLACES[2] else metered
    return ahead, losses.wire(site, full), behind


def _forward(parts: tuple[Any, ...], power_w: Number) -> Any:
    """Power behind some parts, of a power that goes in."""
    for part in parts:
        power_w = np.minimum(part.output_si(power_w), getattr(part, "rated_w", np.inf))
    return power_w if np.ndim(power_w) else float(power_w)


def _backward(parts: tuple[Any, ...], power_w: Number) -> Any:
    """Power that must go into some parts for a power behind them; of a cable that cannot bring it,
    the most it takes."""
    power = np.asarray(power_w, dtype=float)
    for part in reversed(parts):
        if hasattr(part, "input_si"):
            power = part.input_si(power)
            continue
        low, high = (
            power,
            np.maximum(power, 1.0) * 2.0,
        )  # half of what goes into a cable is the most that it can lose
        for _ in range(60):
            middle = (low + high) / 2
            enough = part.output_si(middle) >= power
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        power = np.where(np.isnan(power), np.nan, (low + high) / 2)
    return power if power.ndim else float(power)
