"""Five creeks in a table, for the tests of many at once."""

import numpy as np
import pandas as pd
import pytest

from hydrokit.runner import sifted as batch


@pytest.fixture(scope="module")
def neighbour():
    """Three years of a valley's river, in m³/s."""
    days = pd.date_range("2019-10-01", "2022-09-30")
    rng = np.random.default_rng(3)
    flow = (
        0.5
        * (1.1 + np.cos(2 * np.pi * (days.day_of_year - 30) / 365.25))
        * rng.lognormal(0, 0.4, len(days))
    )
    return pd.Series(np.round(flow, 4), days, name="flow_m3s")


@pytest.fixture(scope="module")
def table(tmp_path_factory, neighbour):
    """A table of five creeks and the record it names."""
    tmp_path = tmp_path_factory.mktemp("creeks")
    lines = [
        "# invented",
        "date, flow [m3/s]",
        *(f"{day:%Y-%m-%d}, {flow}" for day, flow in neighbour.items()),
    ]
    (tmp_path / "river.csv").write_text("\n".join(lines), encoding="utf-8")
    path = tmp_path / "creeks.csv"
    path.write_text(
        "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\n"
        "Alder, 46, 380, 30, river.csv, 38, 20, 10\n"
        '"=HYPERLINK(""x"")", 120, 900, 1.0, river.csv, 38, , \n'
        "Beck, 6, 40, 30, river.csv, 38, , 20\n"
        "Dry, 46, 380, 0.000001, river.csv, 38, , \n"
        "Elder, 31, 250, 25, river.csv, 38, 15, \n",
        encoding="utf-8",
    )
    return path


@pytest.fixture(scope="module")
def serial(table):
    """The five, worked out one after the other."""
    return batch.sift(table)
