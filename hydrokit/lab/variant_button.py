"""What the knobs of a panel stand at, written as a study of its own."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError, Mistake
from ..files import shown_path
from ..quantities import Q_
from ..study.variant import save_variant, told

if TYPE_CHECKING:
    import numpy as np

    from ..files import Entries
    from ..study.study import Study

__all__ = ["flow_written", "free_folder", "residual_rules", "variant_box", "written"]

_BUTTON = "Write these values as a variant"


def free_folder(path: Path) -> Path:
    """A folder beside a study that is not there yet: ``alder-burn-variant``, ``alder-burn-variant-2``."""
    first = path.with_name(f"{path.name}-variant")
    number = 1
    while (found := first if number == 1 else first.with_name(f"{first.name}-{number}")).exists():
        number += 1
    return found


def _beside(path: Path, name: str) -> Path:
    """The folder of that name beside a study.

    Raises
    ------
    InputError
        It is no name of a folder.
    """
    if Path(name).name != name or name in ("", ".", ".."):
        raise InputError(
            Mistake(
                "new folder",
                "",
                (
                    f"got {name!r}; write the name of a folder that is not there yet, such as "
                    f"{free_folder(path).name!r}"
                ),
            )
        )
    return path.with_name(name)


def written(study: Study, changes: Mapping[str, object], folder: str | Path) -> Path:
    """The study with these keys changed, saved as a study of its own; it is opened first, so that
    no mistake is saved.

    Raises
    ------
    InputError
        A value that the site file cannot hold, or a folder that is there.
    """
    return save_variant(study.changed(changes), folder)


def flow_written(flow_m3s: float) -> str:
    """A flow as a site file holds it."""
    return f"{Q_(float(flow_m3s), 'm^3/s').to('L/s'):.6g~P}"


def residual_rules(flows_m3s: Sequence[float] | np.ndarray) -> list[Entries]:
    """What stays, January first, as the entries of ``[[rights.residual]]``: a flow and its months."""
    months: dict[float, list[int]] = {}
    for month, flow in enumerate(flows_m3s, 1):
        months.setdefault(float(flow), []).append(month)
    return [
        {"rule": "fixed", "flow": flow_written(flow)} | ({"months": of} if len(of) < 12 else {})
        for flow, of in months.items()
    ]


def variant_box(study: Study, changes: Callable[[], Mapping[str, object]]) -> Any:
    """A button, the folder it writes to, and what came of it."""
    import ipywidgets

    button = ipywidgets.Button(description=_BUTTON, layout={"width": "auto"})
    folder = ipywidgets.Text(
        value=free_folder(study.path).name,
        description="new folder beside this study",
        style={"description_width": "initial"},
        layout={"width": "32em", "max_width": "100%"},
    )
    said = ipywidgets.HTML()

    def press(_: Any) -> None:
        try:
            changed = changes()
            if not changed:
                said.value = "Turn a knob first: all stand as the site file has them."
                return
            made = written(study, changed, _beside(study.path, folder.value))
        except InputError as refused:
            said.value = html.escape(str(refused))
            return
        said.value = (
            f"Written: {html.escape(told(changed))}. To see its pages: "
            f"<code>hydrokit run {html.escape(shown_path(made))}</code>"
        )
        folder.value = free_folder(study.path).name

    button.on_click(press)
    return ipywidgets.VBox(
        [ipywidgets.HBox([button, folder], layout={"flex_flow": "row wrap"}), said]
    )
