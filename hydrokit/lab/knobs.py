"""A control panel: knobs, a figure that moves with them, the numbers beside it.

Everything that stays is drawn once and kept as a picture; a turn of a knob puts it back and draws
what moves on top of it. So a redraw costs little more than writing the picture.
"""

from __future__ import annotations

import html
import io
from base64 import b64encode
from dataclasses import KW_ONLY, dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Callable, Mapping, Sequence

import numpy as np

from ..report.display import Picture, Table
from ..sentences import plain_number
from ..study.attended import attended
from ..study.view import View
from .variant_button import variant_box

if TYPE_CHECKING:
    from ..files import Entries
    from ..study.study import Study

__all__ = [
    "DASHED",
    "DOTTED",
    "Knob",
    "Panel",
    "kwh_text",
    "levels",
    "like",
    "moving",
    "shares",
    "shown",
    "tick",
]

DASHED, DOTTED = (0, (5, 2)), (0, (1, 1.5))
_DPI = 120
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_STYLE = (
    "<style>.hk-numbers{border-collapse:collapse;font-variant-numeric:tabular-nums}.hk-numbers "
    "td,.hk-numbers th{text-align:left;padding:2px 14px 2px 0;border-bottom:1px solid "
    "#d9d5cc}.hk-numbers td:nth-child(2){font-weight:600;min-width:9em}"
    ".hk-knob .widget-readout{min-width:13em;max-width:none;overflow:visible;text-align:left;"
    "white-space:nowrap}</style>"
)
# The sliders of the browser's library tell a reader of the screen the place of a setting and no name.
_SPOKEN = """
const begin = tries => {
  const box = element.closest('.hk-panel');
  if (!box || !box.querySelector('.hk-knob [role=slider]')) {
    if (tries) setTimeout(() => begin(tries - 1), 200);
    return;
  }
  const say = () => box.querySelectorAll('.hk-knob').forEach(knob => {
    const handle = knob.querySelector('[role=slider]');
    const told = {
      'aria-label': knob.querySelector('.widget-label').textContent,
      'aria-valuetext': knob.querySelector('.widget-readout').textContent,
    };
    for (const [name, text] of Object.entries(told))
      if (handle.getAttribute(name) !== text) handle.setAttribute(name, text);
  });
  new MutationObserver(say).observe(box, {
    subtree: true, childList: true, characterData: true, attributeFilter: ['aria-valuetext'],
  });
  say();
};
begin(50);
"""


@dataclass(frozen=True, eq=False)
class Knob:
    """Something to turn.

    Parameters
    ----------
    name : str
        Under which its value is handed to the panel's `turn`.
    label : str
    values : sequence
        Settings, SI; ``(False, True)`` is a tick.
    texts : sequence of str
        How each is shown, with its unit.
    start : int
        Place of the setting at first.
    writes : callable, optional
        Of a setting: the keys of the site file that say it, with their values; none where no key does.
    """

    name: str
    label: str
    values: Sequence[Any]
    _: KW_ONLY
    texts: Sequence[str]
    start: int = 0
    writes: Callable[[Any], Mapping[str, Any]] | None = None

    @classmethod
    def over(
        cls,
        name: str,
        label: str,
        settings: tuple[Sequence[Any], Sequence[str], int],
        *,
        writes: Callable[[Any], Mapping[str, Any]] | None = None,
    ) -> Knob:
        """A knob over settings that were made together: values, their texts, place of the first."""
        values, texts, start = settings
        return cls(name, label, values, texts=texts, start=start, writes=writes)

    @property
    def first(self) -> Any:
        """Value at first."""
        return self.values[self.start]

    @property
    def is_tick(self) -> bool:
        """Whether it is a box to tick; 0 and 1 are numbers."""
        return all(isinstance(value, bool) for value in self.values)

    def widget(self) -> Any:
        """The slider or tick box, to be used by mouse or keyboard."""
        import ipywidgets

        wide = {"description_width": "18em"}
        if self.is_tick:
            return ipywidgets.Checkbox(
                value=self.first, description=self.label, indent=False, layout={"width": "auto"}
            )
        # The value of an option is its place: texts and values may repeat.
        options = [(text, place) for place, text in enumerate(self.texts)]
        made = ipywidgets.SelectionSlider(
            options=options,
            value=self.start,
            description=self.label,
            style=wide,
            layout={"width": "48em", "max_width": "100%"},
        )
        return made.add_class("hk-knob")

    def value_of(self, widget: Any) -> Any:
        """Value at which its widget stands."""
        return widget.value if self.is_tick else self.values[widget.value]


@dataclass(frozen=True, eq=False)
class Panel:
    """Knobs, a figure, numbers.

    Parameters
    ----------
    what : str
        What the figure shows, for those who cannot see it.
    knobs : tuple of Knob
    figure : Figure
        Its limits fixed; what `turn` moves was made with :func:`moving`.
    turn : callable
        Of the values of all knobs, by name: moves the figure and gives the numbers as (name, text).
    against : str
        Name of the settings that numbers are held against.
    against_values : mapping
        Knobs that are put elsewhere for them, the others left where they stand; none given: all are
        turned back.
    study : Study, optional
        Beside which a variant can be written, where a knob knows the keys that say it.
    writes : callable, optional
        Of the values of all knobs: the keys of the site file that say them, where they are told
        together and not knob by knob.
    """

    what: str
    knobs: tuple[Knob, ...]
    figure: Any
    _: KW_ONLY
    turn: Callable[..., list[tuple[str, str]]]
    against: str = "as it stands"
    against_values: Mapping[str, Any] = field(default_factory=dict)
    study: Study | None = None
    writes: Callable[[Entries], Entries] | None = None

    @property
    def first(self) -> dict[str, Any]:
        """Where the knobs stand at first."""
        return {knob.name: knob.first for knob in self.knobs}

    @cached_property
    def _standing(self) -> tuple[Any, list[Any]]:
        """Picture of all that stays, and what moves."""
        self.figure.set_dpi(_DPI)
        self.figure.canvas.draw()
        self.figure.set_layout_engine("none")  # it now stays where it is
        parts = self.figure.findobj(lambda artist: artist.get_animated())
        return self.figure.canvas.copy_from_bbox(self.figure.bbox), sorted(
            parts, key=lambda artist: artist.get_zorder()
        )

    def numbers(self, **values: object) -> Table:
        """The numbers at some settings, beside those they are held against; the figure moves along."""
        now = {**self.first, **values}
        against = dict(self.turn(**{**now, **(self.against_values or self.first)}))
        rows = [(name, text, against.get(name, "")) for name, text in self.turn(**now)]
        return Table(("", "now", self.against), rows)

    def png(self) -> bytes:
        """The figure as it now stands."""
        from PIL import Image

        standing, parts = self._standing
        canvas, written = self.figure.canvas, io.BytesIO()
        canvas.restore_region(standing)
        for artist in parts:
            self.figure.draw_artist(artist)
        Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB").save(
            written, "png", compress_level=1
        )
        return written.getvalue()

    def picture(self) -> Picture:
        """The figure at the first settings, for a page on which nothing can be turned."""
        said = "; ".join(f"{name} {now}" for name, now, _ in self.numbers().rows)
        return Picture(self.figure, f"{self.what}. {said}.")

    # --- on the screen ----------------------------------------------------------------------

    @cached_property
    def box(self) -> Any:
        """Knobs, figure and numbers as one widget."""
        import ipywidgets
        from IPython.display import Javascript

        turned = [knob.widget() for knob in self.knobs]
        back = ipywidgets.Button(description="Turn all back", layout={"width": "auto"})
        figure, numbers = ipywidgets.HTML(), ipywidgets.HTML()
        going_back: list[bool] = []

        def stand() -> dict[str, Any]:
            return {knob.name: knob.value_of(widget) for knob, widget in zip(self.knobs, turned)}

        def redraw(_: Any = None) -> None:
            if not going_back:
                table = self.numbers(**stand())
                figure.value, numbers.value = (
                    self._image(table),
                    _STYLE + table._repr_html_().replace("hk-table", "hk-numbers"),
                )

        def all_back(_: Any) -> None:
            going_back.append(True)
            for knob, widget in zip(self.knobs, turned):
                widget.value = knob.first if isinstance(widget, ipywidgets.Checkbox) else knob.start
            going_back.clear()
            redraw()

        for widget in turned:
            widget.observe(redraw, "value")
        back.on_click(all_back)
        redraw()
        kept = []
        if self.study is not None and (self.writes or any(knob.writes for knob in self.knobs)):
            kept = [variant_box(self.study, lambda: self.changes(stand()))]
        spoken = ipywidgets.Output()
        spoken.append_display_data(Javascript(_SPOKEN))
        parts = [*turned, back, figure, numbers, *kept, spoken]
        return ipywidgets.VBox(parts, layout={"align_items": "flex-start"}).add_class("hk-panel")

    def changes(self, values: Entries) -> Entries:
        """The keys of the site file that say where the knobs stand, of those that were turned."""
        if self.writes is not None:
            return self.writes(values)
        found: dict[str, Any] = {}
        for knob in self.knobs:
            if knob.writes is not None and values[knob.name] != knob.first:
                found |= knob.writes(values[knob.name])
        return found

    def _image(self, table: Table) -> str:
        """The figure with the numbers as its text, of a fixed size so that the page does not jump."""
        width, height = (round(side * 100) for side in self.figure.get_size_inches())
        said = html.escape("; ".join(f"{name} {now}" for name, now, _ in table.rows))
        data = b64encode(self.png()).decode()
        return (
            f'<img width="{width}" height="{height}" style="max-width:100%;height:auto" '
            f'alt="{html.escape(self.what)}. {said}." src="data:image/png;base64,{data}">'
        )

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict, dict]:
        # The picture comes along for whoever reads the saved notebook where nothing runs.
        data, metadata = self.picture()._repr_mimebundle_()
        return {**data, **self.box._repr_mimebundle_()}, metadata


def shown(panel: Panel) -> Panel | Picture:
    """The panel, or its picture in a run of the notebooks, where nobody turns knobs."""
    return panel if attended() else panel.picture()


def kwh_text(value: float) -> str:
    """``12,300 kWh``, in either system."""
    return f"{plain_number(value)} kWh"


def like(
    study: Study, view: View, key: str, value: float, kind: str, answered: bool = False
) -> str:
    """A number of a panel as the answer to a question is shown: at the study's own values the same digits.

    `kind` is for a study that has no such answer; where the knobs stand at what the question is
    `answered` for, the answer itself is shown.
    """
    answer = study.answer(key)
    if answered and answer is not None:
        value = float(answer.value)
    return (
        view.amount(value, kind)
        if answer is None
        else view.amount(value, answer.kind, answer.digits)
    )


def moving(artists: Any) -> Any:
    """Artists that a turn moves: they are left out of what is drawn once."""
    for artist in np.ravel(artists):
        artist.set_animated(True)
    return artists


# --- settings -------------------------------------------------------------------------------


def levels(
    view: View, kind: str, low: float, high: float, start: float, count: int = 24
) -> tuple[list[float], list[str], int]:
    """Some `count` settings at round numbers of the reader's unit, the present one among them.

    Returns
    -------
    tuple
        Values in SI, texts, place of the present one: what a :class:`Knob` wants.
    """
    unit = float(view.number(1.0, kind))
    bottom, top = low * unit, high * unit
    decade = 10 ** np.floor(np.log10((top - bottom) / count))
    step = decade * next(
        each for each in _STEPS if each * decade * count >= (top - bottom) * (1 - 1e-9)
    )
    round_ones = (
        step * np.arange(np.ceil(bottom / step - 1e-9), np.floor(top / step + 1e-9) + 1) / unit
    )
    apart = np.abs(round_ones - start) > 1e-3 * step / unit
    values = sorted([*round_ones[apart].tolist(), float(start)])
    return values, [view.text(each, kind) for each in values], values.index(float(start))


def shares(
    low: float, high: float, step: float, start: float = 0.0
) -> tuple[list[float], list[str], int]:
    """Settings in per cent, the present one among them."""
    even = step * np.arange(round(low / step), round(high / step) + 1)
    values = sorted([*even[np.abs(even - start) > 1e-6].tolist(), start])
    return values, [f"{100 * each:.3g} %" for each in values], values.index(start)


def tick(name: str, label: str, on: bool) -> Knob:
    """A box to tick."""
    return Knob(name, label, (False, True), texts=("no", "yes"), start=int(on))
