"""From the site file to pipes, their profile, and the head."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ...columns import read_csv
from ...errors import Finding, HydrokitError, InputError, Mistake
from ...files import shown_path
from ...site.sheets import Folder
from ...site.values import Measured

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
    from ...works.pipe import Pipe
    from ...works.pipe_sizes import pipe_size

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
        fittings=entry.get("fittings", 0.0),
        name="pipe as measured",
        rating_pa=entry.get("rating"),
    )


def profile(folder: Folder, section: dict, where: str) -> Any:
    """A surveyed profile named in a section, or None."""
    if "profile" not in section:
        return None
    from ...works.profile import Profile

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
    from ...water import pressure_to_head

    penstock, surveyed, ways = study.site["penstock"], study.profile, {}
    # what the site file says of the head as a whole stands for whatever gives no ± of its own
    told = study.site["uncertainty"].get("head")
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
    from ...works.pipe import Line

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
