"""Keys of the site file that can have no effect, because another is lacking or stands beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

from ...errors import Finding, one_line
from ...sentences import series_text
from ...stream.rules import RULE_KINDS

if TYPE_CHECKING:
    from ...site.schema import Site
    from ...site.section import Section

__all__ = ["MOOT", "Moot", "findings"]


@dataclass(frozen=True)
class Moot:
    """Keys of one section that act only where something else stands in the site file.

    Parameters
    ----------
    section : str
    keys : tuple of str
    act : callable
        Whether they act, by the site.
    needs : str
        What the site file must say for that, after "without".
    """

    section: str
    keys: tuple[str, ...]
    _: KW_ONLY
    act: Callable[[Site], bool]
    needs: str


def _beside(section: str, *keys: str) -> Callable[[Site], bool]:
    """That one of these keys of a section is given."""
    return lambda site: any(site[section].given(each) for each in keys)


def _read(site: Site) -> bool:
    """Whether anything was read in the powerhouse."""
    return bool(site.reading) or site.readings.given("file") or site.readings.given("log")


_OF_THE_LINE = (
    "along_slope",
    "roughness",
    "source_level",
    "outlet",
    "outlet_crest",
    "vents",
    "entry",
    "inlet_level",
    "levels",
    "rating",
    "snow",
    "cover",
    "insulation",
)
MOOT = (
    Moot(
        "stream",
        ("salt_mass", "salt_background", "salt_background_after", "salt_tail", "salt_calibration"),
        act=_beside("stream", "salt"),
        needs="salt, the sheet of the conductivity read",
    ),
    Moot(
        "stream",
        ("salt_solution", "salt_sample"),
        act=_beside("stream", "salt_calibration"),
        needs="salt_calibration, the sheet of what was added and read",
    ),
    Moot(
        "stream",
        ("bucket_beside",),
        act=_beside("stream", "bucket"),
        needs="bucket, the sheet of its fills",
    ),
    Moot(
        "stream",
        ("float_section", "float_bed", "float_coefficient"),
        act=_beside("stream", "float"),
        needs="float, the sheet of the runs",
    ),
    Moot(
        "stream",
        ("slope_area_manning", "flood_date"),
        act=_beside("stream", "slope_area"),
        needs="slope_area, the sheet of the flood marks",
    ),
    Moot(
        "stream",
        ("extension", "neighbour_catchment", "neighbour_altitude", "neighbour_rainfall"),
        act=_beside("stream", "neighbour_record"),
        needs="neighbour_record, the neighbour's daily flow",
    ),
    Moot(
        "stream",
        ("ice_stages", "suspect_stages", "shift", "gap", "leave_out"),
        act=_beside("stream", "stage"),
        needs="stage, the sheet of the logger",
    ),
    Moot(
        "stream",
        ("regional_skew_error",),
        act=_beside("stream", "regional_skew"),
        needs="regional_skew",
    ),
    Moot(
        "intake",
        ("weir_crest", "banks", "flood", "notch_depth", "notch_width"),
        act=_beside("intake", "weir_length"),
        needs="weir_length, the length of the weir's crest",
    ),
    Moot(
        "intake",
        ("notch_width",),
        act=_beside("intake", "notch_depth"),
        needs="notch_depth, the height of the notch",
    ),
    Moot(
        "diversion",
        _OF_THE_LINE,
        act=lambda site: (
            site.diversion.given("profile")
            and (site.diversion.given("size") or site.diversion.given("inside_diameter"))
        ),
        needs="a profile of the line, and its size or inside_diameter",
    ),
    Moot(
        "diversion",
        ("outlet_crest",),
        act=lambda site: site.diversion.outlet in ("upturned", "submerged"),
        needs='an outlet that is "upturned" or "submerged"',
    ),
    Moot(
        "penstock",
        ("along_slope", "vents"),
        act=_beside("penstock", "profile"),
        needs="a profile of the penstock",
    ),
    Moot("readings", ("change",), act=_read, needs="readings of the plant, or a log"),
    Moot(
        "readings",
        ("metered_at",),
        act=lambda site: _read(site) or site.generator.given("water_to_wire"),
        needs="readings of the plant, a log, or [generator] water_to_wire",
    ),
    Moot(
        "outage",
        ("planned_months",),
        act=lambda site: site.outage.planned_days > 0,
        needs="planned_days",
    ),
    Moot(
        "ballast",
        ("tank",),
        act=lambda site: site.ballast.heats == "water",
        needs='heats = "water"',
    ),
    Moot(
        "electrical",
        ("fault_level",),
        act=lambda site: (
            site.electrical.supply == "grid"
            or (site.electrical.supply is None and site.costs.export > 0)
        ),
        needs='supply = "grid"',
    ),
    Moot(
        "costs",
        ("loan_years", "loan_rate", "loan_kind", "cover_p50", "cover_p90", "cover_p99"),
        act=lambda site: site.costs.loan_share > 0 or site.costs.loan_years is None,
        needs="a loan_share above zero",
    ),
)


def findings(site: Site) -> Iterator[Finding]:
    """One note for all keys of a section that lack the same."""
    told: set[tuple[str, str]] = set()
    for each in MOOT:
        idle = [
            key
            for key in each.keys
            if _there(site[each.section], key) and (each.section, key) not in told
        ]
        if idle and not each.act(site):
            told |= {(each.section, key) for key in idle}
            have = "has" if len(idle) == 1 else "have"
            yield Finding(
                "note",
                each.section,
                f"[{each.section}] {series_text(idle)} {have} no effect without {each.needs}",
            )
    yield from _rules(site)
    yield from _circuits(site)


def _there(section: Section, key: str) -> bool:
    """Whether a key, or a list of entries, is given."""
    return bool(getattr(section, key)) if key in type(section).lists else section.given(key)


def _rules(site: Site) -> Iterator[Finding]:
    """What a rule of residual flow does not go by."""
    of_rules = {kind.key for kind in RULE_KINDS.values() if kind.key}
    for number, rule in enumerate(site.rights.residual, 1):
        own = RULE_KINDS[rule.rule].key
        idle = [key for key in rule if key in of_rules and key != own]
        if idle:
            has = "has" if len(idle) == 1 else "have"
            goes = f"it goes by {own}" if own else "it needs no other key"
            yield Finding(
                "note",
                "rights",
                f"[[rights.residual]] {number}: {series_text(idle)} {has} no effect beside the "
                f'rule "{rule.rule}": {goes}',
            )


def _circuits(site: Site) -> Iterator[Finding]:
    """Keys of a motor where none is, and of a cable that has no length."""
    for number, circuit in enumerate(site.circuit, 1):
        where = f"[[circuit]] {number} ({one_line(circuit.name)})"
        for keys, acts, needs in (
            (("locked_rotor", "starter"), circuit.kind == "motor", 'kind = "motor"'),
            (("drop",), circuit.length is not None, "length"),
        ):
            idle = [key for key in keys if circuit.given(key)]
            if idle and not acts:
                has = "has" if len(idle) == 1 else "have"
                yield Finding(
                    "note",
                    "circuits",
                    f"{where}: {series_text(idle)} {has} no effect without {needs}",
                )
