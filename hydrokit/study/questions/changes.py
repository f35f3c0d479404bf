"""Questions on which change is worth most."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study

_STEPS = 24  # that are asked for by number


def _evidence(study: Study) -> tuple[Evidence, str]:
    if study.base_case is not None and study.record is None and study.logged_months is not None:
        return (
            Evidence.MEASURED_ON_THE_PLANT,
            "the months of the plant's own log, moved by what the change does in the model",
        )
    return (
        Evidence.CALCULATED,
        "the plant with and without the change, on the days of the record"
        if study.record is not None
        else "the plant with and without the change, in the months whose flow is known",
    )


def first(study: Study) -> Answer | None:
    """The change to make first: the first step that pays, or that helps where no value of a kWh is given."""
    found = study.upgrades
    step = (
        None
        if found is None
        else next(
            (each for each in found.steps if each.pays is not False and each.gain[found.aim] > 0),
            None,
        )
    )
    return (
        None
        if step is None
        else Answer(
            "upgrade.first",
            " with ".join(step.names),
            "text",
            evidence=_evidence(study)[0],
            source=_evidence(study)[1],
        )
    )


def _of_step(number: int, name: str) -> Callable[[Study], Answer | None]:
    def ask(study: Study) -> Answer | None:
        found = study.upgrades
        if found is None or len(found.steps) < number:
            return None
        step, key, (evidence, source) = (
            found.steps[number - 1],
            f"upgrade.{number}.{name}",
            _evidence(study),
        )
        if name == "benefit":
            return (
                Answer(
                    key, float(step.net_money), "money", digits=2, evidence=evidence, source=source
                )
                if np.isfinite(step.net_money)
                else None
            )
        return Answer(
            key,
            float(step.gain[found.aim]),
            "power" if found.aim.endswith("_w") else "kWh",
            digits=3,
            evidence=evidence,
            source=source,
        )

    return ask


def of_change(study: Study, key: str) -> Answer | None:
    """One of the changes listed, alone, whether it pays or not: ``change.1.capacity`` is its size,
    ``change.1.gain`` what it would bring, ``change.1.benefit`` its net annual benefit."""
    _, number, name = (key.split(".") + ["", ""])[:3]
    if not number.isdigit() or not 0 < int(number) <= len(study.changes):
        return None
    change, (evidence, source) = study.changes[int(number) - 1], _evidence(study)
    for size, _, value, kind in change.sizes:
        if size == name:
            return Answer(
                key,
                value,
                kind,
                digits=3,
                evidence=Evidence.ASSUMED,
                source="the change as it is listed",
            )
    if study.upgrades is None or name not in ("gain", "benefit"):
        return None
    step, aim = study.upgrades.made([change.name]), study.upgrades.aim
    value = float(step.gain[aim] if name == "gain" else step.net_money)
    kind = "money" if name == "benefit" else "power" if aim.endswith("_w") else "kWh"
    if not np.isfinite(value):
        return None
    digits = 2 if name == "benefit" else 3
    return Answer(key, value, kind, digits=digits, evidence=evidence, source=source)


FAMILIES = {"change": of_change}
QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "upgrade.first": first,
    **{
        f"upgrade.{number}.{name}": _of_step(number, name)
        for number in range(1, _STEPS + 1)
        for name in ("benefit", "gain")
    },
}
