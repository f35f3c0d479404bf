"""Gates and orifices from the site file: parts of the way, and flow meters once they are gauged."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, HydrokitError
from ...result import Result

if TYPE_CHECKING:
    from ...site import schema_parts
    from ...works.openings import Gate, Opening
    from ..study import Study

__all__ = ["Meter", "gate", "meter_rows", "meters", "orifice"]


@dataclass(frozen=True, eq=False)
class Meter(Result):
    """An opening that tells the flow from a level.

    Parameters
    ----------
    name, kind : str
    gate : works.openings.Gate
    lifts_m : tuple of float
        Of a gate: a quarter, a half, all of it. Of an orifice: (1,).
    heads_m : tuple of float
        Those to be tabled, the last the most it gets.
    gaugings : int
    """

    name: str
    kind: str
    gate: Gate
    _: KW_ONLY
    lifts_m: tuple[float, ...]
    heads_m: tuple[float, ...]
    gaugings: int

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of its fit."""
        return tuple(Finding(each.level, self.name, each.sentence) for each in self.gate.findings)


_GAUGED = {
    "gate": ("gauged_lift", "gauged_head", "gauged_flow"),
    "orifice": ("gauged_head", "gauged_flow"),
}


def _fitted(entry: schema_parts.Gate | schema_parts.Orifice) -> Gate:
    """The gate or orifice fitted to its gaugings; with the usual coefficient where there are none."""
    from ...works.openings import Gate, fit_gate, fit_orifice

    gate_ = entry["kind"] == "gate"
    area = 0.0 if gate_ else np.pi / 4 * entry["diameter"] ** 2
    given = [entry.get(key) for key in _GAUGED[entry["kind"]]]
    if all(each is None for each in given):
        return Gate(entry["width"] if gate_ else area, 0.61, float("nan"))
    if any(each is None for each in given):
        raise HydrokitError(
            f"its gaugings need {', '.join(_GAUGED[entry['kind']])}, each a list with one "
            "value for each gauging"
        )
    lists = [np.array(each, dtype=float) for each in given]
    fitted = fit_gate.si(*lists, entry["width"]) if gate_ else fit_orifice.si(*lists, area)
    if fitted.coefficient > 1:
        raise HydrokitError(
            f"its gaugings give it a coefficient of {fitted.coefficient:.2f}, and no opening "
            f"passes more than 1: check its size, {'lifts, ' if gate_ else ''}heads and "
            "flows, and their units"
        )
    return fitted


def gate(entry: schema_parts.Gate, name: str) -> Opening:
    """A gate as a part: wide open under the most head it gets."""
    from ...works.openings import Opening

    return Opening(
        entry["width"] * entry["opening"], entry["head"], _fitted(entry).coefficient, name=name
    )


def orifice(entry: schema_parts.Orifice, name: str) -> Opening:
    """An orifice as a part."""
    from ...works.openings import Opening

    return Opening(
        np.pi / 4 * entry["diameter"] ** 2, entry["head"], _fitted(entry).coefficient, name=name
    )


def meters(study: Study) -> tuple[Meter, ...]:
    """The gates and orifices as flow meters."""
    from .part_names import part_name

    found = []
    for entry in study.site.part:
        if entry.kind == "gate" or entry.kind == "orifice":
            lifts = (
                tuple(share * entry.opening for share in (0.25, 0.5, 1.0))
                if entry.kind == "gate"
                else (1.0,)
            )
            heads = tuple(share * entry.head for share in (0.25, 0.5, 0.75, 1.0))
            found.append(
                Meter(
                    part_name(entry),
                    entry.kind,
                    _fitted(entry),
                    lifts_m=lifts,
                    heads_m=heads,
                    gaugings=len(entry.gauged_flow or ()),
                )
            )
    return tuple(found)


def meter_rows(study: Study) -> tuple[tuple[str, float, tuple[float, ...]], ...]:
    """(name, fall of the water across it in m, flow in m³/s at each lift) of every opening that measures."""
    return tuple(
        (
            meter.name,
            head,
            tuple(float(meter.gate.flow_si(lift, head)) for lift in meter.lifts_m),
        )
        for meter in study.meters
        for head in meter.heads_m
    )
