"""The weather of an invented valley, from one seed.

The valley, its river and both its creeks are invented: a wet oceanic upland with cold
winters. One daily series of rain and air temperature drives every creek of the valley
(creek_model.py), so that their records belong together as those of real neighbours do.

Chosen to look like the place: about 1,350 mm of rain a year at 240 m, most of it from October
to March; January near 0 degC, July near 14 degC; spells of wet and dry that last weeks.
The dry spells in DRY_SPELLS are planted, so that the records hold one very dry year and a
few dry summers whatever the seed does.

The random numbers come from NumPy's legacy generator because its stream is frozen:
the same seed gives the same files in every version.
"""

import numpy as np
import pandas as pd
from creek_model import persistent

FIRST_DAY, LAST_DAY = "1992-10-01", "2025-09-30"  # the first year only fills the stores
ALTITUDE_M = 240.0

# first day, last day, how far the weather leans to the dry side (in its standard deviations)
DRY_SPELLS = (
    ("1995-06-10", "1995-08-31", 0.8),
    ("2003-07-10", "2003-10-05", 0.6),
    ("2006-06-01", "2006-07-25", 0.7),
    ("2013-06-25", "2013-07-31", 0.8),
    ("2018-05-20", "2018-07-31", 0.8),
    ("2021-11-25", "2022-08-31", 0.40),  # the very dry year
    ("2025-06-05", "2025-08-10", 0.6),
)


def weather():
    """Daily rain [mm] and air temperature [degC] at 240 m, 1992-10-01 to 2025-09-30."""
    random = np.random.RandomState(1887)
    days = pd.date_range(FIRST_DAY, LAST_DAY, freq="D")
    season = 2.0 * np.pi * (days.dayofyear.to_numpy() - 15) / 365.25  # 0 in mid-January
    count = len(days)

    slow = persistent(random.standard_normal(count), 30.0)
    middle = persistent(random.standard_normal(count), 5.0)
    fresh = random.standard_normal(count)
    pattern = 0.17 * slow + 0.62 * middle  # wet westerlies > 0 > still air
    for first, last, depth in DRY_SPELLS:
        pattern -= depth * ((days >= first) & (days <= last))
    wetness = pattern + 0.66 * fresh

    threshold = -0.16 - 0.10 * np.cos(season + 0.8)  # rain on more days in winter
    mean_mm = 5.30 + 0.60 * np.cos(season + 1.0)  # and heaviest in late autumn
    burst = random.gamma(1.3, 1.0 / 1.3, count)
    excess = np.maximum(wetness - threshold, 0.0)
    rain = mean_mm * burst * (0.4 + excess) ** 1.2 * (excess > 0)
    rain[rain < 0.1] = 0.0

    winter = 0.5 * (1.0 + np.cos(season))
    own = persistent(random.standard_normal(count), 4.5)
    year_to_year = persistent(random.standard_normal(count), 120.0)
    mean_temperature = 7.1 - 7.0 * np.cos(season - 0.12)
    spread = 1.6 + 1.9 * winter
    mildness = (2.0 * winter - 0.75) * 1.7 * pattern  # wind off the sea: mild winters, cool summers
    temperature = mean_temperature + spread * own + 0.6 * year_to_year + mildness
    return pd.DataFrame({"rain_mm": rain, "temperature_degc": temperature}, index=days)
