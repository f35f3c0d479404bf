"""From the site file to pipes, their profile, and the head."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ...columns import read_csv
from ...errors import Finding, HydrokitError, InputError, Mistake
from ...files import shown_path
from ...sentences import Amount, Sentence
from ...site import schema_way
from ...site.sheets import Folder
from ...site.values import Measured

if TYPE_CHECKING:
    from ...site.schema import Site
    from ...works.pipe import Line, Pipe
    from ...works.profile import Profile
    from ..study import Study

__all__ = ["head", "head_findings", "line", "measured", "pipe", "pipes", "profile"]

_LENGTHS_WITHIN = 0.2  # a paced pipe may be that far from its surveyed line


# --- works ----------------------------------------------------------------------------------


def pipes(folder: Folder, site: Site, whole_length_m: float | None) -> tuple[Pipe, ...]:
    """The pipes of the penstock, from top to bottom; one without length takes what is left."""
    entries = site.penstock.pipe
    given = sum(entry.length or 0.0 for entry in entries)
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
        and rest is not None
        and abs(rest) > _LENGTHS_WITHIN * whole_length_m
    ):
        raise folder.wrong(
            "[[penstock.pipe]]",
            Sentence(
                "the pipes are {pipes} long together, but the line is {line} long; leave one "
                "without length, and it takes what is left",
                pipes=Amount(given, "length", 4),
                line=Amount(whole_length_m, "length", 4),
            ),
        )
    made = []
    for number, entry in enumerate(entries, 1):
        length = float(rest or 0.0) if entry.length is None else entry.length
        made.append(
            folder.sentence(
                f"[[penstock.pipe]] {number}",
                partial(pipe, entry, length),
            )
        )
    if made and site.penstock.given("entry"):
        made[0] = replace(made[0], fittings=made[0].fittings + site.penstock.entry)
    return tuple(made)


def pipe(entry: schema_way.Pipe, length_m: float) -> Pipe:
    """One pipe from its entry: by its size, or by its bore and roughness."""
    from ...works.pipe import Pipe
    from ...works.pipe_sizes import pipe_size

    if ("size" in entry) == ("inside_diameter" in entry):
        raise HydrokitError(
            'give either size = "4 in PVC Sch 40" (looked up) or inside_diameter = "101.5 mm" (measured)'
        )
    if "size" in entry:
        return pipe_size(entry["size"]).pipe(length_m, entry.roughness, entry.fittings)
    if "roughness" not in entry:
        raise HydrokitError(
            'a pipe given by inside_diameter needs its roughness too, such as roughness = "0.03 mm"'
        )
    return Pipe(
        entry["inside_diameter"],
        length_m,
        entry["roughness"],
        fittings=entry.fittings,
        name="pipe as measured",
        rating_pa=entry.rating,
    )


def profile(
    folder: Folder, section: schema_way.Penstock | schema_way.Diversion, where: str
) -> Profile | None:
    """A surveyed profile named in a section, or None."""
    if "profile" not in section:
        return None
    from ...works.profile import Profile

    path = folder.file(section["profile"], where)
    table = read_csv(path, {"chainage": "m", "elevation": "m"}, {"ground": "m"}, notes=folder.notes)
    try:
        return Profile(
            table["chainage"].to_numpy(),
            table["elevation"].to_numpy(),
            section.along_slope,
        )
    except HydrokitError as error:
        raise InputError(Mistake(shown_path(path), "", str(error))) from error


# Uncertainty of a head where the site file gives none: a level survey, a pressure gauge. Common practice.
SURVEY_SD, GAUGE_SD = 0.01, 0.02


def head(study: Study) -> Measured | None:
    """Gross head in m with its uncertainty, from the best source the site has, or None."""
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
            Sentence(
                "is {given}, but the profile falls {profile}; level again, and leave out the "
                "one that is wrong",
                given=Amount(given.value, "head", 4),
                profile=Amount(surveyed.gross_head_m, "head", 4),
            ),
        )
    return next(iter(ways.values()), None)


def head_findings(study: Study) -> tuple[Finding, ...]:
    """That two ways to the head do not agree within what is not known of them."""
    ways = [*_ways_to_the_head(study).items()]
    found = []
    for name, other in ways[1:]:
        first_way, first = ways[0]
        within = 3 * np.hypot(first.sd or 0.0, other.sd or 0.0)
        if abs(first.value - other.value) > max(within, _HEADS_ALIKE * first.value):
            found.append(
                Finding(
                    "caution",
                    "head",
                    Sentence(
                        "it is {used} {way}, but {other} {other_way}; the first is used: find "
                        "out which is wrong",
                        used=Amount(first.value, "head", 4),
                        way=first_way,
                        other=Amount(other.value, "head", 4),
                        other_way=name,
                    ),
                )
            )
    return tuple(found)


_HEADS_APART, _HEADS_ALIKE = (
    0.2,
    0.02,
)  # shares of the head: beyond the first no survey is that bad, within the second none is that good


def _ways_to_the_head(study: Study) -> dict[str, Measured]:
    """The head from every source the site has, the best first."""
    from ...water import pressure_to_head

    penstock, surveyed, ways = study.site.penstock, study.profile, {}
    # what the site file says of the head as a whole stands for whatever gives no ± of its own
    told = study.site.uncertainty.head
    levelled, read = (SURVEY_SD, GAUGE_SD) if told is None else (told, told)
    if "head" in penstock:
        ways["as given"] = measured(penstock["head"], levelled)
    if surveyed is not None:
        ways["by the profile"] = Measured(surveyed.gross_head_m, levelled * surveyed.gross_head_m)
    if "static_pressure" in penstock:
        pressure = measured(penstock["static_pressure"], read)
        zero, height = penstock.gauge_zero, penstock.gauge_height
        to_head = float(pressure_to_head.si(1.0, study.water_temperature_k))
        ways["by the gauge at rest"] = Measured(
            (pressure.value - zero) * to_head + height, (pressure.sd or 0.0) * to_head
        )
    return ways


def line(folder: Folder, site: Site, surveyed: Profile | None) -> Line | None:
    """The penstock's pipes in series, or None."""
    if not site.penstock.pipe:
        return None
    from ...works.pipe import Line

    length = site.penstock.length
    return Line(
        pipes(
            folder,
            site,
            surveyed.length_m if surveyed is not None else length.value if length else None,
        )
    )


def measured(value: Measured, default_sd: float = 0.0) -> Measured:
    """A Measured whose sd is filled in from a relative default where the site gives none."""
    return value if value.sd is not None else Measured(value.value, abs(value.value) * default_sd)
