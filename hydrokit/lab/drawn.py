"""Line drawings as SVG: a sheet of white paper, dark lines, water and ground told apart without
colour too."""

from __future__ import annotations

import html
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import atan2, cos, pi, sin
from typing import Literal

__all__ = ["Drawing", "Paper"]

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
INK, SOFT, WATER, GROUND, AIR = "#17242b", "#51616a", "#cfe4ee", "#e6dfd2", "#ffffff"
_FONT = "font-family='DejaVu Sans, Arial, Helvetica, sans-serif'"


@dataclass(frozen=True)
class Drawing:
    """A drawing with the words that stand for it where it cannot be seen.

    Parameters
    ----------
    svg : str
    alt : str
    """

    svg: str
    alt: str

    def _repr_html_(self) -> str:
        # An image of its own: neither a dark theme nor the page's style reaches into it.
        data = b64encode(self.svg.encode()).decode()
        told = html.escape(self.alt, quote=True)
        return f'<img alt="{told}" style="max-width:100%" src="data:image/svg+xml;base64,{data}">'

    def __repr__(self) -> str:
        return self.alt


@dataclass
class Paper:
    """A sheet to draw on; lengths in pixels from the upper left corner.

    Parameters
    ----------
    width, height : float
    """

    width: float
    height: float
    drawn: list[str] = field(default_factory=list)

    def line(self, *points: Point, wide: float = 1.6, dash: str = "", ink: str = INK) -> None:
        """A line through points; `dash` such as ``"5 4"``."""
        broken = f" stroke-dasharray='{dash}'" if dash else ""
        self.drawn.append(
            f"<polyline points='{_at(points)}' fill='none' stroke='{ink}' stroke-width='{wide}' "
            f"stroke-linejoin='round' stroke-linecap='round'{broken}/>"
        )

    def area(self, *points: Point, fill: str = WATER, wide: float = 0) -> None:
        """A filled shape, with an outline where it is `wide`."""
        self.drawn.append(
            f"<polygon points='{_at(points)}' fill='{fill}' stroke='{INK if wide else 'none'}' "
            f"stroke-width='{wide}' stroke-linejoin='round'/>"
        )

    def water(self, *points: Point) -> None:
        """Water: pale, with short level strokes, so that it is told from ground in grey too."""
        self.area(*points)
        xs, ys = [each[0] for each in points], [each[1] for each in points]
        y, row = min(ys) + 9, 0
        while y < max(ys) - 2:
            x = min(xs) + 8 + 17 * (row % 2)
            while x < max(xs) - 8:
                if _inside((x - 1, y), points) and _inside((x + 9, y), points):
                    self.line((x, y), (x + 8, y), wide=0.7, ink="#6f9db4")
                x += 34
            y, row = y + 11, row + 1

    def ground(self, *points: Point) -> None:
        """Earth, rock or a wall."""
        self.area(*points, fill=GROUND, wide=1.2)

    def circle(self, x: float, y: float, radius: float, fill: str = "#ffffff") -> None:
        """A circle with an outline."""
        self.drawn.append(
            f"<circle cx='{x:g}' cy='{y:g}' r='{radius:g}' fill='{fill}' stroke='{INK}' stroke-width='1.6'/>"
        )

    def dot(self, x: float, y: float, radius: float = 2) -> None:
        """A small full dot."""
        self.drawn.append(f"<circle cx='{x:g}' cy='{y:g}' r='{radius:g}' fill='{INK}'/>")

    def text(
        self,
        x: float,
        y: float,
        said: str,
        anchor: Anchor = "start",
        bold: bool = False,
        size: float = 13,
    ) -> None:
        """Words, from their base line."""
        weight = " font-weight='bold'" if bold else ""
        self.drawn.append(
            f"<text x='{x:g}' y='{y:g}' {_FONT} font-size='{size:g}' fill='{INK}' "
            f"text-anchor='{anchor}'{weight}>{html.escape(said, quote=False)}</text>"
        )

    def arrow(self, *points: Point, wide: float = 1.4) -> None:
        """A line with a head at its last point."""
        self.line(*points, wide=wide)
        self._head(points[-2], points[-1])

    def measure(self, one: Point, other: Point, said: str = "", at: Point | None = None) -> None:
        """A length between two points, with a head at both, and what it is called."""
        self.line(one, other, wide=1.1)
        self._head(other, one)
        self._head(one, other)
        if said:
            x, y = at or ((one[0] + other[0]) / 2 + 7, (one[1] + other[1]) / 2 + 4)
            self.text(x, y, said)

    def level(self, x: float, y: float) -> None:
        """The mark of a water surface: a small triangle that stands on it."""
        self.area((x - 6, y - 9), (x + 6, y - 9), (x, y), fill="#ffffff", wide=1.2)
        self.line((x - 5, y + 3), (x + 5, y + 3), wide=1)

    def pipe(self, *points: Point, bore: float = 12, fill: str = WATER) -> None:
        """A pipe cut open along its length."""
        joined = f"<polyline points='{_at(points)}' fill='none' stroke-linejoin='round' "
        self.drawn.append(f"{joined}stroke='{INK}' stroke-width='{bore + 3:g}'/>")
        self.drawn.append(f"{joined}stroke='{fill}' stroke-width='{bore:g}'/>")

    def gauge(self, x: float, y: float, turn: float) -> None:
        """A pressure gauge, its needle `turn` of the way from left to right."""
        self.circle(x, y, 15)
        angle = pi * (1 - turn)
        self.line((x, y), (x + 11 * cos(angle), y - 11 * sin(angle)), wide=2)

    def done(self, alt: str) -> Drawing:
        """The drawing."""
        told = html.escape(alt, quote=True)
        size = f"width='{self.width:g}' height='{self.height:g}' viewBox='0 0 {self.width:g} {self.height:g}'"
        sheet = f"<rect width='{self.width:g}' height='{self.height:g}' rx='6' fill='#ffffff'/>"
        body = "\n".join([sheet, *self.drawn])
        return Drawing(
            f"<svg xmlns='http://www.w3.org/2000/svg' {size} role='img' "
            f'aria-label="{told}">\n{body}\n</svg>\n',
            alt,
        )

    def _head(self, back: Point, tip: Point) -> None:
        angle = atan2(tip[1] - back[1], tip[0] - back[0])
        wings = [
            (tip[0] - 9 * cos(angle + turn), tip[1] - 9 * sin(angle + turn))
            for turn in (0.35, -0.35)
        ]
        self.drawn.append(f"<polygon points='{_at((tip, *wings))}' fill='{INK}'/>")


def _at(points: Sequence[Point]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in ((round(x, 1), round(y, 1)) for x, y in points))


def _inside(point: Point, corners: Sequence[Point]) -> bool:
    """Whether a point lies within a shape: a ray to the right crosses its outline an odd number of times."""
    x, y = point
    crossings = 0
    for (x1, y1), (x2, y2) in zip(corners, (*corners[1:], corners[0])):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            crossings += 1
    return crossings % 2 == 1
