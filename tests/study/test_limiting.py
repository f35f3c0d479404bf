"""The limiting component by month, against a count of the days one by one."""

from collections import Counter

import numpy as np
import odd_studies
import pytest
import shared

from hydrokit.report.pages.p08 import upgrades as page
from hydrokit.study.build.ladder import limiting


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


@pytest.fixture(scope="module")
def licensed(tmp_path_factory):
    """Jets of 15.9 L/s, a rack of 9.9 L/s in October, and a licence of 10 L/s."""
    return odd_studies.opened(
        tmp_path_factory.mktemp("licensed"), "screens and leaves", rights={"licence": "10 L/s"}
    )


def test_a_licence_limits_by_its_own_name_on_every_page(licensed):
    """By the record alone: on the days that leave as much as the licence, it is not the creek that limits."""
    free = np.maximum(licensed.record.to_numpy() - 0.003, 0.0)
    month = np.asarray(licensed.record.index.month)
    inside = ~np.isin(month, (10, 11))  # when leaves hold back some of it
    by_licence = float(np.mean(free[month == 1] >= 0.010))
    assert by_licence > 0.5 and np.any(free[inside] < 0.010)
    assert licensed.limiting_days.by_month["licence"][0] == pytest.approx(by_licence)
    assert "then by the licence (" in page.headline(licensed, licensed.view()).text


@pytest.mark.parametrize("month", range(1, 13))
def test_the_month_is_limited_by_what_passes_least(licensed, month):
    """What lets least reach the jets limits, and what lets the next least limits next: the licence before the jets."""
    creek = float(licensed.monthly_flow.usable_m3s[month - 1])
    reach = {"licence": 0.010, "jets": float(licensed.full_flow_m3s)}
    reach |= {name: float(each) for name, each in licensed.plant.reaching_si(month)[1].items()}
    if creek < 0.010 * (1 - 1e-9):
        reach["creek"] = creek
    first, second = sorted(reach, key=reach.get)[:2]
    found = limiting(licensed, month)
    assert (found.part, found.next_part) == (first, second)
    assert found.flow_m3s == pytest.approx(min(reach.values()))


def test_without_a_record_each_month_has_the_part_that_limits_it_on_the_page_of_the_water_way():
    """Months of which only the jets tell included: it is not the creek that is known to limit them."""
    study = shared.demo("saltfern-creek")
    found = study.limiting_days
    assert study.monthly_flow.at_least.any()
    for month in found.known_months:
        parts = [part for part, share in found.by_month.items() if share[month - 1]]
        assert parts == [study.answer(f"limiting.month.{month}").value]


def test_a_plant_that_takes_more_than_it_may_is_told(licensed):
    """By hand: two jets of 20 mm take 15.9 L/s, the licence lets 10 L/s be taken."""
    (told,) = [each for each in licensed.findings() if "everything open" in each.message]
    assert told.level == "caution" and told.where == "rights"
    assert "takes 15.9 L/s" in told.message and "lets 10 L/s be taken" in told.message
    plain = shared.odd("plain")  # 20 L/s may be taken
    assert not [each for each in plain.findings() if "everything open" in each.message]
