"""A pipe bridge: what the pipe carries from support to support, and how far apart they may stand."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..result import Result
from ..tables import load, row
from .pipe import Pipe
from .support import pipe_span, pipe_weight, ring_of_ice, sag, snow_on_pipe, support_stress

__all__ = ["PipeBridge", "pipe_bridge"]

# Pa in bending beside the water's pressure; common practice, well under the strength.
_ALLOWED = {"PVC": 7e6, "PE100": 3e6, "steel": 100e6}
# Polyethylene creeps to a fraction of its stiffness within years; the spans printed for PVC come
# out with its short-term one.
_CREEPING = ("PE100",)
_FOOT = 0.3048
_FARTHEST_SAG = 0.1


@dataclass(frozen=True, eq=False)
class PipeBridge(Result):
    """A stretch of pipe that hangs free.

    Parameters
    ----------
    name : str
    span_m : float
        Between its supports, as it is or is planned.
    load_nm : float
        Pipe, water, snow and ice, per metre.
    allowed_m : float
        Longest span by sag (0.2 % of the span) and stress, under that load.
    published_m : float or None
        Spacing printed for this pipe, full of water, without snow or ice, at 80 °F.
    sag_m, stress_pa : float
        At the span.
    """

    name: str
    span_m: float
    load_nm: float
    _: KW_ONLY
    allowed_m: float
    published_m: float | None
    sag_m: float
    stress_pa: float

    @property
    def longest_m(self) -> float:
        """The lesser of what is computed and what is printed."""
        return self.allowed_m if self.published_m is None else min(self.allowed_m, self.published_m)

    @property
    def stands(self) -> bool:
        """Whether it sags so little that the sag means anything: beam theory ends at about a tenth
        of the span."""
        return self.sag_m <= _FARTHEST_SAG * self.span_m


def pipe_bridge(
    name: str,
    pipe: Pipe,
    span_m: float,
    pressure_pa: float = 0.0,
    snow_m: float = 0.0,
    ice_m: float = 0.0,
) -> PipeBridge | None:
    """Hold a span against what the pipe stands; None where its wall or material is not known.

    Parameters
    ----------
    name : str
    pipe : Pipe
    span_m : float
    pressure_pa : float
        Highest in it: half of the hoop stress it makes pulls along the pipe.
    snow_m, ice_m : float
        Snow standing on it, ice grown round it.
    """
    outside, wall = pipe.outside_diameter_m, pipe.wall_m
    if not outside or not wall or not pipe.material:
        return None
    told = row("materials", pipe.material)
    modulus = (
        float(
            told["long_term_modulus_gpa" if pipe.material in _CREEPING else "elastic_modulus_gpa"]
        )
        * 1e9
    )
    load_nm = float(
        pipe_weight.si(outside, wall, float(told["density_kgm3"]))
        + snow_on_pipe.si(outside, snow_m, 350.0)
        + ring_of_ice.si(outside, ice_m)
    )
    spare = max(_ALLOWED[pipe.material] - pressure_pa * outside / (4 * wall), 1e3)
    return PipeBridge(
        name,
        span_m,
        load_nm,
        allowed_m=float(pipe_span.si(load_nm, outside, wall, modulus, spare, 0.002)),
        published_m=_published(pipe.name),
        sag_m=float(sag.si(load_nm, span_m, outside, wall, modulus)),
        stress_pa=float(support_stress.si(load_nm, span_m, outside, wall)),
    )


def _published(name: str) -> float | None:
    table = load("pvc_support_spacing")
    for nominal, grade, feet in zip(table["nominal"], table["class"], table["at_80F_ft"]):
        size = f"{nominal:g}" if isinstance(nominal, (float, np.floating)) else str(nominal)
        if name == f"{size} in PVC {grade}":
            return float(feet) * _FOOT
    return None
