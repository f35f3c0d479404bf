"""A result shows itself: on a page, as a table, as a figure where there is one.

The rooms below the pages hold numbers and draw nothing. How results are shown is told here once, by
the package itself, and loaded when it is first asked for.
"""

from __future__ import annotations

TYPE_CHECKING = False  # this is loaded with the package, so it loads nothing itself
if TYPE_CHECKING:
    from typing import Callable

    import pandas as pd
    from matplotlib.axes import Axes

    Html = Callable[["Result"], str]
    Tabled = Callable[["Result"], pd.DataFrame]
    Plotted = Callable[["Result", Axes | None], Axes]

__all__ = ["Result", "shown_by"]

_how: tuple[Html, Tabled, Plotted]


def shown_by(html: Html, table: Tabled, plot: Plotted) -> None:
    """Say how every result is shown, from now on."""
    global _how
    _how = html, table, plot


class Result:
    """What a room hands out: it shows itself, in the units of the notebook's reader, else metric."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        return _how[0](self)

    def table(self) -> pd.DataFrame:
        """What it holds, a row each, as it is shown: ``what`` and ``value`` with its unit."""
        return _how[1](self)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw it.

        Parameters
        ----------
        ax : Axes, optional
            Drawn into; a figure of its own where none is given.

        Raises
        ------
        HydrokitError
            A result of which there is no figure.
        """
        return _how[2](self, ax)
