"""How results are shown: units of the reader, numbers, words, tables, pictures.

Changes what is read, never a result. Everything that came from a file is escaped here.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Sequence

import numpy as np

from ..errors import Finding, HydrokitError, printable
from ..units import parse_unit, ureg
from .answer import Answer
from .keyed import Keyed, as_markup, keyed, plain

__all__ = [
    "Cautions",
    "Picture",
    "Table",
    "View",
    "Words",
    "csv_number",
    "csv_text",
    "escape_markdown",
    "plain_number",
    "series_text",
]

# kind of quantity -> (SI unit it is held in, metric unit, US unit)
_KINDS = {
    "flow": ("m^3/s", "L/s", "gpm"),
    "large flow": ("m^3/s", "m^3/s", "cfs"),
    "length": ("m", "m", "ft"),
    "distance": ("m", "km", "mi"),
    "diameter": ("m", "mm", "in"),
    "stage": ("m", "m", "ft"),
    "head": ("m", "m", "ft"),
    "area": ("m^2", "m^2", "ft^2"),
    "small area": ("m^2", "mm^2", "in^2"),
    "catchment": ("m^2", "km^2", "mi^2"),
    "volume": ("m^3", "m^3", "gal"),
    "water of a year": ("m^3", "m^3", "acre_ft"),
    "pressure": ("Pa", "bar", "psi"),
    "velocity": ("m/s", "m/s", "ft/s"),
    "power": ("W", "W", "W"),
    "large power": ("W", "kW", "kW"),
    "energy": ("J", "kWh", "kWh"),
    "temperature": ("K", "degC", "degF"),
    "temperature difference": ("delta_degC", "delta_degC", "delta_degF"),
    "time": ("s", "s", "s"),
    "hours": ("s", "h", "h"),
    "minutes": ("s", "min", "min"),
    "speed": ("1/s", "rpm", "rpm"),
    "force": ("N", "kN", "lbf"),
    "mass": ("kg", "kg", "lb"),
    "conductivity": ("S/m", "uS/cm", "uS/cm"),
    "heat loss": ("W/K", "W/K", "Btu/h/delta_degF"),
    "voltage": ("V", "V", "V"),
    "current": ("A", "A", "A"),
    "money per length": ("money/m", "money/m", "money/ft"),
}
# Metric units in the sentences of the lower rooms -> kind they are shown as.
_METRIC_KINDS = {
    "m³/s": "large flow",
    "L/s": "flow",
    "mm": "diameter",
    "m/s": "velocity",
    "m²": "area",
    "m³": "volume",
    "bar": "pressure",
    "°C": "temperature",
    "W/K": "heat loss",
    "km": "distance",
    "m": "length",
}
_PER_CENT = re.compile(r"(?<=\d)%")
_METRIC_NUMBER = re.compile(
    r"(?P<low>-?\d[\d,]*\.?\d*)(?:(?P<between> to | and |–)(?P<high>-?\d[\d,]*\.?\d*))?\s?(?P<unit>"
    + "|".join(_METRIC_KINDS)
    + r")(?![\w/²³])"
)
_POWER_OF_TEN = re.compile(r"(?<![\w.])\d(?:\.\d+)?e[+-]\d\d+")
_NOTHING = 1e-9  # in any unit of a reader: what the arithmetic has left of a nought
_LARGE_FLOW = 2.0  # m³/s: above it L/s and gpm have too many digits to be read


def plain_number(value: float, digits: int = 3) -> str:
    """A number to so many significant digits, with thousands parted, never in powers of ten.

    >>> plain_number(12345.6), plain_number(0.01234), plain_number(8, 2), plain_number(float("nan"))
    ('12,300', '0.0123', '8', 'not known')
    """
    if value is None or not np.isfinite(value):
        return "not known"
    if abs(value) < _NOTHING:
        return "0"
    rounded = Decimal(
        f"{value:.{digits - 1}e}"
    )  # in decimals: the largest float rounded up is no float any more
    text = f"{rounded:,f}"
    return text.partition(".")[0] if rounded == rounded.to_integral_value() else text


@dataclass(frozen=True)
class View:
    """The reader's units.

    Parameters
    ----------
    system : {"metric", "us"}
    large_flows : bool
        Show flows in m³/s or ft³/s rather than L/s or gpm.
    currency : str
        Name of the money of this study.
    """

    system: str = "metric"
    large_flows: bool = False
    currency: str = "money"

    def __post_init__(self) -> None:
        if self.system not in ("metric", "us"):
            raise HydrokitError(f'display must be "metric" or "us", got {self.system!r}')

    @classmethod
    def for_flow(cls, system: str, typical_flow_m3s: float | None, currency: str = "money") -> View:
        """The view whose flow unit suits a creek of that size."""
        return cls(system, bool(typical_flow_m3s and typical_flow_m3s > _LARGE_FLOW), currency)

    def _units(self, kind: str) -> tuple[str, str]:
        if kind == "flow" and self.large_flows:
            kind = "large flow"
        if kind not in _KINDS:
            raise HydrokitError(f"there is no display kind {kind!r}; known are {', '.join(_KINDS)}")
        si, metric, us = _KINDS[kind]
        return si, metric if self.system == "metric" else us

    def label(self, kind: str) -> str:
        """The unit as it is printed: ``L/s``, ``ft``, ``°F``."""
        text = (
            f"{parse_unit(self._units(kind)[1]):~P}"
            if "delta_" not in self._units(kind)[1]
            else self._units(kind)[1]
        )
        text = text.replace("delta_degC", "°C").replace("delta_degF", "°F").replace("Δ", "")
        text = {"cfs": "ft³/s", "acre_ft": "acre-ft"}.get(text, text)
        return text.replace("money", self.currency)

    def number(self, value: Any, kind: str) -> Any:
        """SI floats or arrays as floats in the reader's unit."""
        si, shown = self._units(kind)
        unit = ureg.Unit(si) if "delta_" in si else parse_unit(si)
        return ureg.Quantity(np.asarray(value, dtype=float), unit).m_as(
            ureg.Unit(shown) if "delta_" in shown and "/" not in shown else _unit(shown)
        )[()]

    def text(self, value: Any, kind: str, digits: int = 3) -> str:
        """One SI value with its unit: ``12.3 L/s``."""
        shown = self.number(value, kind)
        return (
            f"{plain_number(float(shown), digits)} {self.label(kind)}"
            if np.isfinite(shown)
            else "not known"
        )

    def range(self, low: Any, high: Any, kind: str, digits: int = 2) -> str:
        """Two SI values as ``11 to 15 L/s``; as one where they read alike."""
        lower, upper = (
            plain_number(float(self.number(each, kind)), digits) for each in (low, high)
        )
        return (
            self.text(high, kind, digits)
            if lower == upper
            else f"{lower} to {self.text(high, kind, digits)}"
        )

    def money(self, value: float, digits: int = 3) -> str:
        """``12,300 crowns``."""
        return f"{plain_number(value, digits)} {self.currency}"

    def duration(self, seconds: float, digits: int = 2) -> str:
        """A time to act within, in the unit one would say: ``73 minutes``, ``6.8 hours``, ``5.2 days``.

        >>> View().duration(4380), View().duration(60.0), View().duration(24480), View().duration(450000)
        ('73 minutes', '1 minute', '6.8 hours', '5.2 days')
        """
        if not np.isfinite(seconds):
            return "not known"
        size, name = (
            (60.0, "minute")
            if seconds < 2 * 3600
            else (3600.0, "hour")
            if seconds < 72 * 3600
            else (86400.0, "day")
        )
        number = plain_number(seconds / size, digits)
        return f"{number} {name}{'' if number == '1' else 's'}"

    def shown(self, answer: Answer | None, unit: bool = True) -> str:
        """An answer as text that carries its key; without its unit where a column's title has it.

        >>> from .keyed import keys
        >>> keys(View("us").shown(Answer("head.gross", 50.0, "head")))
        [('head.gross', '164 ft')]
        """
        if answer is None:
            return "not known"
        return keyed(answer.key, self._answered(answer.value, answer.kind, answer.digits, unit))

    def interval(self, answer: Answer | None) -> str:
        """The 90 % interval of an answer, as ``11 to 15 L/s``; ``not known`` where it is not."""
        if answer is None or not np.all(np.isfinite([answer.low, answer.high])):
            return "not known"
        low, high = (
            self._answered(each, answer.kind, answer.digits, False)
            for each in (answer.low, answer.high)
        )
        return keyed(
            f"{answer.key}.interval",
            f"{low} to {self._answered(answer.high, answer.kind, answer.digits, True)}",
        )

    def _answered(self, value: Any, kind: str, digits: int, unit: bool) -> str:
        """One value of an answer in the reader's unit."""
        if kind == "text":
            return str(value)
        if kind == "duration":
            return self.duration(value, digits)
        own = {
            "kWh": "kWh",
            "money": self.currency,
            "money per kWh": f"{self.currency} per kWh",
            "share": "%",
            "days": "days",
            "years": "years",
            "count": "",
        }
        if kind not in own:
            return (
                self.text(value, kind, digits)
                if unit
                else plain_number(float(self.number(value, kind)), digits)
            )
        if not np.isfinite(value):
            return "not known"
        number = (
            f"{round(float(value)):,}"
            if kind in ("days", "count")
            else plain_number(100 * value if kind == "share" else value, digits)
        )
        name = "day" if kind == "days" and number == "1" else own[kind]
        return f"{number} {name}".strip() if unit else number

    def translated(self, text: str) -> str:
        """A sentence of a lower room, which speaks metric, in the reader's units, without powers of ten, per cent as pages write it.

        >>> View("us").translated("pipes of 100 to 150 mm pass 12 L/s, 42% of what comes")
        'pipes of 3.94 to 5.91 in pass 190 gpm, 42 % of what comes'
        >>> View().translated("a flow of 1.05e+03 L/s")
        'a flow of 1,050 L/s'
        """
        text = _POWER_OF_TEN.sub(lambda match: plain_number(float(match[0])), text)
        text = _PER_CENT.sub(" %", text)
        if self.system == "metric":
            return text

        def turned(match: re.Match) -> str:
            unit, kind = match["unit"], _METRIC_KINDS[match["unit"]]
            si = (
                ureg.Unit(_KINDS[kind][0])
                if "delta_" in _KINDS[kind][0]
                else parse_unit(_KINDS[kind][0])
            )
            numbers = [
                float(ureg.Quantity(float(each.replace(",", "")), parse_unit(unit)).m_as(si))
                for each in (match["low"], match["high"])
                if each
            ]
            shown = [plain_number(float(self.number(each, kind))) for each in numbers]
            return (match["between"] or "").join(shown) + f" {self.label(kind)}"

        return _METRIC_NUMBER.sub(turned, text)

    def header(self, name: str, kind: str) -> str:
        """A column or axis title with its unit."""
        return f"{name} [{self.label(kind)}]"


def _unit(text: str) -> Any:
    if "delta_" in text:
        unit = ureg.Unit("")
        for index, part in enumerate(text.split("/")):
            one = ureg.Unit(part) if "delta_" in part else parse_unit(part)
            unit = unit / one if index else unit * one
        return unit
    return parse_unit(text)


def escape_markdown(text: Any) -> str:
    """Text from a file as text: no mark-up of HTML or Markdown is left alive in it.

    >>> escape_markdown("<b>*x*</b>")
    '&lt;b&gt;\\\\*x\\\\*&lt;/b&gt;'
    """
    flat = " ".join(str(text).split())
    return re.sub(r"([\\`*_{}\[\]()#!|$~]|^[-+])", r"\\\1", html.escape(flat, quote=False))


def csv_text(text: Any) -> str:
    """Text for a cell of a CSV, which a spreadsheet shall not take for a formula.

    A semicolon parts cells where commas stand in numbers, so a formula behind one is defused too.

    >>> csv_text("=1+1"), csv_text("Alder Burn"), csv_text("a;=1+1"), csv_text("\uff1d1+1")
    ("'=1+1", 'Alder Burn', "a;'=1+1", "'＝1+1")
    """
    flat = printable(" ".join(plain(str(text)).split()))
    return _FORMULA.sub(r"\1'\2", flat)


# A sign that begins a formula, plain or full width, at the start of a cell or of what a spreadsheet may part from it.
_FORMULA = re.compile("(^|[;\\t]\\s*)([=+@\uff1d\uff0b\uff20\uff0d-])")


def csv_number(value: float) -> str:
    """A number for a cell of a CSV: four significant digits, no thousands parted, empty where not known.

    >>> csv_number(0.123456), csv_number(26616.6), csv_number(float("nan"))
    ('0.1235', '26617', '')
    """
    return "" if not np.isfinite(value) else f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"


def series_text(items: Sequence[str]) -> str:
    """``a, b and c``."""
    items = list(items)
    return (
        items[0]
        if len(items) == 1
        else ", ".join(items[:-1]) + " and " + items[-1]
        if items
        else "none"
    )


@dataclass(frozen=True)
class Words:
    """A paragraph written from the numbers, in Markdown; numbers in it may carry the key of their question."""

    marked: str

    @property
    def text(self) -> str:
        """The paragraph without keys."""
        return plain(self.marked)

    def _repr_markdown_(self) -> str:
        return as_markup(self.marked)

    def __repr__(self) -> str:
        return f"Words(text={self.text!r})"

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, eq=False)
class Table:
    """A table to read and to copy.

    Parameters
    ----------
    columns : sequence of str
        Titles, with units.
    rows : sequence of sequences
        Text or numbers; numbers are shown to `digits` significant digits.
    caption : str
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[Any]]
    caption: str = ""
    digits: int = 3
    mark: Sequence[int] = field(default_factory=tuple)  # rows to stress
    below: Sequence[
        str
    ] = ()  # lines under it; the whole is then a sheet to hang up, in large type, on a page of its own

    def _cell(self, value: Any) -> tuple[str, bool]:
        if isinstance(value, (bool, np.bool_)):
            return ("yes" if value else "no"), False
        if isinstance(value, (int, np.integer)):
            return f"{value:,}" if abs(value) >= 10000 else str(value), True
        if isinstance(value, (float, np.floating)):
            return ("" if np.isnan(value) else plain_number(float(value), self.digits)), True
        return ("" if value is None else str(value)), isinstance(value, Keyed)

    def _repr_html_(self) -> str:
        out = ["<table class='hk-table'>"]
        if self.caption:
            out.append(f"<caption>{as_markup(html.escape(self.caption))}</caption>")
        out.append(
            "<thead><tr>"
            + "".join(
                f"<th scope='col'>{as_markup(html.escape(str(each)))}</th>" for each in self.columns
            )
            + "</tr></thead><tbody>"
        )
        for number, row in enumerate(self.rows):
            stressed = " class='hk-mark'" if number in self.mark else ""
            cells = [self._cell(value) for value in row]
            out.append(
                f"<tr{stressed}>"
                + "".join(
                    f"<td{' class=hk-number' if numeric else ''}>{as_markup(html.escape(text))}</td>"
                    for text, numeric in cells
                )
                + "</tr>"
            )
        table = "".join(out) + "</tbody></table>"
        lines = "".join(f"<li>{as_markup(html.escape(line))}</li>" for line in self.below)
        return f"<div class='hk-card'>{table}<ul>{lines}</ul></div>" if lines else table

    def __repr__(self) -> str:
        lines = [" | ".join(str(each) for each in self.columns)]
        lines += [" | ".join(self._cell(value)[0] for value in row) for row in self.rows]
        lines += self.below
        return plain("\n".join(lines))


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure with the words that stand for it where it cannot be seen."""

    figure: Any
    alt: str

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict, dict]:
        from base64 import b64encode

        buffer = io.BytesIO()
        with warnings.catch_warnings():
            warnings.filterwarnings(
                "ignore", "Glyph .* missing from font"
            )  # a name in letters the font lacks; the words beside the figure have it
            self.figure.savefig(
                buffer, format="png", dpi=144, facecolor="white", metadata={"Software": None}
            )
        alt = plain(self.alt)
        data = {"image/png": b64encode(buffer.getvalue()).decode(), "text/plain": alt}
        return data, {"image/png": {"alt": alt}}


@dataclass(frozen=True)
class Cautions:
    """Warnings for people's safety, in a box."""

    lines: Sequence[str]
    title: str = "Caution"

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{html.escape(line)}</li>" for line in self.lines)
        return f"<div class='hk-caution' role='note'><strong>{html.escape(self.title)}</strong><ul>{items}</ul></div>"

    def __repr__(self) -> str:
        return self.title + ": " + " ".join(self.lines)


def findings_table(findings: Sequence[Finding], view: View, caption: str = "") -> Table:
    """Findings as a table, the gravest first, in the reader's units."""
    order = {"problem": 0, "caution": 1, "note": 2}
    rows = [
        (each.level, each.where, view.translated(each.message))
        for each in sorted(findings, key=lambda each: order[each.level])
    ]
    return Table(
        ("level", "where", "what"), rows or [("note", "all", "nothing to remark")], caption
    )
