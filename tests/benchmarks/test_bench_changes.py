"""Bar: 200 changes put in order in 60 s on two cores, growing by less than the number of changes to the power 1.2."""

import math
from time import perf_counter

import many_changes
import pytest
import small_study


@pytest.fixture(scope="module")
def timed(tmp_path_factory):
    def seconds(count):
        folder = tmp_path_factory.mktemp(f"changes{count}")
        study = small_study.changed(
            folder / "a",
            upgrade=many_changes.changes(count),
            outage={"unplanned": "6 %"},
            intake={"capacity": "14 L/s", "clogged": "20 %"},
        )
        assert study.base_case is not None and len(study.changes) == count
        start = perf_counter()
        found = study.upgrades
        return perf_counter() - start, found.evaluations

    return seconds


def test_two_hundred_changes(benchmark, timed):
    few, cases = timed(50)
    many, all_cases = benchmark.pedantic(timed, args=(200,), rounds=1)
    power = math.log(many / few) / math.log(4)
    print(
        f"\n200 changes in {many:.1f} s (bar 60 s) and {all_cases} cases; 50 in {few:.1f} s and {cases}: growth with the power {power:.2f} (bar 1.2)"
    )
