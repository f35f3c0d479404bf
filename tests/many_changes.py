"""Lists of many changes for a small plant, of all kinds, invented."""

from __future__ import annotations

from typing import Any

__all__ = ["changes"]

_PIPES = [f"PVC-U PN 10 {each} mm" for each in (125, 140, 160, 180, 200, 225, 250)]
_CABLES = ["16 mm2", "25 mm2", "35 mm2", "50 mm2"]


def changes(count: int) -> list[dict[str, Any]]:
    """So many entries of [[upgrade]]: no two alike, each kind in many sizes and prices."""
    made = []
    for number in range(count):
        step = number // 8
        more = [
            {"pipe": _PIPES[step % 7], "cost": 900 + 330 * (step % 7) + 7 * step, "life": 40},
            {"jets": 2 + step % 5, "cost": 150 + 60 * (step % 5) + 3 * step},
            {"jet_diameter": f"{18 + 0.4 * step:.1f} mm", "cost": 80 + 2 * step},
            {
                "capacity": f"{20 + 0.8 * step:.1f} L/s",
                "clogged": f"{max(12 - 0.5 * step, 0):.1f} %",
                "cost": 250 + 20 * step,
                "life": 15,
            },
            {"efficiency": f"{75 + 0.35 * step:.2f} %", "cost": 300 + 55 * step},
            {"cable_size": _CABLES[step % 4], "cost": 120 + 70 * (step % 4) + step},
            {"unplanned": f"{4 - 0.15 * step:.2f} %", "cost": 30 + 9 * step, "life": 8},
            {
                "extra_flow": f"{0.3 + 0.05 * step:.2f} L/s",
                "cost": 200 + 35 * step,
                "months": [1 + step % 12, 1 + (step + 1) % 12],
            },
        ][number % 8]
        made.append({"name": f"change {number}", **more})
    return made
