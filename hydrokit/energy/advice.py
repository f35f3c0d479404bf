"""What to measure against each uncertainty of a plant: one that runs, and one that does not stand yet."""

from __future__ import annotations

__all__ = ["against_uncertainty"]

_RUNNING = {
    "head": "level the head again, or read the shut-off pressure on a tested gauge",
    "loss": "read the running pressure with one jet and with all jets open, the forebay spilling",
    "efficiency": "read watts and flow together: catch the tailwater in a drum, or time a salt slug",
    "jet_area": "measure the bore of the jets, and once the flow they pass, with a bucket or drum",
    "outage": "write down every stop, its hours and its reason",
    "plant": (
        "measure the flow once while the watts are read: the meter knows head, jets and "
        "efficiency only as a product"
    ),
}
_PLANNED = {
    "head": "level the head again, from the water at the intake to where the jets will be",
    "loss": (
        "measure the line along the ground, settle the pipe, and look up its true bore; count "
        "bends and valves"
    ),
    "efficiency": (
        "ask the manufacturer for the efficiency measured at several flows, and name the table in "
        "the site file"
    ),
    "jet_area": "ask the manufacturer for the bore of the jets and the flow they were measured to pass",
    "outage": "ask owners of such plants nearby on how many days a year theirs stop, and why",
    "plant": "ask the manufacturer for the output measured at this head and flow",
}


def against_uncertainty(planned: bool) -> dict[str, str]:
    """What would narrow each uncertainty: name of the uncertainty to what to do.

    Parameters
    ----------
    planned : bool
        Whether there is no plant yet on which anything could be read.
    """
    return dict(_PLANNED if planned else _RUNNING)
