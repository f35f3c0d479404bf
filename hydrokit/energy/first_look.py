"""Many creeks at a glance: each from its head, length and catchment, and a neighbour's record.

A first sieve, not a study. The record is the neighbour's in proportion to the catchments, machine
and pipe are the usual ones for the head, and no costs are known. It says which creeks deserve a
bucket and a level. :func:`hydrokit.energy.sieve.sieved` takes many at once.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.first_look import Creek, first_look
>>> days = pd.date_range("2019-10-01", "2022-09-30")
>>> neighbour = pd.Series(0.4 + 0.3 * np.cos(np.arange(len(days)) / 58.1), days, name="flow_m3s")
>>> found = first_look(Creek("Alder Burn", 46.0, 380.0, catchment_m2=2.2e6, neighbour_catchment_m2=3.8e6), neighbour)
>>> print(f"{1000 * found.design_m3s:.0f} L/s, {found.machine}, {found.pipe}: {found.kwh / 1000:.0f} MWh a year")
225 L/s, turgo, 450 mm PE100 SDR 17: 338 MWh a year
"""

from __future__ import annotations

import pandas as pd

from .creeks import ASSUMED, Creek, Sifted
from .sieve import sieved

__all__ = ["ASSUMED", "Creek", "Sifted", "first_look"]


def first_look(creek: Creek, neighbour: pd.Series) -> Sifted:
    """A quick sizing of one creek.

    Parameters
    ----------
    creek : Creek
    neighbour : pandas.Series
        Daily flow of the neighbour's gauge.

    Returns
    -------
    Sifted
        With a reason where no plant could be sized; it never raises for what a creek is like.
    """
    return sieved([creek], [neighbour], [0])[0]
