"""The changes ticked on a panel, as the keys of a site file that has them made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce
from typing import TYPE_CHECKING, Any

from ..errors import InputError, Mistake, one_line
from ..files import read_toml
from ..plant.parts import FixedJets
from ..sentences import series_text
from ..study.build.clogging import catches
from ..study.variant import apply_changes

if TYPE_CHECKING:
    from ..files import Entries
    from ..study.study import Study

__all__ = ["blocked_keys", "made_keys"]

# Key of an [[upgrade]] -> key of the plant that then holds it, where its value is the same.
_SAME = {
    "capacity": "intake.capacity",
    "clogged": "intake.clogged",
    "diversion_pipe": "diversion.size",
    "diversion_vents": "diversion.vents",
    "efficiency": "turbine.efficiency",
    "cable_size": "cable.size",
    "unplanned": "outage.unplanned",
}
_RESIZED = {"jets", "jet_diameter", "pipe"}
_BESIDE = {"name", "cost", "life", "requires", "months"}


def made_keys(study: Study, names: Sequence[str]) -> Entries:
    """The site file with these changes made: their keys, their cost among the fixed ones, and the
    changes that are left.

    Raises
    ------
    InputError
        A change that no key of the plant holds: water brought in, jets closed by hand.
    """
    file = study.path / "site.toml"
    raw = read_toml(file)
    apply_changes(raw, study.variant, file)
    entries = raw.get("upgrade", [])
    order = [each.name for each in study.changes]
    made = sorted(
        (each for each in entries if each["name"] in names),
        key=lambda each: order.index(each["name"]),
    )
    _refuse(study, made)
    keys: dict[str, Any] = {
        _SAME[key]: value for each in made for key, value in each.items() if key in _SAME
    }
    asked = {key for each in made for key in each}
    if "diversion_vents" in asked:
        keys["diversion.vents"] = [
            *(raw["diversion"]["vents"] if "vents" in raw["diversion"] else ()),
            *(
                vent
                for each in made
                if "diversion_vents" in each
                for vent in each["diversion_vents"]
            ),
        ]
    if "pipe" in asked:
        fittings = sum(each.fittings for each in study.site.penstock.pipe)
        size = next(each["pipe"] for each in reversed(made) if "pipe" in each)
        keys["penstock.pipe"] = [{"size": size, "fittings": fittings}]
    if _RESIZED & asked:
        keys |= _nozzles(study, names)
    if made:
        keys["upgrade"] = [_left(each, names) for each in entries if each not in made] or None
        if study.site.costs.fixed is not None:
            keys["costs.fixed"] = study.site.costs.fixed + sum(
                each.cost for each in study.site.upgrade if each.name in names
            )
    return keys


def _left(entry: dict[str, Any], names: Sequence[str]) -> dict[str, Any]:
    """A change that is not made yet: it no longer asks for those that are."""
    if "requires" not in entry:
        return entry
    return entry | {"requires": [each for each in entry["requires"] if each not in names]}


def _refuse(study: Study, made: Sequence[Mapping[str, object]]) -> None:
    screens = [part.name for part in study.supply if catches(part)]
    mistakes = []
    for each in made:
        foreign = each.keys() - _SAME.keys() - _RESIZED - _BESIDE
        if {"capacity", "clogged"} & each.keys() and screens != ["intake"]:
            foreign |= {"capacity", "clogged"} & each.keys()  # of which screen?
        if "efficiency" in each and study.site.machine:
            foreign |= {"efficiency"}
        if foreign:
            what = (
                f"no one key of the plant holds {series_text(sorted(foreign))}; leave it unticked"
            )
            mistakes.append(Mistake("variant", one_line(each["name"]), what))
    if mistakes:
        raise InputError(mistakes)


def _nozzles(study: Study, names: Sequence[str]) -> dict[str, Any]:
    """The jets of the changed plant, which another pipe leaves as they are."""
    case = study.base_case
    if case is None:
        return {}
    ticked = [each for each in study.changes if each.name in names]
    nozzles = reduce(lambda at, change: change.apply(at), ticked, case).chain.jets
    if not isinstance(nozzles, FixedJets):
        return {}
    return {
        "turbine.jets": nozzles.count,
        "turbine.jet_diameter": [f"{1000 * each:.6g} mm" for each in nozzles.diameters_m],
    }


def blocked_keys(study: Study, share: float) -> Entries:
    """The keys that say that every screen is blocked by a share, all year."""
    told, several = f"{100 * share:.4g} %", len(study.site.part) > 1
    keys = {
        f"part.{number}.clogged" if several else "part.clogged": told
        for number, entry in enumerate(study.site.part, 1)
        if hasattr(type(entry), "clogged")
    }
    intake = any(catches(part) and part.name == "intake" for part in study.supply)
    return keys | ({"intake.clogged": told} if intake else {})
