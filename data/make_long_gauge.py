"""Write long-gauge.csv: 32 years of daily flow of the valley's river, all invented.

A river gauge of about 38 km2, some kilometres below the farms of the studies alder-burn and
hazel-beck, under the same weather (valley_weather.py). It is the long record a short one is
compared with. Being larger and higher it holds snow longer, spreads storms over two days
and stands better in a drought than its small tributaries: near to them, never a copy.
32 years, because that is long enough to hold several dry summers and one very dry year.

Run `python make_long_gauge.py` to write it again, the same to the byte.
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from creek_model import Catchment, creek_flow  # noqa: E402
from invented_csv import write_csv  # noqa: E402
from valley_weather import ALTITUDE_M, weather  # noqa: E402

RIVER = Catchment(
    area_km2=38.0,
    bands=((260, 0.2), (360, 0.3), (460, 0.3), (570, 0.2)),
    rain_factor=0.97,
    rain_seed=3801,
    shower_scatter=0.05,
    soil_mm=75.0,
    quick_share=0.34,
    seepage_mm=9.0,
    quick_days=1.3,
    slow_days=190.0,
    channel_days=0.6,
)


def main(folder=HERE):
    flow = creek_flow(weather(), RIVER, ALTITUDE_M).loc["1993-10-01":]
    write_csv(
        Path(folder) / "long-gauge.csv",
        [
            "Invented: mean daily flow of a valley's river, catchment 38 km2. Written by make_long_gauge.py."
        ],
        {"date": flow.index, "flow [m3/s]": flow},
        significant=3,
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
