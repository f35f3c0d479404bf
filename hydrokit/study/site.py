"""From the site file to things that compute: ratings, rules, pipes, machines.

The only place that knows which kind of part is built by what. A new part is one dataclass in its
room and one row here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import read_csv, shown_path
from . import machines_site
from .named_files import maker_efficiency
from .sheets import Folder
from .uncertain_site import uncertainties  # noqa: F401  asked for here, as all builders are
from .values import Measured

MONTH_DAYS = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
UNGAUGED_SD = 0.2  # of a record nobody held a gauging against; common practice


def extension(folder: Folder, site: dict, own: Any) -> Any:
    """The own record extended from the neighbour's, or None."""
    stream = site["stream"]
    if own is None or "neighbour_record" not in stream:
        return None
    from ..stream.extend import area_ratio, extend_record
    from ..stream.record import read_record

    neighbour = read_record(folder.file(stream["neighbour_record"], "[stream] neighbour_record"))
    method, ratio = stream.get("extension", "move1"), None
    if method == "area":
        if "catchment" not in site["site"] or "neighbour_catchment" not in stream:
            raise folder.wrong(
                "[stream] extension",
                'by area needs [site] catchment and [stream] neighbour_catchment, such as "38 km^2"',
            )
        ratio = float(area_ratio.si(site["site"]["catchment"], stream["neighbour_catchment"]))
    return folder.sentence(
        "[stream] neighbour_record", lambda: extend_record(own, neighbour, method, ratio)
    )


def record_uncertainty(study: Any) -> float:
    """Relative standard deviation of the record as a whole: one error for all its days."""
    stream = study.site["stream"]
    if "record_uncertainty" in stream:
        return stream["record_uncertainty"]
    if study.rating is not None and study.record is not None:
        from ..stream.rating_curve import level_uncertainty

        return level_uncertainty(study.rating, study.record)
    return UNGAUGED_SD if study.gaugings is None else float(np.median(study.gaugings.uncertainty))


def rights(folder: Folder, site: dict, record: Any) -> Any:
    """Rules and licence of the site, resolved on the record where there is one."""
    from ..stream import rights as room

    rules = [
        folder.sentence(
            f"[[rights.residual]] {number}",
            lambda entry=entry: _rule(room, entry, site["site"].get("winter", (12, 1, 2))),
        )
        for number, entry in enumerate(site["rights.residual"], 1)
    ]
    section = site["rights"]
    rates = section.get("licence")
    licence = None
    if section:
        licence = folder.sentence(
            "[rights]",
            lambda: room.licence.si(
                None if rates is None else np.array(rates),
                section.get("licence_volume"),
                section.get("ramp"),
            ),
        )
    waiting = [rule for rule in rules if rule.needs_record] if record is None else []
    resolved = folder.sentence(
        "[rights]",
        lambda: room.resolve_rights(
            [rule for rule in rules if rule not in waiting], licence, record
        ),
    )
    if record is None and not rules:
        # said once, as the bracket of the year has it
        others = tuple(
            each
            for each in resolved.findings
            if not each.message.startswith("no residual flow is given")
        )
        resolved = replace(
            resolved,
            findings=(
                Finding(
                    "caution",
                    "rights",
                    f"no residual flow is given: {HALF_AT_WORST}; ask what must stay",
                ),
                *others,
            ),
        )
    if not waiting:
        return resolved
    told = tuple(
        Finding(
            "caution",
            "rights",
            f"'{rule.text}' is stated in the creek's own statistics and must wait for a daily record; nothing is kept for it yet",
        )
        for rule in waiting
    )
    return replace(resolved, findings=(*told, *resolved.findings))


HALF_AT_WORST = "without a daily record the high end of a year counts all water as usable, which the law hardly allows, and its low end half of it"


_NEEDED = {
    "fixed": "flow",
    "hands-off": "flow",
    "share of mean": "share",
    "share of flow": "share",
    "percentile": "exceedance",
    "tennant": "class",
}


def _rule(room: Any, entry: dict, winter: tuple[int, ...]) -> Any:
    kind, months = entry["rule"], entry.get("months")
    needed = _NEEDED.get(kind)
    if needed and needed not in entry:
        raise HydrokitError(f"the rule '{kind}' needs '{needed}'")
    if kind == "fixed":
        return room.fixed.si(entry["flow"], months)
    if kind == "hands-off":
        return room.hands_off.si(entry["flow"], months)
    if kind == "share of mean":
        return room.share_of_mean.si(entry["share"], months)
    if kind == "share of flow":
        return room.share_of_flow.si(entry["share"], months)
    if kind == "percentile":
        return room.percentile.si(entry["exceedance"], months)
    if kind == "tennant":  # its lean half year is the other one where winter falls in July
        rule = room.tennant(entry["class"], 4 if 7 in winter and 1 not in winter else 10)
    else:
        rule = room.swiss_article_31()
    return (
        rule
        if months is None
        else replace(rule, months=months, text=f"{rule.text}, in {room.told_months(months)}")
    )


_LENGTHS_WITHIN = 0.2  # a paced pipe may be that far from its surveyed line


# --- works ----------------------------------------------------------------------------------


def pipes(folder: Folder, site: dict, whole_length_m: float | None) -> tuple[Any, ...]:
    """The pipes of the penstock, from top to bottom; one without length takes what is left."""
    entries = site["penstock.pipe"]
    given = sum(entry.get("length", 0.0) for entry in entries)
    open_ended = [entry for entry in entries if "length" not in entry]
    if len(open_ended) > 1:
        raise folder.wrong(
            "[[penstock.pipe]]",
            "only one pipe may stand without a length: it takes what the others leave",
        )
    rest = None if whole_length_m is None else whole_length_m - given
    if open_ended and (rest is None or rest <= 0):
        raise folder.wrong(
            "[[penstock.pipe]]",
            'a pipe has no length and none is left for it; give length = "380 m" or a profile',
        )
    if (
        entries
        and not open_ended
        and whole_length_m is not None
        and abs(rest) > _LENGTHS_WITHIN * whole_length_m
    ):
        raise folder.wrong(
            "[[penstock.pipe]]",
            f"the pipes are {given:.4g} m long together, but the line is {whole_length_m:.4g} m long; leave one without length, and it takes what is left",
        )
    made = []
    for number, entry in enumerate(entries, 1):
        length = entry.get("length", rest)
        made.append(
            folder.sentence(
                f"[[penstock.pipe]] {number}",
                lambda entry=entry, length=length: pipe(entry, length),
            )
        )
    if made and "entry" in site["penstock"]:
        made[0] = replace(made[0], fittings=made[0].fittings + site["penstock"]["entry"])
    return tuple(made)


def pipe(entry: dict, length_m: float) -> Any:
    """One pipe from its entry: by its size, or by its bore and roughness."""
    from ..works.catalogue import pipe_size
    from ..works.pipe import Pipe

    if ("size" in entry) == ("inside_diameter" in entry):
        raise HydrokitError(
            'give either size = "4 in PVC Sch 40" (looked up) or inside_diameter = "101.5 mm" (measured)'
        )
    if "size" in entry:
        return pipe_size(entry["size"]).pipe(
            length_m, entry.get("roughness"), entry.get("fittings", 0.0)
        )
    if "roughness" not in entry:
        raise HydrokitError(
            'a pipe given by inside_diameter needs its roughness too, such as roughness = "0.03 mm"'
        )
    return Pipe(
        entry["inside_diameter"],
        length_m,
        entry["roughness"],
        entry.get("fittings", 0.0),
        "pipe as measured",
        entry.get("rating"),
    )


def profile(folder: Folder, section: dict, where: str) -> Any:
    """A surveyed profile named in a section, or None."""
    if "profile" not in section:
        return None
    from ..works.profile import Profile

    path = folder.file(section["profile"], where)
    table = read_csv(path, {"chainage": "m", "elevation": "m"}, {"ground": "m"})
    try:
        return Profile(
            table["chainage"].to_numpy(),
            table["elevation"].to_numpy(),
            section.get("along_slope", False),
        )
    except HydrokitError as error:
        raise InputError(Mistake(shown_path(path), "", str(error))) from error


# Doubt of a head where the site file gives none: a level survey, a pressure gauge. Common practice.
SURVEY_SD, GAUGE_SD = 0.01, 0.02


def head(study: Any) -> Measured | None:
    """Gross head in m with its doubt, from the best source the site has, or None."""
    ways = _ways_to_the_head(study)
    given, surveyed = ways.get("as given"), study.profile
    if (
        given is not None
        and surveyed is not None
        and abs(given.value - surveyed.gross_head_m)
        > _HEADS_APART * max(given.value, surveyed.gross_head_m)
    ):
        raise study.folder.wrong(
            "[penstock] head",
            f"is {given.value:.4g} m, but the profile falls {surveyed.gross_head_m:.4g} m; level again, and leave out the one that is wrong",
        )
    return next(iter(ways.values()), None)


def head_findings(study: Any) -> tuple[Finding, ...]:
    """That two ways to the head do not agree within what is not known of them."""
    ways = _ways_to_the_head(study)
    found = []
    for name, other in [*ways.items()][1:]:
        apart = abs(study.head.value - other.value)
        if apart > max(3 * np.hypot(study.head.sd, other.sd), _HEADS_ALIKE * study.head.value):
            found.append(
                Finding(
                    "caution",
                    "head",
                    f"it is {study.head.value:.1f} m {next(iter(ways))}, but {other.value:.1f} m {name}; the first is used: find out which is wrong",
                )
            )
    return tuple(found)


_HEADS_APART, _HEADS_ALIKE = (
    0.2,
    0.02,
)  # shares of the head: beyond the first no survey is that bad, within the second none is that good


def _ways_to_the_head(study: Any) -> dict[str, Measured]:
    """The head from every source the site has, the best first."""
    from ..water import pressure_to_head

    penstock, surveyed, ways = study.site["penstock"], study.profile, {}
    # what the site file says of the head as a whole stands for whatever gives no ± of its own
    told = study.site["doubt"].get("head")
    levelled, read = (SURVEY_SD, GAUGE_SD) if told is None else (told, told)
    if "head" in penstock:
        ways["as given"] = measured(penstock["head"], levelled)
    if surveyed is not None:
        ways["by the profile"] = Measured(surveyed.gross_head_m, levelled * surveyed.gross_head_m)
    if "static_pressure" in penstock:
        pressure = measured(penstock["static_pressure"], read)
        zero, height = penstock.get("gauge_zero", 0.0), penstock.get("gauge_height", 0.0)
        to_head = float(pressure_to_head.si(1.0, study.water_temperature_k))
        ways["by the gauge at rest"] = Measured(
            (pressure.value - zero) * to_head + height, pressure.sd * to_head
        )
    return ways


def line(folder: Folder, site: dict, surveyed: Any) -> Any:
    """The penstock's pipes in series, or None."""
    if not site["penstock.pipe"]:
        return None
    from ..works.pipe import Line

    length = site["penstock"].get("length")
    return Line(
        pipes(
            folder,
            site,
            surveyed.length_m if surveyed is not None else length.value if length else None,
        )
    )


def measured(value: Any, default_sd: float = 0.0) -> Measured:
    """A Measured whose sd is filled in from a relative default where the site gives none."""
    return value if value.sd is not None else Measured(value.value, abs(value.value) * default_sd)


# --- plant ----------------------------------------------------------------------------------


def chain(study: Any, pipes_line: Any, design_flow_m3s: float | None, jets: int | None) -> Any:
    """The plant as a chain, or None where head, pipe or jets are not known.

    Parameters
    ----------
    study : Study
    pipes_line : Line
    design_flow_m3s, jets : optional
        What the sizing chose, where the site file leaves it open.
    """
    from ..plant.chain import Chain
    from ..plant.parts import Penstock, Runner
    from ..water import density, viscosity

    site, turbine = study.site, study.site["turbine"]
    if study.head is None or pipes_line is None or not turbine:
        return None
    penstock = Penstock(
        pipes_line, study.head.value, viscosity_m2s=float(viscosity.si(study.water_temperature_k))
    )
    water = float(density.si(study.water_temperature_k))
    several = study.folder.sentence("[[machine]]", lambda: machines_site.adjustable(site))
    nozzles = (
        study.folder.sentence("[[machine]]", lambda: machines_site.machines(study))
        if several
        else study.folder.sentence(
            "[turbine]",
            lambda: _jets(
                turbine,
                penstock,
                turbine.get("design_flow", design_flow_m3s),
                int(turbine.get("jets", jets or 1)),
            ),
        )
    )
    nozzles = study.folder.sentence(
        "[[machine]] jets", lambda: machines_site.with_groups(study, nozzles)
    )
    if nozzles is None:
        return None
    open_at_most = max((each for each in schedule(site) if each), default=0)
    if open_at_most > nozzles.count:
        raise study.folder.wrong(
            "[turbine] jets_open",
            f"{open_at_most} stand open, but there {'is only 1' if nozzles.count == 1 else f'are only {nozzles.count}'}; give jets",
        )
    curve = (
        machines_site.curve(study)
        if several
        else efficiency_curve(study, not hasattr(nozzles, "diameters_m"))
    )
    shaft = Chain(penstock, nozzles, Runner(curve), density_kgm3=water, supply=study.supply)
    return study.folder.sentence(
        "[turbine]",
        lambda: Chain(
            penstock,
            nozzles,
            Runner(curve, diameter_m=turbine.get("runner_diameter")),
            _electric(study, shaft),
            study.supply,
            study.states,
            schedule(site),
            density_kgm3=water,
            name=study.name,
        ),
    )


_IMPULSE = ("pelton", "turgo")


def fixed_jets(turbine: dict) -> bool:
    """Whether its water comes through jets of fixed bore."""
    return turbine.get("kind") in _IMPULSE and turbine.get("jet_kind") != "spear"


def adjustable_name(turbine: dict) -> str:
    """What lets the water in where it is no fixed jet: jets with needles, or the machine's own gates."""
    return "jets" if turbine["kind"] in _IMPULSE else "turbine"


USUAL_JET_KIND = "conical nozzle"


def jet_kind(turbine: dict) -> Any:
    """What is usual of the kind of its jets."""
    from ..plant.jets import JET_KINDS

    return JET_KINDS[turbine.get("jet_kind", USUAL_JET_KIND)]


def jet_coefficient(turbine: dict) -> float:
    """Discharge coefficient of its jets, as told, else as is usual of their kind."""
    return (
        turbine["jet_coefficient"].value
        if "jet_coefficient" in turbine
        else jet_kind(turbine).coefficient
    )


def _jets(turbine: dict, penstock: Any, design_flow_m3s: float | None, count: int) -> Any:
    from ..plant.jets import jet_diameter
    from ..plant.parts import Adjustable, FixedJets

    if not fixed_jets(turbine):
        return (
            None
            if design_flow_m3s is None
            else Adjustable(design_flow_m3s, count, name=adjustable_name(turbine))
        )
    coefficient = jet_coefficient(turbine)
    bore = turbine.get("jet_diameter")
    if bore is None and design_flow_m3s is not None:
        head_m = float(penstock.head_si(design_flow_m3s))
        if head_m <= 0:
            raise HydrokitError(
                f"the penstock cannot bring {design_flow_m3s * 1000:.3g} L/s: it would lose more than the whole head"
            )
        bore = float(jet_diameter.si(design_flow_m3s, head_m, count, coefficient))
    return None if bore is None else FixedJets((bore,) * count, coefficient)


def schedule(site: dict) -> tuple[int | None, ...]:
    """Jets that stand open in each month; None where they are opened as they are fed."""
    habit = site["turbine"].get("jets_open")
    return () if habit is None else tuple(int(each) if each else None for each in habit)


def efficiency_curve(study: Any, adjustable: bool, turbine: dict | None = None) -> Any:
    """Efficiency of the runner at part load: the maker's table first, then what was measured, then the usual.

    Where only the efficiency from water to wire is known, that is the best of it; table or kind give
    the shape. `turbine`: what is told of one of several machines.
    """
    from ..plant.parts import steady
    from ..plant.turbine import part_load

    turbine, generator = turbine or study.site["turbine"], study.site["generator"]
    whole = generator["water_to_wire"].value if "water_to_wire" in generator else None
    if "efficiency_table" in turbine:
        found = maker_efficiency(study, turbine)
        found = (
            found
            if whole is None
            else replace(found, efficiencies=found.efficiencies * whole / found.best)
        )
        return found if adjustable else replace(found, fixed_speed=fixed_speed(study.site))
    if whole is not None and not adjustable:
        return replace(
            steady(whole, turbine["kind"], "water to wire, from the site file"),
            fixed_speed=fixed_speed(study.site),
        )
    best = whole or (turbine["efficiency"].value if "efficiency" in turbine else None)
    if adjustable:
        return part_load.si(turbine["kind"], best, turbine.get("minimum_flow"))
    # Fixed jets are open or shut: each runs at its own full flow, and the runner at its best.
    return replace(
        steady(
            best or part_load.si(turbine["kind"]).best,
            turbine["kind"],
            "best efficiency; jets open or shut",
        ),
        fixed_speed=fixed_speed(study.site),
    )


def fixed_speed(site: dict) -> bool:
    """Whether the generator holds the runner at one speed, as the grid or a governor does; one with permanent magnets follows the jet."""
    return (
        site["turbine"].get("kind") in _IMPULSE
        and site["generator"].get("kind", "synchronous") != "permanent magnet"
    )


def _electric(study: Any, shaft: Any) -> tuple[Any, ...]:
    """Generator and what follows it for a plant up to its shaft; no generator where the site gives one efficiency from water to wire."""
    from ..energy.sizing import SizedGenerator, generator_size_w, shaft_size_w
    from .metering import after_meter

    site, section = study.site, study.site["generator"]
    if "water_to_wire" in section:
        return after_meter(site, float(shaft.replace(supply=()).at_si(np.inf).power_w))
    efficiency = section["efficiency"].value if "efficiency" in section else None
    if "rating" in section:
        return (generator_of(section, section["rating"]), *after_generator(site, section["rating"]))
    # a limit that nobody told is none: the generator is bought to fit, and a change to the plant buys another
    most = most_licensed(study)
    losses = generator_of(
        section, max(float(shaft_size_w(shaft, most)) * (efficiency or 0.85), 1.0)
    )
    full = float(shaft.replace(supply=()).at_si(np.inf).power_w) * (efficiency or 0.85)
    return (
        SizedGenerator(losses, float(generator_size_w(shaft, losses, most))),
        *after_generator(site, full),
    )


USUAL_GENERATOR = "synchronous"  # of small plants that stand alone, common practice


def generator_of(section: dict, rating_w: float) -> Any:
    """The losses of the generator of a size, as the site file tells it, else as is usual of its kind."""
    from ..plant.generator import generator

    efficiency = section["efficiency"].value if "efficiency" in section else None
    return generator.si(
        section.get("kind", USUAL_GENERATOR), rating_w, efficiency, section.get("constant_loss")
    )


def most_licensed(study: Any) -> float:
    """Greatest flow in m³/s that may be taken in any month; infinite without a licence."""
    return float(np.max(study.rights.licence_m3s))


def refitted(study: Any, chain: Any) -> Any:
    """A plant that was changed, with the generator that is then bought; one of a told rating stays as it is."""
    from ..energy.sizing import SizedGenerator

    bought = next((part for part in chain.electric if isinstance(part, SizedGenerator)), None)
    return chain if bought is None else bought.bought_for(chain, most_licensed(study))


PHASES = {
    "dc": "dc",
    "one": "one-phase",
    "three": "three-phase",
}  # as the site file says it, and as the lower rooms do


def wire(site: dict, power_w: float = 0.0) -> tuple[Any, ...]:
    """The cable as a part, by its conductor, else by its loss at a full load; nothing where the site says neither.

    Raises
    ------
    HydrokitError
        A conductor that cannot bring the power to its end; for 0 W there is none.
    """
    from ..plant.cable import cable
    from ..plant.parts import Wire

    section = site["cable"]
    if all(key in section for key in ("voltage", "size", "length")):
        system = PHASES[section.get("phases", "one")]
        factor = site["readings"].get("power_factor", 1.0) if system != "dc" else 1.0
        run = cable.si(
            power_w,
            section["voltage"],
            section["length"],
            section["size"],
            system,
            section.get("material", "copper"),
            factor,
        )
        return (Wire(run.resistance_ohm, section["voltage"], factor),)
    if section.get("loss") and power_w > 0:
        return (
            Wire(section["loss"] / power_w, 1.0),
        )  # P²R/V² is that share of the full power, whatever the voltage
    return ()


def between(site: dict, at: str) -> tuple[Any, ...]:
    """Transformers, and at the loads the inverter, that stand at one end of the cable."""
    from ..plant.conversion import inverter, transformer

    made = [
        transformer.si(each["rating"], each["no_load_loss"], each["full_load_loss"])
        for each in site["transformer"]
        if each["at"] == at
    ]
    if at == "loads" and site["inverter"]:
        if len(site["inverter"]) < 3:
            raise HydrokitError("[inverter] needs rating, idle and efficiency together")
        made.append(
            inverter.si(
                site["inverter"]["rating"], site["inverter"]["idle"], site["inverter"]["efficiency"]
            )
        )
    return tuple(made)


def after_generator(site: dict, power_w: float = 0.0) -> tuple[Any, ...]:
    """What the power meets from the generator to the loads."""
    return (*between(site, "powerhouse"), *wire(site, power_w), *between(site, "loads"))


# --- the year -------------------------------------------------------------------------------


def outages(site: dict) -> Any:
    """Planned and unplanned stops as shares of the time."""
    from ..energy.year import Outages

    section = site["outage"]
    share = section.get("planned_days", 0.0) / planned_days_fit(site)
    planned = np.where(
        np.isin(np.arange(1, 13), section.get("planned_months", range(1, 13))), min(share, 1.0), 0.0
    )
    return Outages(planned, section.get("unplanned", 0.0))


def planned_days_fit(site: dict) -> float:
    """Days of the months in which the plant is stopped as planned, in a mean year."""
    return float(MONTH_DAYS[np.array(site["outage"].get("planned_months", range(1, 13))) - 1].sum())


def taken(study: Any) -> Any:
    """Daily flow that may be taken where a plant stands, or None: under a yearly volume, what it cannot take uses none of it up."""
    most = most_taken(study)
    return (
        study.usable
        if study.usable is None or np.all(np.isinf(most))
        else study.rights.usable_series(study.record, most)
    )


def most_taken(study: Any) -> Any:
    """Most that the plant takes at the intake by month, in m³/s, where what may be taken hangs on it; else infinite."""
    from ..plant.curve import most_taken

    if study.plant is None or not study.rights.has_memory:
        return np.inf
    return most_taken(study.plant.curves())


def year(study: Any) -> Any:
    """Energy by year and month, or None without a daily record or a plant.

    Raises
    ------
    HydrokitError
        A record in which some month is never whole: it has no year.
    """
    from ..energy.year import annual_energy

    if study.usable is None or study.plant is None:
        return None
    found = annual_energy(
        taken(study), study.plant.curves(), outages(study.site), study.demand_w, study.winter
    )
    if not np.isfinite(found.annual_kwh):
        raise HydrokitError(
            "the record does not hold every month of a year whole, so there is no year to add up; keep the gauge running, or extend it from a neighbour's"
        )
    return found
