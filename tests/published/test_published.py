"""Every published check, one test each. The tables stand beside this file."""

from pathlib import Path

import pytest

from hydrokit.published import read_checks, run_check

CHECKS = read_checks(Path(__file__).parent)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.topic}-{check.id}")
def test_published(check):
    outcome = run_check(check)
    assert outcome.passed, (
        f"{check.call} gave {outcome.found}, expected {check.expected} ({outcome.deviation:.3g} off): {check.source}"
    )


def test_memory_is_never_the_only_evidence():
    """A value from memory counts only beside another kind of evidence for the same function."""
    firm = {
        check.call for check in CHECKS if check.kind != "from memory" and check.how != "from memory"
    }
    alone = {check.call for check in CHECKS} - firm
    assert not alone, f"only values from memory stand behind {sorted(alone)}"
