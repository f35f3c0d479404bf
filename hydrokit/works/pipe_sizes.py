"""Sizes of pipe as they are sold: name, bore, wall and rating."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from typing import Iterator, Mapping

from ..errors import Finding, HydrokitError, did_you_mean
from ..result import Result
from ..sentences import Amount, Sentence
from ..tables import load, row
from ..units import Quantity
from .fittings import kind_of
from .pipe import Pipe

__all__ = [
    "PipeSize",
    "metric_wall_mm",
    "nominal_trap",
    "pipe_size",
    "pipe_sizes",
    "two_walls",
]

INCH_M, PSI_PA, BAR_PA = 0.0254, 6894.757293168, 1e5

# Rating in psi by SDR at 23 °C, PVC 1120 of ASTM D2241 (315, 200 and 160 read, the others from memory).
_PVC_SDR = {13.5: 315, 17: 250, 21: 200, 26: 160, 32.5: 125, 41: 100}

# Rating in psi by DR, PE 4710 with iron-pipe outside diameters; from memory.
_HDPE_DR = {9: 250, 11: 200, 13.5: 160, 17: 125, 21: 100, 26: 80, 32.5: 63}

# Exponent n of the pipe series S = 10**(n/10) behind each SDR = 2S + 1, ISO 4065; from memory.
_SERIES = {11: 7, 13.6: 8, 17: 9, 21: 10, 26: 11, 33: 12, 41: 13}

# Nominal pressure in bar by SDR, ISO 4427 at 20 °C; from memory.
_PE_PN = {
    "PE100": {11: 16, 13.6: 12.5, 17: 10, 21: 8, 26: 6, 33: 5},
    "PE80": {11: 12.5, 13.6: 10, 17: 8, 21: 6, 26: 5},
}

# SDR by nominal pressure, PVC-U: with the design coefficient 2.5, which ISO 1452 asks up to 90 mm and
# DIN 8062 for all sizes, and with 2.0, which ISO 1452 asks from 110 mm. From memory; a table of
# standard pipes read (pandapipes 0.16.0, Pipe.csv) has SDR 21 for PN 10 from 63 to 630 mm.
_PVCU_SDR = {10: (21, 26), 12.5: (17, 21), 16: (13.6, 17), 20: (11, 13.6), 8: (26, 33), 6: (33, 41)}
_TWO_WALLS_FROM_MM = 110

_METRIC_MM = (
    20,
    25,
    32,
    40,
    50,
    63,
    75,
    90,
    110,
    125,
    140,
    160,
    180,
    200,
    225,
    250,
    280,
    315,
    355,
    400,
    450,
    500,
    630,
)

_MEAN_WALL = 1.06  # mean over least wall: half the 12 % tolerance of ASTM D1785 and D2241

_MEMORY = "wall and rating by the standard's formula, from memory"
_PRINTED = (
    "wall by the standard's formula, as a table of standard pipes prints it; rating from memory"
)
# Sizes in mm whose bore that table prints, by material and SDR: pandapipes 0.16.0, Pipe.csv.
_PRINTED_MM: dict[tuple[str, float], set[int]] = {
    ("PVC-U", 21): {63, 90, 110, 140, 160, 225, 280, 355, 400, 450, 630},
    ("PE100", 11): {*_METRIC_MM[:10], 160, 180, 225, 250, 280, 315, 355, 400},
    ("PE100", 17): {*_METRIC_MM[7:]},
}


@dataclass(frozen=True, eq=False)
class PipeSize(Result):
    """What stands behind a pipe's trade name.

    Parameters
    ----------
    name, material : str
    outside_m, wall_m, inside_m : float
        The wall is the least allowed; the inside is the mean for inch sizes and outside less two
        least walls for metric ones, whose true bore is up to 1 % smaller.
    rating_pa : float or None
        Gauge pressure at 23 °C (inch sizes) or 20 °C (metric); None where no rating goes with
        the size (steel: ask the manufacturer).
    source : str
    """

    name: str
    material: str
    outside_m: float
    _: KW_ONLY
    wall_m: float
    inside_m: float
    rating_pa: float | None
    source: str

    @property
    def inside(self) -> Quantity:
        """Inside diameter, a quantity."""
        return Quantity(self.inside_m, "m")

    @property
    def rating(self) -> Quantity | None:
        """Pressure rating, a quantity or None."""
        return None if self.rating_pa is None else Quantity(self.rating_pa, "Pa")

    def pipe(
        self,
        length_m: float,
        roughness_m: float | None = None,
        fittings: float = 0.0,
        name: str = "",
    ) -> Pipe:
        """A reach of this pipe; the material's usual roughness unless another is given."""
        usual = float(row("materials", kind_of(self.material))["roughness_mm"]) / 1000
        return Pipe(
            diameter_m=self.inside_m,
            length_m=length_m,
            roughness_m=usual if roughness_m is None else roughness_m,
            fittings=fittings,
            name=name or self.name,
            rating_pa=self.rating_pa,
            outside_diameter_m=self.outside_m,
            wall_m=self.wall_m,
            material=kind_of(self.material),
        )


def pipe_sizes() -> tuple[str, ...]:
    """All names :func:`pipe_size` knows."""
    return tuple(size.name for size in _all().values())


def pipe_size(name: str) -> PipeSize:
    """Look up a pipe by its trade name.

    Parameters
    ----------
    name : str
        Size, material and class in any order: ``"4 in PVC Sch 40"``, ``"PVC SDR 26 4 in"``,
        ``"PE100 SDR 17 110 mm"``, ``"PVC-U SDR 21 160 mm"``, ``"PVC-U PN 10 160 mm"``,
        ``"steel 4 in Sch 40"``. From 110 mm PVC-U of one PN is sold with two walls
        (:func:`two_walls`): by its PN the wall is that of ISO 1452, by its SDR it is certain, and
        the rating is the lower of the two.

    Returns
    -------
    PipeSize

    Raises
    ------
    HydrokitError
        A name without size, material or class, or a size that is not made.

    References
    ----------
    .. [1] Sch 40 and 80 PVC: *Machinery's Handbook*, 31st ed., p. 2770, Table 13. Others by the
       formula of their standard (ASTM D2241, ISO 4065, ISO 4427, ISO 1452), from memory.

    Examples
    --------
    >>> size = pipe_size("4 in PVC Sch 40")
    >>> print(f"{size.inside.to('in'):.3f~P}, {size.rating.to('psi'):.0f~P}")
    3.998 in, 220 psi
    >>> size = pipe_size("PE100 SDR 17 110 mm")
    >>> print(f"{size.inside.to('mm'):.1f~P}, {size.rating.to('bar'):.0f~P}")
    96.8 mm, 10 bar
    """
    known = _all()
    key = _key(name)
    if key in known:
        return known[key]
    tidy = " ".join(name.split())
    raise HydrokitError(
        f"'{tidy[:80]}' is not a pipe size known here{_meant(tidy, key)}; write size, material and class "
        'such as "4 in PVC Sch 40" or "110 mm PE100 SDR 17", or give the measured inside diameter'
    )


def _meant(name: str, key: tuple | None) -> str:
    """The nearest known size of what was written: of its material the nearest class in that size,
    else the nearest size in that class; by its letters where it cannot be read."""
    if key is None:
        return did_you_mean(name, pipe_sizes())
    material, kind, number, size, unit = key
    alike = [each for each in _all() if each[:2] == (material, kind) and each[4] == unit]
    of_size = [each for each in alike if each[3] == size]
    of_class = [each for each in alike if each[2] == number]
    near = min(of_size, key=lambda each: abs(each[2] - number), default=None) or min(
        of_class, key=lambda each: abs(each[3] - size), default=None
    )
    return (
        did_you_mean(name, pipe_sizes())
        if near is None
        else f"; did you mean '{_all()[near].name}'?"
    )


def nominal_trap(diameter_m: float) -> Finding | None:
    """A caution when an inside diameter equals a nominal size, so that it was hardly measured.

    A 4 in pipe is 102 mm inside as Sch 40 and 96 mm as Sch 80: a third more loss.
    """
    for size in _all().values():
        nominal = size.name.split(" in ")[0] if " in " in size.name else None
        if nominal and abs(diameter_m - _number(nominal) * INCH_M) < 2e-5:
            return Finding(
                "caution",
                "pipe",
                Sentence(
                    "the inside diameter is exactly {nominal} in, which is a nominal size: measure it, "
                    'or give the pipe by name such as "{name}" ({inside} inside)',
                    nominal=nominal,
                    name=size.name,
                    inside=Amount(size.inside_m, "diameter", 4),
                ),
            )
        if nominal is None and abs(diameter_m - size.outside_m) < 2e-5:
            return Finding(
                "caution",
                "pipe",
                Sentence(
                    "the inside diameter is exactly {outside} mm, which is an outside size of plastic pipe: "
                    'give the pipe by name such as "{name}" ({inside} inside)',
                    outside=f"{1000 * size.outside_m:.0f}",
                    name=size.name,
                    inside=Amount(size.inside_m, "diameter", 4),
                ),
            )
    return None


def two_walls(name: str) -> Finding | None:
    """A note where a size's name stands for two walls, so that its bore is not certain.

    From 110 mm a PVC-U pipe of one nominal pressure is thinner by ISO 1452 (design coefficient 2.0)
    than by DIN 8062 (2.5): PN 10 is SDR 26 or SDR 21, a fiftieth of the bore and a tenth of the loss.
    """
    size = pipe_size(name)
    material, klass, number, millimetres, unit = _key(size.name) or ("", "", 0.0, 0.0, "")
    if (material, klass, unit) != ("PVC-U", "pn", "mm") or millimetres < _TWO_WALLS_FROM_MM:
        return None
    thick, thin = _PVCU_SDR[number]
    other = pipe_size(f"{millimetres:g} mm PVC-U SDR {thick:g}")
    return Finding(
        "note",
        "pipe",
        Sentence(
            "{name} is sold with two walls: SDR {thin} ({inside} inside), which counts here, and SDR "
            "{thick} ({narrower} inside), with more head loss; measure the wall, and name the SDR such "
            'as "{other}"',
            name=size.name,
            thin=f"{thin:g}",
            thick=f"{thick:g}",
            inside=Amount(size.inside_m, "diameter", 4),
            narrower=Amount(other.inside_m, "diameter", 4),
            other=other.name,
        ),
    )


_SIZE = re.compile(r"(\d+\s*-\s*\d+/\d+|\d+/\d+|\d*\.?\d+)\s*(in\b|mm\b)")

_CLASS = re.compile(r"\b(sch|sdr|pn)\s*(\d+(?:\.\d+)?)")

_MATERIALS = (
    ("PVC-U", r"\b(pvc-?u|upvc)\b"),
    ("PVC", r"\bpvc\b"),
    ("PE100", r"\bpe\s?-?100\b"),
    ("PE80", r"\bpe\s?-?80\b"),
    ("HDPE", r"\b(hdpe|pe)\b"),
    ("steel", r"\bsteel\b"),
)


def _key(name: str) -> tuple | None:
    text = re.sub(r"\binch(es)?\b|\"|″", "in", name.lower())
    text = re.sub(r"\b(schedule|sched)\b\.?", "sch", re.sub(r"\bdr\b", "sdr", text))
    material = next((label for label, pattern in _MATERIALS if re.search(pattern, text)), None)
    # Cut out what is understood, so that the 100 of PE100 is never read as a size.
    klass, rest = _CLASS.search(text), _CLASS.sub(" ", text)
    size = _SIZE.search(re.sub(r"\bpe\s?-?(100|80)\b", " ", rest))
    if not (material and klass and size):
        return None
    metric = size[2] == "mm"
    if metric:
        material = {"PVC": "PVC-U", "HDPE": "PE100"}.get(material, material)
    return material, klass[1], float(klass[2]), round(_number(size[1]), 4), size[2]


def _number(nominal: str) -> float:
    return float(sum(Fraction(part) for part in nominal.replace(" ", "").split("-")))


@functools.cache
def _all() -> dict[tuple, PipeSize]:
    sizes = [
        *_from_table(),
        *_inch_by_ratio("PVC", _PVC_SDR),
        *_inch_by_ratio("HDPE", _HDPE_DR),
        *_metric(),
    ]
    return {key: size for size in sizes if (key := _key(size.name)) is not None}


def _from_table() -> Iterator[PipeSize]:
    table = load("pipe_sizes")
    for material, nominal, klass, outside, wall, inside, psi, source in zip(
        *(
            table[title]
            for title in "material nominal class outside_in wall_in inside_in rating_psi source".split()
        )
    ):
        rating = None if math.isnan(psi) else float(psi) * PSI_PA
        yield PipeSize(
            f"{nominal} in {material} {klass}",
            material,
            float(outside) * INCH_M,
            wall_m=float(wall) * INCH_M,
            inside_m=float(inside) * INCH_M,
            rating_pa=rating,
            source=source,
        )


def _inch_by_ratio(material: str, rating_psi: Mapping[float, float]) -> Iterator[PipeSize]:
    table = load("pipe_sizes")
    outside = dict(zip(table["nominal"], table["outside_in"]))
    for nominal, outside_in in outside.items():
        for ratio, psi in rating_psi.items():
            wall = round(float(outside_in) / ratio, 3)
            if wall >= 0.06:  # thinner is not made
                yield PipeSize(
                    f"{nominal} in {material} SDR {ratio:g}",
                    material,
                    float(outside_in) * INCH_M,
                    wall_m=wall * INCH_M,
                    inside_m=(float(outside_in) - 2 * _MEAN_WALL * wall) * INCH_M,
                    rating_pa=psi * PSI_PA,
                    source=_MEMORY,
                )


def _metric() -> Iterator[PipeSize]:
    for size in _METRIC_MM:
        for material, rating_bar in _PE_PN.items():
            for ratio, bar in rating_bar.items():
                yield from _metric_size(
                    f"{size} mm {material} SDR {ratio:g}", material, size, ratio, bar
                )
        for bar, (small, large) in _PVCU_SDR.items():
            ratio = small if size < _TWO_WALLS_FROM_MM else large
            yield from _metric_size(f"{size} mm PVC-U PN {bar:g}", "PVC-U", size, ratio, bar)
            yield from _metric_size(f"{size} mm PVC-U SDR {small:g}", "PVC-U", size, small, bar)


def _metric_size(
    name: str, material: str, size: float, ratio: float, bar: float
) -> Iterator[PipeSize]:
    wall = metric_wall_mm(size, ratio)
    if wall >= 1.5:
        yield PipeSize(
            name,
            material,
            size / 1000,
            wall_m=wall / 1000,
            inside_m=(size - 2 * wall) / 1000,
            rating_pa=bar * BAR_PA,
            source=_PRINTED if size in _PRINTED_MM.get((material, ratio), ()) else _MEMORY,
        )


def metric_wall_mm(outside_mm: float, ratio: float) -> float:
    """Least wall of a metric plastic pipe, ISO 4065: outside/(2S + 1), rounded up to 0.1 mm."""
    exact = round(outside_mm / (2 * 10 ** (_SERIES[ratio] / 10) + 1), 2)
    return math.ceil(round(exact * 10, 6)) / 10
