"""The limiting component by month, against a count of the days one by one."""

from collections import Counter

import numpy as np
import pytest
import shared


@pytest.fixture(scope="module")
def study():
    return shared.odd("plain")


def test_the_days_counted_one_by_one_give_the_shares(study):
    found = study.limiting_days
    days = study.base_case.water.dropna()
    days = days[days.index.month == 5]
    counted = Counter(
        str(study.plant.limiting_component(np.array([flow]), 5).part[0]) for flow in days.to_numpy()
    )
    for part, share in found.by_month.items():
        assert share[4] == pytest.approx(counted[part] / len(days), abs=1e-12)


def test_shares_add_up(study):
    found = study.limiting_days
    assert sum(found.by_month.values()) == pytest.approx(np.ones(12))
    assert sum(found.share.values()) == pytest.approx(1.0)
    assert list(found.share.values()) == sorted(found.share.values(), reverse=True)


def test_without_a_plant_nothing_limits():
    thin = shared.odd("thin")
    assert (thin.limiting_days is None) == (thin.base_case is None)
    if thin.limiting_days is not None:
        assert not thin.limiting_days.whole_record
        assert set(thin.limiting_days.known_months) == set(thin.base_case.water)
