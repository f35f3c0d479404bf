"""Keys of the site file: the creek, a weir in it, and the rights to its water."""

from datetime import date
from typing import Literal

from ..stream.rules import RULE_KINDS
from . import keys as key
from .field_sheets import FieldSheets
from .section import Section
from .values import Measured


class Weir(Section, page="01_stream_gauging"):
    """[weir]: a weir plate in the creek, there or planned."""

    kind: Literal["v-notch", "rectangular", "cipolletti", "broad-crested"] | None = key.choice(
        "shape of the weir plate where the heads of the sheet were read"
    )
    angle: float | None = key.number(
        "rad",
        "angle of a V-notch",
        '"90 deg"',
        within="10 deg to 120 deg",
        usual=("20 deg to 100 deg", "plates are tested between these angles"),
    )
    width: float | None = key.number(
        "m",
        "length of the crest of any other plate",
        '"0.4 m"',
        within="1 cm to 100 m",
        usual=("5 cm to 20 m", "the plate stands in a creek"),
    )
    channel_width: float | None = key.number(
        "m",
        "width of the pool upstream of the plate, or where a plate could stand",
        '"1.5 m"',
        within="1 cm to 1000 m",
        usual=("20 cm to 50 m", "it is the width of a creek"),
    )
    crest_height: float | None = key.number(
        "m",
        "height of the crest, or of the point of the notch, above the floor of the pool",
        '"0.3 m"',
        within="1 mm to 100 m",
        usual=("2 cm to 5 m", "a plate is some decimetres high"),
    )
    notch_depth: float | None = key.number(
        "m",
        "depth of the notch from its point to the top of the plate",
        '"0.25 m"',
        within="1 mm to 100 m",
        usual=("3 cm to 2 m", "a notch is some decimetres deep"),
    )
    head_uncertainty: float = key.number(
        "m",
        "standard deviation of one reading of the head",
        '"2 mm"',
        default='"2 mm"',
        within="0.01 mm to 1 m",
        usual=("0.1 mm to 20 mm", "a hook gauge reads to 0.2 mm, a staff to 5 mm"),
    )
    available_rise: float | None = key.number(
        "m",
        "how far the pool may stand above the water below the weir",
        '"0.5 m"',
        within="1 cm to 100 m",
        usual=("2 cm to 5 m", "the banks of a creek allow no more"),
    )
    lowest: float | None = key.number(
        "m^3/s",
        "smallest flow a new weir plate must measure; left out, it is taken from the record or the gaugings",
        '"2 L/s"',
        within="0.01 L/s to 10000 m^3/s",
        usual=(
            "0.02 L/s to 5 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    highest: float | None = key.number(
        "m^3/s",
        "largest flow a new weir plate must measure",
        '"40 L/s"',
        within="0.01 L/s to 10000 m^3/s",
        usual=(
            "0.1 L/s to 50 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )


class Reach(Section, page="01_stream_gauging"):
    """[[stream.reach]]: flow gauged at both ends of a ditch, pipe or reach."""

    name: str = key.text(
        "the ditch, pipe or reach that may leak", '"ditch to the pond"', required=True
    )
    above: Measured = key.measured(
        "m^3/s",
        "flow gauged at its upper end",
        '"8.2 L/s ± 0.3 L/s"',
        required=True,
        within="0.01 L/s to 10000 m^3/s",
        usual=(
            "0.02 L/s to 50 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    below: Measured = key.measured(
        "m^3/s",
        "flow gauged at its lower end, on the same steady day",
        '"7.4 L/s ± 0.3 L/s"',
        required=True,
        within="0 L/s to 10000 m^3/s",
        usual=(
            "0 L/s to 50 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    shared: float = key.number(
        "share",
        "part of both uncertainties that is one and the same error, such as the mark of one bucket",
        '"2 %"',
        default='"0 %"',
    )


class StageShift(Section, page="01_stream_gauging"):
    """[[stream.shift]]: the logger reads differently from the staff gauge from some time on."""

    from_: date = key.when(
        "time of the first stage after the sensor moved or was set", "2026-03-14", required=True
    )
    by: float = key.number(
        "m",
        "amount to add to every stage from then on; a later shift is added to it",
        '"-85 mm"',
        required=True,
        within="-100 m to 100 m",
        positive=False,
        usual=("-2 m to 2 m", "a sensor that moved is off by centimetres or decimetres"),
    )
    why: str = key.text("what happened", '"bracket bent by a log"', required=True)


class StageGap(Section, page="01_stream_gauging"):
    """[[stream.gap]]: why a stretch of the logger is missing."""

    from_: date = key.when("first day or time without stages", "2026-05-11", required=True)
    to: date = key.when("last day or time without stages", "2026-05-16", required=True)
    why: str = key.text("what happened", '"battery"', required=True)


class StageLeftOut(Section, page="01_stream_gauging"):
    """[[stream.leave_out]]: stages that are wrong."""

    from_: date = key.when("first day or time to leave out", "2026-06-02", required=True)
    to: date = key.when("last day or time to leave out", "2026-06-04", required=True)
    why: str = key.text("what happened", '"tube silted up"', required=True)


class Stream(FieldSheets, page="01_stream_gauging"):
    """[stream]: the creek as it was measured.

    The field sheets of a gauging stand in :mod:`hydrokit.site.field_sheets`.
    """

    stage: str | None = key.file(
        "CSV: date, stage [m] of daily means, or time, stage [m] as a logger writes it; ice yes or no",
        '"stage.csv"',
    )
    ice_stages: Literal["excluded", "corrected"] = key.choice(
        "whether stages under ice are left out, or lowered by what gaugings under ice show",
        default='"excluded"',
    )
    suspect_stages: Literal["excluded", "used"] = key.choice(
        "whether stages that no creek makes, such as 4.12 m for one hour, are left out or used",
        default='"excluded"',
    )
    record: str | None = key.file("CSV: date, flow [L/s], daily means", '"flow.csv"')
    provenance: Literal["measured", "transferred", "extended", "modelled", "national grid"] = (
        key.choice(
            "where the record comes from: measured here, made from another creek's, extended "
            "before it came here, from a model of rain and runoff, or read from a national "
            "grid",
            '"transferred"',
            default='"measured"',
        )
    )
    measured_by: str | None = key.text(
        "who measured the creek, or made its record", '"the farm, and the valley\'s gauge service"'
    )
    record_uncertainty: float | None = key.number(
        "share",
        "standard deviation of the record's flows where no rating gives it",
        '"12 %"',
        within="0 % to 80 %",
        usual=("0 % to 40 %", "a record gauged at all is known better"),
    )
    neighbour_record: str | None = key.file(
        "CSV of a long daily record nearby, to extend a short one",
        '"../../data/long-gauge.csv"',
        shared_with_neighbour=True,
    )
    neighbour_catchment: float | None = key.number(
        "m^2",
        "area that drains to the neighbour's gauge",
        '"38 km^2"',
        shared_with_neighbour=True,
        usual=(
            "0.01 km^2 to 50000 km^2",
            "the neighbour is a creek or a river of the same country",
        ),
    )
    neighbour_altitude: float | None = key.number(
        "m",
        "height of the neighbour's gauge above sea level",
        '"180 m"',
        within="-430 m to 6000 m",
        positive=False,
        shared_with_neighbour=True,
    )
    neighbour_rainfall: float | None = key.number(
        "m",
        "rain and snow of a mean year over the neighbour's catchment, as depth of water",
        '"1250 mm"',
        usual=("100 mm to 8000 mm", "a year brings some hundred to a few thousand millimetres"),
        shared_with_neighbour=True,
    )
    extension: Literal["move1", "area", "duration"] = key.choice(
        "how the short record is extended", default='"move1"', shared_with_neighbour=True
    )
    temperature: str | None = key.file(
        "CSV: date, temperature [degC], daily means of the air; snow [cm] on the ground where it was read",
        '"temperature.csv"',
    )
    cease_to_flow: float | None = key.number(
        "m",
        "stage at which the creek would stop flowing, surveyed",
        '"0.05 m"',
        within="-1000 m to 9000 m",
        positive=False,
    )
    control: Literal["v-notch", "rectangular", "riffle", "channel"] | None = key.choice(
        "what holds the water back below the gauge; it shapes a rating of fewer than five stages",
        '"riffle"',
    )
    ice_months: tuple[int, ...] | None = key.months(
        "months in which ice lifts the stage, where no sheet has a column ice", "[1, 2]"
    )
    pieces: int | None = key.number(
        "count",
        "number of curves in the rating; left out, as many as the gaugings support",
        "2",
        within="1 to 2",
        whole=True,
    )
    fill_gaps: int | None = key.number(
        "count",
        "longest gap, in days, that may be filled",
        "5",
        within="0 to 366",
        whole=True,
        usual=("0 to 60", "over a longer gap the creek is not known"),
    )
    flood_date: date | None = key.when(
        "day of the flood that left the flood marks; with the record's mean of that day it "
        "gives the peak factor",
        "2023-11-04",
    )
    width: float | None = key.number(
        "m",
        "usual width of the water where it is gauged",
        '"1.8 m"',
        within="1 cm to 1000 m",
        usual=("10 cm to 100 m", "a creek is some metres wide"),
    )
    depth: float | None = key.number(
        "m",
        "usual depth of the water where it is gauged",
        '"0.2 m"',
        within="1 mm to 100 m",
        usual=("1 cm to 5 m", "a creek is some decimetres deep"),
    )
    slope: float | None = key.number(
        "ratio",
        "slope of the creek where it is gauged: fall over length",
        '"3 %"',
        within="0.001 % to 100 %",
        usual=("0.05 % to 50 %", "creeks fall some per cent"),
    )
    regional_skew: float | None = key.number(
        "count",
        "skew of yearly floods in the region, to be weighed with the creek's own",
        "0.1",
        within="-3 to 3",
        positive=False,
        shared_with_neighbour=True,
        usual=("-1.5 to 1.5", "regions have skews from -1 to 1"),
    )
    regional_skew_error: float | None = key.number(
        "count",
        "mean square error of the regional skew",
        "0.302",
        within="0.001 to 10",
        shared_with_neighbour=True,
        usual=("0.01 to 1", "regional studies give 0.05 to 0.6"),
    )
    lowest_known_flow: float | None = key.number(
        "m^3/s",
        "smallest flow anyone has seen here",
        '"5 gpm"',
        usual=(
            "0 L/s to 3 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    reach: tuple[Reach, ...] = ()
    shift: tuple[StageShift, ...] = ()
    gap: tuple[StageGap, ...] = ()
    leave_out: tuple[StageLeftOut, ...] = ()


def _rules_with(name: str) -> str:
    """Which rules of residual flow go by a key."""
    return "needed by the rule " + " or ".join(
        rule for rule, kind in RULE_KINDS.items() if kind.key == name
    )


class Residual(Section, page="02_flow_duration"):
    """[[rights.residual]]: a rule of residual flow.

    The rules themselves stand in :mod:`hydrokit.stream.rules`.
    """

    rule: str = key.choice(
        "rule that sets the residual flow: "
        + "; ".join(f"{rule}, {kind.meaning}" for rule, kind in RULE_KINDS.items()),
        '"fixed"',
        choices=tuple(RULE_KINDS),
        required=True,
    )
    flow: float | None = key.number(
        "m^3/s",
        _rules_with("flow"),
        '"4 L/s"',
        usual=(
            "0 L/s to 20 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    share: float | None = key.number(
        "share",
        _rules_with("share"),
        '"10 %"',
        usual=("1 % to 80 %", "authorities ask for some to some tens of per cent"),
    )
    exceedance: float | None = key.number(
        "exceedance",
        _rules_with("exceedance"),
        '"95 %"',
        usual=("50 % to 99.9 %", "a residual flow is a low flow, exceeded on most days"),
    )
    class_: str | None = key.text(_rules_with("class"), '"good"')
    months: tuple[int, ...] | None = key.months(
        "months in which the rule holds; left out, all", "[5, 6, 7, 8]"
    )


class Rights(Section, page="02_flow_duration"):
    """[rights]: what may be taken."""

    licence: tuple[float, ...] | None = key.monthly(
        "m^3/s",
        "largest flow that the licence lets you take",
        '"45 L/s"',
        usual=(
            "0.01 L/s to 50 m^3/s",
            "a licence of zero allows no abstraction, and no creek here has more than some tens of m³/s",
        ),
    )
    licence_volume: float | None = key.number(
        "m^3",
        "largest volume that the licence lets you take in a year",
        '"800000 m^3"',
        usual=("100 m^3 to 1500000000 m^3", "10 L/s all year are 315,000 m³"),
    )
    ramp: float | None = key.number(
        "m^3/s/day",
        "largest rise of the flow taken from one day to the next; its fall is not limited",
        '"10 L/s/day"',
        usual=("0.05 L/s/day to 50000 L/s/day", "a ramp that binds is a part of the creek's flow"),
    )
    residual: tuple[Residual, ...] = ()
