"""A site with everything worked out from it, each result computed when first asked for and kept."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import Finding
from ..files import shown_path, text_hash
from . import (
    assumed_site,
    changing,
    choosing,
    days_site,
    demand_site,
    doubtful_site,
    freeze_site,
    heat_site,
    judged_site,
    log_site,
    measuring,
    metering,
    money_site,
    phases_site,
    plausible,
    pond_site,
    running_site,
    seasons_site,
    sheets,
    stream_site,
    supply_site,
    telling,
    uncertain_site,
    water_site,
    wiring_site,
)
from . import field_sheets as field_readings
from . import site as build
from . import works_site as works
from .answer import Answer
from .display import View
from .questions import ask
from .telling import attempted

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
        self._answers: dict[str, Answer | None] = {}
        self.folder = sheets.Folder(self.path)
        self.folder.read[self.path.resolve() / "site.toml"] = sheets.stamp(self.path / "site.toml")

    def __repr__(self) -> str:
        return f"Study({self.name!r}, {shown_path(self.path)})"

    @property
    def unchanged(self) -> bool:
        """Whether every file read so far is still as it was."""
        return all(
            path.is_file() and sheets.stamp(path) == seen for path, seen in self.folder.read.items()
        )

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

    # A property that is one call with the study itself is that function, its documentation included.
    gaugings = cached_property(field_readings.gaugings)
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
        return (
            None
            if name is None
            else (
                sheets.daily(self.folder, name, "[stream] temperature", "temperature", "K") - 273.15
            ).rename("temperature_c")
        )

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

    uncertainty_findings = cached_property(uncertain_site.uncertainty_findings)
    assumptions = cached_property(assumed_site.assumptions)
    record_uncertainty = cached_property(build.record_uncertainty)

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

    head = cached_property(build.head)
    head_findings = cached_property(build.head_findings)

    @cached_property
    def penstock(self) -> Any:
        """The penstock's pipes as one line, or None."""
        return build.line(self.folder, self.site, self.profile)

    diversion_line = cached_property(works.diversion_line)
    supply = cached_property(works.supply)
    states = cached_property(works.states)
    full_flow_m3s = cached_property(works.full_flow)
    line_air = attempted(works.line_air)
    reaches = cached_property(pond_site.reaches)
    meters = cached_property(pond_site.meters)

    @attempted
    def intake_weir(self) -> Any:
        """The weir at the intake with its notch and its flood, or None."""
        return pond_site.weir(self)

    overflow = attempted(pond_site.overflow)
    open_findings = cached_property(pond_site.findings)
    judged_findings = cached_property(judged_site.judged)
    cover_findings = cached_property(judged_site.covered)
    log_findings = cached_property(judged_site.of_the_log)
    ignored_findings = cached_property(judged_site.ignored)
    unusual_findings = cached_property(plausible.findings)
    section = attempted(works.section)
    pressures = attempted(works.pressures)
    single_surges = cached_property(works.single_surges)
    bends = cached_property(works.bends)
    bridges = cached_property(works.bridges)
    stretches = cached_property(works.stretches)
    frost = attempted(works.frost)
    climate = cached_property(freeze_site.climate)
    freeze = cached_property(freeze_site.freeze)

    # --- the plant --------------------------------------------------------------------------

    @cached_property
    def readings(self) -> Any:
        """Readings at the powerhouse, or None."""
        return sheets.readings(self.folder, self.site)

    pipes_tried = cached_property(choosing.pipes_tried)
    sizing = attempted(choosing.sizing)
    pipe_findings = cached_property(choosing.pipe_findings)
    machine_findings = cached_property(choosing.machine_findings)
    sizing_moves = cached_property(choosing.sizing_moves)
    plan = attempted(choosing.plan)
    overruled_findings = cached_property(choosing.overruled_findings)
    generator_findings = cached_property(choosing.generator_findings)

    first_fit = cached_property(running_site.first_fit)
    baseline = cached_property(running_site.baseline)
    missing = attempted(running_site.missing)

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

    expectation = cached_property(running_site.expectation)
    noise = cached_property(running_site.noise)
    card = attempted(running_site.card)
    signatures = attempted(running_site.signatures)
    rehearsal = cached_property(running_site.rehearsal)
    least_seen = cached_property(running_site.least_seen)
    visits = cached_property(running_site.visits)

    def diagnose(self, observations: Any = None) -> Any:
        """What is wrong, from observations, or from the last visit; None where nothing can be said."""
        return running_site.diagnose(self, observations)

    bracket = attempted(running_site.bracket)

    # --- the year ---------------------------------------------------------------------------

    demand_w = cached_property(demand_site.demand)
    other_w = cached_property(demand_site.other_w)
    use = cached_property(demand_site.use)
    use_findings = cached_property(demand_site.findings)
    doubtful_findings = cached_property(doubtful_site.findings)
    year = attempted(days_site.year)

    @attempted
    def doubt(self) -> Any:
        """Energy with everything that is not known about it, or None."""
        from ..energy.doubt import energy_doubt

        if self.year is None or not self.year.rows:
            return None
        draws = int(self.site["doubt"].get("draws", 4000))
        return energy_doubt(
            self.record,
            self.rights,
            self.plant,
            build.uncertainties(self),
            draws,
            1,
            build.outages(self.site),
            self.demand_w,
            metered=running_site.metered(self),
            winter=self.winter,
            planned=not self.exists,
            operating=None if self.day_by_day is None else days_site.operating(self),
        )

    day_by_day = attempted(days_site.day_by_day)
    money = attempted(money_site.money)
    base_case = attempted(changing.base_case)
    changes = cached_property(changing.changes)
    logged_months = attempted(changing.logged_months)
    upgrades = attempted(changing.upgrades)
    measure_next = attempted(changing.measure_next)
    deciding_range = cached_property(measuring.deciding_range)
    rules_price = attempted(changing.rules_price)

    # --- what it is used for; each explained where it is built --------------------------------

    monthly_flow = cached_property(water_site.monthly_flow)
    jet_plan = attempted(supply_site.jet_plan)
    circuits = cached_property(wiring_site.circuits)
    cable_prices = cached_property(wiring_site.cable_prices)
    day_use = cached_property(wiring_site.day_use)
    powers = cached_property(metering.powers)
    meter_findings = cached_property(metering.findings)
    phases = cached_property(phases_site.phases)
    wires = attempted(wiring_site.wires)
    house = cached_property(heat_site.house)
    warmth = attempted(heat_site.warmth)
    sharing = attempted(heat_site.sharing)

    # --- through the seasons ------------------------------------------------------------------

    log = cached_property(seasons_site.log)
    history = cached_property(seasons_site.history)
    log_year = attempted(log_site.log_year)
    upkeep = attempted(seasons_site.upkeep)
    winter_outlook = attempted(seasons_site.winter_outlook)
    jobs = cached_property(seasons_site.jobs)
    steps = cached_property(seasons_site.steps)

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
        return [Finding(each.level, each.where, view.told(each)) for each in self.findings(rooms)]

    def answer(self, key: str) -> Answer | None:
        """The answer to one question, such as ``"energy.annual.p50"``, or None where this study cannot say."""
        if key not in self._answers:
            self._answers[key] = ask(self, key)
        return self._answers[key]

    answer_findings = cached_property(telling.answer_findings)

    def results(self) -> dict[str, Any]:
        """The headline numbers, as plain numbers in named tables; what is not known is left out."""
        from .answers import numbers

        return numbers(self)

    def inputs(self) -> dict[str, str]:
        """Every file read so far, with the hash of its text."""
        here = self.path.resolve()
        files = sorted(self.folder.read, key=lambda each: (each.name != "site.toml", each))
        return {
            (
                each.relative_to(here)
                if each.is_relative_to(here)
                else Path("..", each.parent.name, each.name)
            ).as_posix(): text_hash(each)
            for each in files
        }
