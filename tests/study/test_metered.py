"""An existing plant with a record: the watts read on it narrow the uncertainty of its year."""

import numpy as np
import small_study

from hydrokit.report.pages.p05 import year
from hydrokit.study.build.running import metered
from hydrokit.study.opening import open_study


def test_watts_read_on_the_plant_narrow_its_year(tmp_path):
    """Independent: with the product known to some 2 %, a mean year cannot be doubted by the 8 % of an unread machine."""
    site = small_study.SITE | {
        "uncertainty": {"draws": 2000, "efficiency": "8 %", "loss": "15 %"},
        "stream": small_study.SITE["stream"] | {"record_uncertainty": "0.1 %"},
        "outage": {"unplanned": "0 %"},
    }
    unread = open_study(small_study.write(tmp_path / "unread", site))
    full = unread.plant.at_si(np.inf)
    one = unread.plant.at_si(np.inf, jets=1)
    weight = 9.80665 * 999.8
    static = float(unread.plant.penstock.static_si())
    readings = [
        {"jets": 0, "pressure": f"{weight * static / 1e5:.3f} bar"},
        *(
            {
                "jets": jets,
                "pressure": f"{weight * float(seen.net_head_m) / 1e5:.3f} bar",
                "watts": f"{float(seen.power_w):.0f} W",
                "spilling": True,
            }
            for jets, seen in ((1, one), (2, full))
        ),
    ]
    read = open_study(small_study.write(tmp_path / "read", site | {"reading": readings}))
    assert (
        metered(unread) is None
        and abs(metered(read).power_w / float(full.power_w) - 1) < 0.03
        and metered(read).jets == 2
    )
    of_record = {
        name: each.energy_uncertainty.years_kwh.sum(axis=2).mean(axis=1)
        for name, each in (("unread", unread), ("read", read))
    }  # what so few years leave open is no matter of the plant
    spread = {name: float(np.std(kwh) / np.mean(kwh)) for name, kwh in of_record.items()}
    assert spread["unread"] > 0.06, spread
    # A reading with all jets open ties head, loss, jets and efficiency at that flow: the year is
    # never surer than the meter, and less sure by the days on which fewer jets run.
    assert metered(read).sd < spread["read"] < 0.5 * spread["unread"], (spread, metered(read))
    assert (
        "read on the plant itself" in year.uncertainty_words(read, read.view()).text
        and "read on the plant itself" not in year.uncertainty_words(unread, unread.view()).text
    )
