"""A site with everything worked out from it, each result computed when first asked for and kept."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import Finding
from ..files import shown_path, text_hash
from . import (
    changing,
    choosing,
    days_site,
    money_site,
    pond_site,
    running_site,
    seasons_site,
    sheets,
    stream_site,
    supply_site,
    telling,
    wiring_site,
)
from . import field_sheets as field_readings
from . import site as build
from . import works_site as works
from .display import View
from .telling import attempted
from .values import Measured

__all__ = ["Study"]


class Study:
    """One site. Its properties are the results; each is one call of a lower room.

    A property is None where the site file lacks what it needs, or where it could not be worked out;
    :attr:`refused` has the reasons of those.
    """

    def __init__(self, path: Path, site: dict) -> None:
        self.path = Path(path)
        self.site = site
        self.refused: dict[str, str] = {}
        self.folder = sheets.Folder(self.path)
        self.folder.read[self.path.resolve() / "site.toml"] = sheets.stamp(self.path / "site.toml")

    def __repr__(self) -> str:
        return f"Study({self.name!r}, {shown_path(self.path)})"

    @property
    def unchanged(self) -> bool:
        """Whether every file read so far is still as it was."""
        return all(path.is_file() and sheets.stamp(path) == seen for path, seen in self.folder.read.items())

    @property
    def name(self) -> str:
        """Name of the creek or plant."""
        return self.site["site"]["name"]

    @property
    def place(self) -> str:
        """Where it is, in words; may be empty."""
        return self.site["site"].get("place", "")

    @property
    def exists(self) -> bool:
        """Whether the plant runs today."""
        return self.site["site"].get("stage_of_work") == "existing"

    @property
    def altitude_m(self) -> float | None:
        """Height of the intake above sea level."""
        return self.site["site"].get("altitude")

    @property
    def water_temperature_k(self) -> float:
        """Usual temperature of the water; 10 °C where the site does not say."""
        return self.site["site"].get("water_temperature", 283.15)

    @property
    def winter(self) -> tuple[int, ...]:
        """Months counted as winter."""
        return self.site["site"].get("winter", (12, 1, 2))

    def view(self, display: str = "") -> View:
        """How to show results: the units asked for, else those of the site file."""
        system = display or self.site["site"].get("display", "metric")
        typical = None if self.record is None else float(np.nanmedian(self.record))
        return View.for_flow(system, typical, self.site["site"].get("currency", "money"))

    # --- the creek --------------------------------------------------------------------------

    @cached_property
    def gaugings(self) -> sheets.FieldGaugings | None:
        """The gaugings listed in the site's sheet."""
        return sheets.gaugings(self.folder, self.site["stream"])

    # A property that is one call with the study itself is that function, its documentation included.
    field_sheets = cached_property(field_readings.field_sheets)
    meter_ways = cached_property(field_readings.meter_ways)
    leaks = cached_property(field_readings.leaks)
    rating = cached_property(stream_site.rating)
    stage_record = cached_property(stream_site.stage_record)

    @property
    def stage(self) -> Any:
        """Stages fit to be rated: those under ice left out or corrected; or None."""
        return None if self.stage_record is None else self.stage_record.stage

    @cached_property
    def temperature(self) -> Any:
        """Daily air temperature in °C, or None."""
        name = self.site["stream"].get("temperature")
        return None if name is None else (sheets.daily(self.folder, name, "[stream] temperature", "temperature", "K") - 273.15).rename("temperature_c")

    measured_record = cached_property(stream_site.measured_record)
    own_record = cached_property(stream_site.own_record)
    gaps = cached_property(stream_site.gaps)

    @cached_property
    def extension(self) -> Any:
        """The own record extended from a neighbour's, or None."""
        return build.extension(self.folder, self.site, self.own_record)

    extension_ways = cached_property(stream_site.extension_ways)

    @cached_property
    def record(self) -> Any:
        """The daily natural flow all energy figures rest on, or None."""
        return self.own_record if self.extension is None else self.extension.record

    record_findings = cached_property(stream_site.record_findings)

    @cached_property
    def record_uncertainty(self) -> float:
        """Relative standard deviation of the record as a whole: the rating's, or the site file's."""
        return build.record_uncertainty(self)

    @cached_property
    def duration(self) -> Any:
        """Flow duration curve of the record, or None."""
        from ..stream.duration import flow_duration

        return None if self.record is None else flow_duration(self.record, self.record_uncertainty)

    @cached_property
    def rights(self) -> Any:
        """What must stay and what may be taken, by month."""
        return build.rights(self.folder, self.site, self.record)

    @cached_property
    def usable(self) -> Any:
        """Daily flow that may be taken, or None."""
        return None if self.record is None else self.rights.usable_series(self.record)

    low_flows = cached_property(stream_site.low_flows)
    floods = cached_property(stream_site.floods)
    intake_flood = cached_property(stream_site.intake_flood)
    expected_range = cached_property(stream_site.expected_range)
    weir_plan = attempted(stream_site.weir_plan)
    salt_plan = attempted(stream_site.salt_plan)

    # --- the works --------------------------------------------------------------------------

    @cached_property
    def profile(self) -> Any:
        """Surveyed profile of the penstock, or None."""
        return build.profile(self.folder, self.site["penstock"], "[penstock] profile")

    @cached_property
    def diversion(self) -> Any:
        """Surveyed profile of the diversion line, or None."""
        return build.profile(self.folder, self.site["diversion"], "[diversion] profile")

    @cached_property
    def head(self) -> Measured | None:
        """Gross head in m: surveyed, from the profile, or from the pressure with the jets shut."""
        return build.head(self)

    @cached_property
    def head_findings(self) -> tuple[Finding, ...]:
        """That two ways to the head do not agree, where they do not."""
        return build.head_findings(self)

    @cached_property
    def penstock(self) -> Any:
        """The penstock's pipes as one line, or None."""
        return build.line(self.folder, self.site, self.profile)

    @cached_property
    def diversion_line(self) -> Any:
        """The line from creek to pond laid on its profile, or None."""
        return works.diversion_line(self)

    @cached_property
    def supply(self) -> tuple[Any, ...]:
        """What stands above the pond, in the order in which the water meets it."""
        return works.supply(self)

    @cached_property
    def states(self) -> Any:
        """State of each of those parts by month; empty where nothing clogs."""
        return works.states(self)

    @cached_property
    def full_flow_m3s(self) -> float | None:
        """Flow with everything open, or the best guess at it; None where nothing says it."""
        return works.full_flow(self)

    @attempted
    def line_air(self) -> Any:
        """What air asks of the diversion line at full flow, or None."""
        return works.line_air(self)

    @cached_property
    def reaches(self) -> tuple[Any, ...]:
        """Meadows and channels, with what leaves each on the way."""
        return pond_site.reaches(self)

    @cached_property
    def meters(self) -> tuple[Any, ...]:
        """Gates and orifices that tell the flow."""
        return pond_site.meters(self)

    @attempted
    def intake_weir(self) -> Any:
        """The weir at the intake with its notch and its flood, or None."""
        return pond_site.weir(self)

    @attempted
    def overflow(self) -> Any:
        """What spills from the pond, or None."""
        return pond_site.overflow(self)

    @cached_property
    def open_findings(self) -> tuple[Finding, ...]:
        """What is noteworthy about channels and gates."""
        return pond_site.findings(self)

    @attempted
    def section(self) -> Any:
        """The penstock on its profile at full flow, or None."""
        return works.section(self)

    @attempted
    def pressures(self) -> Any:
        """What every metre of the penstock must hold, or None."""
        return works.pressures(self)

    @cached_property
    def bends(self) -> tuple[Any, ...]:
        """Bends of the penstock with their thrust."""
        return works.bends(self)

    @cached_property
    def bridges(self) -> tuple[Any, ...]:
        """Stretches of the penstock that hang free."""
        return works.bridges(self)

    @cached_property
    def stretches(self) -> tuple[Any, ...]:
        """Stretches of penstock and diversion, each lying alike all along."""
        return works.stretches(self)

    @attempted
    def frost(self) -> Any:
        """How long still water has in each stretch on the coldest day, or None."""
        return works.frost(self)

    # --- the plant --------------------------------------------------------------------------

    @cached_property
    def readings(self) -> Any:
        """Readings at the powerhouse, or None."""
        return sheets.readings(self.folder, self.site)

    @cached_property
    def pipes_tried(self) -> Any:
        """Pipes the sizing tries, and their prices."""
        return choosing.pipes_tried(self)

    @attempted
    def sizing(self) -> Any:
        """Every design flow, pipe and number of jets, with the choice among them; or None."""
        return choosing.sizing(self)

    @cached_property
    def pipe_findings(self) -> tuple[Finding, ...]:
        """That the sizing would take another pipe than the site file describes, where it does."""
        return choosing.pipe_findings(self)

    overruled_findings = cached_property(choosing.overruled_findings)

    @cached_property
    def baseline(self) -> Any:
        """The plant fitted to its readings with the pond spilling, or None."""
        return running_site.baseline(self)

    @attempted
    def missing(self) -> Any:
        """Watts a healthy plant would give and this one does not, or None."""
        return running_site.missing(self)

    @cached_property
    def plant(self) -> Any:
        """The plant as a chain: as its readings show it, as the site file has it, or as the sizing chose it."""
        if self.baseline is not None:
            return running_site.fitted_chain(self)
        return choosing.chosen_chain(self) if self.described is None else self.described

    @cached_property
    def described(self) -> Any:
        """The plant as the site file alone has it, or None where it leaves the size open."""
        return build.chain(self, self.penstock, None, None)

    @cached_property
    def expectation(self) -> Any:
        """The healthy plant: as commissioned, else as described with its doubts; or None."""
        return running_site.expectation(self)

    @cached_property
    def noise(self) -> Any:
        """How far one reading of gauge or meters strays."""
        return running_site.noise(self)

    @attempted
    def card(self) -> Any:
        """What gauge and meters should show, jet by jet; or None."""
        return running_site.card(self)

    @attempted
    def signatures(self) -> Any:
        """What each fault does to the readings of this plant, or None."""
        return running_site.signatures(self)

    @cached_property
    def rehearsal(self) -> Any:
        """Faults planted in this plant and diagnosed, or None."""
        return running_site.rehearsal(self)

    @cached_property
    def least_seen(self) -> Any:
        """Smallest size of each fault that a visit shows, commissioned and not; or None."""
        return running_site.least_seen(self)

    @cached_property
    def visits(self) -> list[Any]:
        """What was seen at the plant, visit by visit."""
        return running_site.visits(self)

    def diagnose(self, observations: Any = None) -> Any:
        """What is wrong, from observations, or from the last visit; None where nothing can be said."""
        return running_site.diagnose(self, observations)

    @attempted
    def bracket(self) -> Any:
        """Between which figures the year's energy lies where there is no record, or None."""
        return running_site.bracket(self)

    # --- the year ---------------------------------------------------------------------------

    @cached_property
    def demand_w(self) -> Any:
        """Power that can be used, by month or by day, or None."""
        return build.demand(self)

    @attempted
    def year(self) -> Any:
        """Energy by year and month, or None."""
        return build.year(self)

    @attempted
    def doubt(self) -> Any:
        """Energy with everything that is not known about it, or None."""
        from ..energy.doubt import energy_doubt

        if self.year is None or not self.year.rows:
            return None
        draws = int(self.site["doubt"].get("draws", 4000))
        return energy_doubt(self.record, self.rights, self.plant, build.uncertainties(self), draws, 1, build.outages(self.site), self.demand_w, metered=running_site.metered(self), winter=self.winter, planned=not self.exists)

    @attempted
    def day_by_day(self) -> Any:
        """The year walked day by day, and what each memory costs; or None without a year."""
        return days_site.day_by_day(self)

    @attempted
    def money(self) -> Any:
        """What the plant costs, what its energy is worth and when it has paid; or None."""
        return money_site.money(self)

    @attempted
    def base_case(self) -> Any:
        """The plant with its water as changes are weighed against it, or None."""
        return changing.base_case(self)

    @cached_property
    def changes(self) -> tuple[Any, ...]:
        """The changes the site file names."""
        return changing.changes(self)

    @attempted
    def upgrades(self) -> Any:
        """The changes of the site file as a staircase, or None."""
        return changing.upgrades(self)

    @attempted
    def measure_next(self) -> Any:
        """Measurements in the order in which they would narrow the annual energy, or None."""
        return changing.measure_next(self)

    @attempted
    def rules_price(self) -> Any:
        """Energy given up to each rule on the creek's water, or None."""
        return changing.rules_price(self)

    # --- what it is used for; each explained where it is built --------------------------------

    jet_plan = attempted(supply_site.jet_plan)
    circuits = cached_property(wiring_site.circuits)
    cable_prices = cached_property(wiring_site.cable_prices)
    day_use = cached_property(wiring_site.day_use)
    wires = attempted(wiring_site.wires)
    house = cached_property(supply_site.house)
    warmth = attempted(supply_site.warmth)
    sharing = attempted(supply_site.sharing)

    # --- through the seasons ------------------------------------------------------------------

    @cached_property
    def log(self) -> Any:
        """The owner's log, cleaned, or None."""
        return seasons_site.log(self)

    @cached_property
    def history(self) -> Any:
        """What happened in the log and what it cost, or None."""
        return seasons_site.history(self)

    @attempted
    def upkeep(self) -> Any:
        """How the screen clogs, when to walk up, what drifts; None without a log."""
        return seasons_site.upkeep(self)

    @attempted
    def winter_outlook(self) -> Any:
        """What winter asks, or None without air temperatures."""
        return seasons_site.winter_outlook(self)

    @cached_property
    def jobs(self) -> tuple[Any, ...]:
        """The year's jobs, each with its reason and its number."""
        return seasons_site.jobs(self)

    @cached_property
    def steps(self) -> dict[str, Any]:
        """Steps at the valves of penstock and diversion."""
        return seasons_site.steps(self)

    # --- for the reader and the runner --------------------------------------------------------

    def read(self) -> None:
        """Read everything the site file names.

        Raises
        ------
        InputError
            Every mistake at once.
        """
        telling.read(self)

    def findings(self, rooms: Any = None) -> list[Finding]:
        """What a reader must know, gathered from everything that was worked out."""
        return telling.findings(self, rooms)

    def told(self, display: str = "", rooms: Any = None) -> list[Finding]:
        """The findings in the reader's units."""
        view = self.view(display)
        return [Finding(each.level, each.where, view.translated(each.message)) for each in self.findings(rooms)]

    def results(self) -> dict[str, Any]:
        """The headline numbers, as plain numbers in named tables; what is not known is left out."""
        from .answers import numbers

        return numbers(self)

    def inputs(self) -> dict[str, str]:
        """Every file read so far, with the hash of its text."""
        here = self.path.resolve()
        files = sorted(self.folder.read, key=lambda each: (each.name != "site.toml", each))
        return {(each.relative_to(here) if each.is_relative_to(here) else Path("..", each.parent.name, each.name)).as_posix(): text_hash(each) for each in files}
