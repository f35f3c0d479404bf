"""Nine control panels, one for each notebook: turn a knob, see what it does.

Each gives a :class:`~.knobs.Panel`; in a run of the notebooks, where nobody turns knobs, its picture
as the study stands; and the usual sentence where the study lacks what it needs.
"""

from .explore_gauging import panel_gauging
from .explore_money import panel_money
from .explore_plant import panel_changes, panel_gauge, panel_size
from .explore_use import panel_use
from .explore_water import panel_rights, panel_way, panel_year

__all__ = [
    "panel_changes",
    "panel_gauge",
    "panel_gauging",
    "panel_money",
    "panel_rights",
    "panel_size",
    "panel_use",
    "panel_way",
    "panel_year",
]
