"""Creeks as a map tells of them, and what a first sieve finds: plain numbers that travel between machines."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

from ..errors import Told

__all__ = ["ASSUMED", "Creek", "FAR_FACTOR", "FLOW_FACTOR", "Sifted"]

# Either way, of a flow got from the ratio of two catchments: of like size, and not.
FLOW_FACTOR, FAR_FACTOR = 1.5, 2.0

ASSUMED = (
    "flows are the neighbour's in proportion to the catchments; low and high energy are those of "
    "flows smaller and larger by a factor of 1.5, or of 2 where the catchments differ by more "
    "than 0.5 to 1.5",
    "where no share is given, the flow exceeded on 95 % of the days stays in the creek",
    "the usual machine and generator for head and flow, PE100 pipe, a tenth of the head lost at most",
    "the size is where a little more water stops paying in energy; no costs are known",
)


@dataclass(frozen=True)
class Creek:
    """What is known of a creek from a map and a neighbour.

    Parameters
    ----------
    name : str
    head_m, length_m : float
        Fall from intake to jets, and length of the pipe.
    catchment_m2, neighbour_catchment_m2 : float
    licence_m3s : float, optional
        Most that may be taken.
    residual_share : float, optional
        Share of the mean flow that stays.
    """

    name: str
    head_m: float
    length_m: float
    _: KW_ONLY
    catchment_m2: float
    neighbour_catchment_m2: float
    licence_m3s: float | None = None
    residual_share: float | None = None


@dataclass(frozen=True)
class Sifted:
    """What a plant on a creek would be and bring. Plain numbers, so that it travels between machines.

    Parameters
    ----------
    creek : Creek
    mean_m3s, usable_m3s : float
        Mean natural and usable flow.
    design_m3s : float
    machine, pipe : str
        Kind of turbine, and trade name of the penstock.
    jets : int
        Fixed jets of an impulse machine; one unit of any other.
    loss_share : float
        Of the head, at the design flow.
    rated_w, firm_w : float
        Greatest power, and that of nineteen days in twenty.
    kwh, winter_kwh : float
        Of a mean year.
    low_kwh, high_kwh : float
        The same with all flows smaller or larger by a factor of 1.5; of 2 where the catchments differ
        by more than 0.5 to 1.5 (common practice).
    mind : tuple of str or Sentence
        What to keep in mind.
    reason : str
        Why there is no answer; empty where there is one.
    mistakes : tuple of str or Sentence
        What is wrong with what was told of the creek.
    """

    creek: Creek
    mean_m3s: float = float("nan")
    usable_m3s: float = float("nan")
    _: KW_ONLY
    design_m3s: float = float("nan")
    machine: str = ""
    pipe: str = ""
    jets: int = 0
    loss_share: float = float("nan")
    rated_w: float = float("nan")
    firm_w: float = float("nan")
    kwh: float = float("nan")
    winter_kwh: float = float("nan")
    low_kwh: float = float("nan")
    high_kwh: float = float("nan")
    mind: tuple[str | Told, ...] = ()
    reason: str | Told = ""
    mistakes: tuple[str | Told, ...] = ()

    @property
    def kwh_per_m(self) -> float:
        """Energy of a mean year for each metre of pipe: what a creek is first judged by where costs
        are not known."""
        return self.kwh / self.creek.length_m
