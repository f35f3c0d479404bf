"""A site with everything worked out from it, each result computed when first asked for and kept."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding, sure
from ..files import shown_path, text_hash
from ..sentences import Sentence
from ..site import field_visits, meter_sheet, plausible, reaches, sheets
from ..site import readings as powerhouse
from ..site.schema import Site
from ..site.thin_study import examples_left
from . import telling
from .answer import Answer
from .build import accounts as build_accounts
from .build import (
    assumed,
    commissioned,
    days,
    deciding,
    extremes,
    faults,
    flow_regime,
    forebay,
    gate_meters,
    gauging_plans,
    heat,
    intake_weir,
    laid_pipes,
    limiting,
    metering,
    open_reaches,
    penstock_pressures,
    pipes,
    plant_findings,
    running,
    safeguards,
    seasons,
    sketch,
    uncertain,
    wiring,
    without_effect,
)
from .build import beside as build_beside
from .build import circuits as build_circuits
from .build import demand as build_demand
from .build import diversion as build_diversion
from .build import freeze as build_freeze
from .build import judged as build_judged
from .build import log as build_log
from .build import machine_choice as build_machine_choice
from .build import machine_sets as build_machine_sets
from .build import money as build_money
from .build import monthly_flow as build_monthly_flow
from .build import one_gauging as build_one_gauging
from .build import operating_losses as build_operating_losses
from .build import phases as build_phases
from .build import plan as build_plan
from .build import plant as build_plant
from .build import rating as build_rating
from .build import record as build_record
from .build import record_beside as build_record_beside
from .build import record_method as build_record_method
from .build import rights as build_rights
from .build import sizing as build_sizing
from .build import stage as build_stage
from .build import supply as build_supply
from .build import trends as build_trends
from .build import upgrades as build_upgrades
from .build import upkeep as build_upkeep
from .build import valuing as build_valuing
from .build import water_draws as build_water_draws
from .build import waterway as works
from .build import winter as build_winter
from .build import year as build_year
from .build import year_by_month as build_year_by_month
from .questions import ask
from .telling import attempted
from .variant import changed_site
from .view import View

if TYPE_CHECKING:
    from ..energy.uncertainty import EnergyUncertainty
    from ..files import Entries
    from ..plant.chain import Chain
    from ..stream.duration import Duration
    from ..stream.extend import Extension
    from ..stream.rights import Rights
    from ..stream.transfer import TransferError
    from ..works.pipe import Line
    from ..works.profile import Profile
    from ..works.weir import IntakeWeir

__all__ = ["Study"]


class Study:
    """One site. Its properties are the results; each is one call of a lower room.

    A property is None where the site file lacks what it needs, or where it could not be worked out;
    :attr:`refused` has the reasons of those.
    """

    def __init__(
        self, path: Path, site: Site, changes: Mapping[str, object] = MappingProxyType({})
    ) -> None:
        self.path = Path(path)
        self.site = site
        self.variant = dict(changes)
        self.refused: dict[str, str | Sentence] = {}
        self._answers: dict[str, Answer | None] = {}
        self.folder = sheets.Folder(self.path)
        self.folder.read[self.path.resolve() / "site.toml"] = sheets.stamp(self.path / "site.toml")

    def __repr__(self) -> str:
        return f"Study({self.name!r}, {shown_path(self.path)})"

    def changed(self, changes: Mapping[str, object]) -> Study:
        """The same study with keys changed on top of the changes it has; see :func:`open_study`."""
        whole = self.variant | dict(changes)
        return Study(self.path, changed_site(self.path, whole), whole)

    @property
    def unchanged(self) -> bool:
        """Whether every file read so far is still as it was."""
        return all(
            path.is_file() and sheets.stamp(path) == seen for path, seen in self.folder.read.items()
        )

    @property
    def name(self) -> str:
        """Name of the creek or plant."""
        return self.site.site.name

    @property
    def place(self) -> str:
        """Where it is, in words; may be empty."""
        return self.site.site.place or ""

    @property
    def exists(self) -> bool:
        """Whether the plant runs today."""
        return self.site.site.stage_of_work == "existing"

    @property
    def altitude_m(self) -> float | None:
        """Height of the intake above sea level."""
        return self.site.site.altitude

    @property
    def water_temperature_k(self) -> float:
        """Usual temperature of the water; 10 °C where the site does not say."""
        return self.site.site.water_temperature

    @property
    def winter(self) -> tuple[int, ...]:
        """Months counted as winter."""
        return self.site.site.winter

    def view(self, display: str = "") -> View:
        """How to show results: the units asked for, else those of the site file."""
        system = display or self.site.site.display
        typical = None if self.record is None else float(np.nanmedian(self.record))
        return View.for_flow(system, typical, self.site.site.currency)

    # --- the creek --------------------------------------------------------------------------

    # A property that is one call with the study itself is that function, its documentation included.
    visits_gauged = cached_property(field_visits.visits_gauged)
    gaugings = cached_property(field_visits.gaugings)
    field_sheets = cached_property(field_visits.field_sheets)
    visit_findings = cached_property(field_visits.findings)
    meter_ways = cached_property(meter_sheet.meter_ways)
    leaks = cached_property(reaches.leaks)
    rating = cached_property(build_rating.rating)
    stage_record = cached_property(build_stage.stage_record)

    stage = cached_property(build_stage.stage)
    temperature = cached_property(build_record.temperature)
    snow = cached_property(build_record.snow)
    measured_record = cached_property(build_record.measured_record)
    own_record = cached_property(build_record.own_record)
    gaps = cached_property(build_record.gaps)

    @cached_property
    def extension(self) -> Extension | None:
        """The own record extended from a neighbour's, or None."""
        return build_rights.extension(self.folder, self.site, self.own_record)

    extension_ways = cached_property(build_record.extension_ways)

    record = cached_property(build_record.record)
    record_findings = cached_property(build_record.record_findings)
    beside_record = cached_property(build_record_beside.beside)
    catchments = attempted(build_record_beside.catchments)
    record_method = cached_property(build_record_method.record_method)
    water_findings = cached_property(build_record_method.water_findings)

    uncertainty_findings = cached_property(uncertain.uncertainty_findings)
    assumptions = cached_property(assumed.assumptions)
    record_uncertainty = cached_property(build_rights.record_uncertainty)
    rating_error = cached_property(build_rights.rating_error)

    @property
    def transfer_error(self) -> TransferError | None:
        """Error of the days estimated from another creek, by flow; None where all are the creek's own."""
        return None if self.extension is None else self.extension.error

    @cached_property
    def duration(self) -> Duration | None:
        """Flow duration curve of the record, or None."""
        from ..stream.duration import flow_duration

        if self.record is None:
            return None
        return flow_duration(
            self.record, self.rating_error or self.record_uncertainty, transfer=self.transfer_error
        )

    flow_regime = cached_property(flow_regime.flow_regime)
    water_draws = cached_property(build_water_draws.water_draws)

    @cached_property
    def rights(self) -> Rights:
        """What must stay and what may be taken, by month."""
        return build_rights.rights(self.folder, self.site, self.record)

    usable = cached_property(build_rights.usable)
    low_flows = cached_property(extremes.low_flows)
    floods = cached_property(extremes.floods)
    intake_flood = cached_property(extremes.intake_flood)
    expected_range = cached_property(gauging_plans.expected_range)
    weir_plan = attempted(gauging_plans.weir_plan)
    salt_plan = attempted(gauging_plans.salt_plan)

    # --- the works --------------------------------------------------------------------------

    @cached_property
    def profile(self) -> Profile | None:
        """Surveyed profile of the penstock, or None."""
        return pipes.profile(self.folder, self.site.penstock, "[penstock] profile")

    @cached_property
    def diversion(self) -> Profile | None:
        """Surveyed profile of the diversion line, or None."""
        return pipes.profile(self.folder, self.site.diversion, "[diversion] profile")

    head = cached_property(pipes.head)
    head_findings = cached_property(pipes.head_findings)

    @cached_property
    def penstock(self) -> Line | None:
        """The penstock's pipes as one line, or None."""
        return pipes.line(self.folder, self.site, self.profile)

    diversion_line = cached_property(build_diversion.diversion_line)
    supply = cached_property(works.supply)
    states = cached_property(works.states)
    full_flow_m3s = cached_property(build_diversion.full_flow)
    line_air = attempted(build_diversion.line_air)
    reaches = cached_property(open_reaches.reaches)
    meters = cached_property(gate_meters.meters)

    @attempted
    def intake_weir(self) -> IntakeWeir | None:
        """The weir at the intake with its notch and its flood, or None."""
        return intake_weir.weir(self)

    overflow = attempted(forebay.overflow)
    open_findings = cached_property(forebay.findings)
    judged_findings = cached_property(build_judged.judged)
    cover_findings = cached_property(build_judged.covered)
    log_findings = cached_property(build_judged.of_the_log)
    ignored_findings = cached_property(build_judged.ignored)
    unusual_findings = cached_property(plausible.findings)
    section = attempted(penstock_pressures.section)
    pressures = attempted(penstock_pressures.pressures)
    single_surges = cached_property(penstock_pressures.single_surges)
    bends = cached_property(penstock_pressures.bends)
    bridges = cached_property(laid_pipes.bridges)
    stretches = cached_property(laid_pipes.stretches)
    frost = attempted(laid_pipes.frost)
    climate = cached_property(build_freeze.climate)
    cold = cached_property(build_freeze.cold)
    frosty = cached_property(build_freeze.frosty)
    freeze = cached_property(build_freeze.freeze)
    felt = cached_property(build_freeze.felt)

    # --- the plant --------------------------------------------------------------------------

    @cached_property
    def readings(self) -> powerhouse.Readings | None:
        """Readings at the powerhouse, or None."""
        return powerhouse.readings(self.folder, self.site)

    pipes_tried = cached_property(build_sizing.pipes_tried)
    sizing = attempted(build_sizing.sizing)
    pipe_findings = cached_property(plant_findings.pipe_findings)
    machine_findings = cached_property(plant_findings.machine_findings)
    sizing_moves = cached_property(build_sizing.sizing_moves)
    plan = attempted(build_plan.plan)
    beside = cached_property(build_beside.beside)
    machine_choice = cached_property(build_machine_choice.machine_choice)
    settings = cached_property(build_machine_choice.settings)
    overruled_findings = cached_property(plant_findings.overruled_findings)
    generator_findings = cached_property(plant_findings.generator_findings)

    first_fit = cached_property(commissioned.first_fit)
    baseline = cached_property(commissioned.baseline)
    missing = attempted(running.missing)

    plant = cached_property(build_plan.plant)

    @cached_property
    def described(self) -> Chain | None:
        """The plant as the site file alone has it, or None where it leaves the size open."""
        return build_plant.chain(self, self.penstock, None, None)

    expectation = cached_property(running.expectation)
    noise = cached_property(running.noise)
    card = attempted(running.card)
    signatures = attempted(running.signatures)
    earlier_signatures = attempted(commissioned.earlier_signatures)
    card_steps = cached_property(faults.card_steps)
    faults_seen = cached_property(faults.faults_seen)
    rehearsal = cached_property(running.rehearsal)
    hardest = cached_property(faults.hardest)
    least_seen = cached_property(running.least_seen)
    least_seen_ratio = cached_property(faults.least_seen_ratio)
    visits = cached_property(running.visits)

    diagnose = running.diagnose

    bracket = attempted(running.bracket)

    # --- the year ---------------------------------------------------------------------------

    demand_w = cached_property(build_demand.demand)
    other_w = cached_property(build_demand.other_w)
    use = cached_property(build_demand.use)
    use_findings = cached_property(build_demand.findings)
    questionable_findings = cached_property(without_effect.findings)
    year = attempted(days.year)

    @attempted
    def energy_uncertainty(self) -> EnergyUncertainty | None:
        """Energy with everything that is not known about it, or None."""
        from ..energy.uncertainty import energy_uncertainty

        if self.year is None or self.plant is None or not self.year.rows:
            return None
        draws = self.site.uncertainty.draws
        return energy_uncertainty(
            sure(self.record),
            self.rights,
            self.plant,
            uncertain.uncertainties(self),
            draws,
            1,
            build_year.outages(self.site),
            self.demand_w,
            metered=running.metered(self),
            winter=self.winter,
            planned=not self.exists,
            operating=None if self.day_by_day is None else days.operating(self),
        )

    @property
    def doubt(self) -> EnergyUncertainty | None:
        """The name of before of :attr:`energy_uncertainty`; goes with 0.3."""
        warnings.warn(
            "study.doubt is called study.energy_uncertainty now; the old name goes with 0.3",
            DeprecationWarning,
            stacklevel=2,
        )
        return self.energy_uncertainty

    day_by_day = attempted(days.day_by_day)
    valuing = cached_property(build_valuing.valuing)
    money = attempted(build_money.money)
    accounts = attempted(build_accounts.accounts)
    debt_cover = attempted(build_accounts.debt_cover)
    npv_moves = cached_property(build_accounts.npv_moves)
    operating_losses = attempted(build_operating_losses.operating_losses)
    year_by_month = attempted(build_year_by_month.year_by_month)
    machine_sets = cached_property(build_machine_sets.machine_sets)
    shared_jets = cached_property(build_machine_sets.shared_jets)
    uncertainty_steps = cached_property(uncertain.uncertainty_steps)
    base_case = attempted(build_upgrades.base_case)
    limiting_days = cached_property(limiting.limiting_days)
    changes = cached_property(build_upgrades.changes)
    logged_months = attempted(build_upgrades.logged_months)
    upgrades = attempted(build_upgrades.upgrades)
    measurements = attempted(build_upgrades.measurements)
    measure_next = cached_property(build_upgrades.measure_next)
    one_gauging = cached_property(build_one_gauging.one_gauging)
    deciding_range = cached_property(deciding.deciding_range)
    rules_price = attempted(build_upgrades.rules_price)

    # --- what it is used for; each explained where it is built --------------------------------

    monthly_flow = cached_property(build_monthly_flow.monthly_flow)
    jet_plan = attempted(build_supply.jet_plan)
    circuits = cached_property(build_circuits.circuits)
    cable_prices = cached_property(build_circuits.cable_prices)
    day_use = cached_property(build_circuits.day_use)
    powers = cached_property(metering.powers)
    meter_findings = cached_property(metering.findings)
    rule_of_thumb = cached_property(metering.rule_of_thumb)
    phases = cached_property(build_phases.phases)
    wires = attempted(wiring.wires)
    electrical = attempted(safeguards.electrical)
    sketch = cached_property(sketch.sketch)
    house = cached_property(heat.house)
    warmth = attempted(heat.warmth)
    sharing = attempted(heat.sharing)

    # --- through the seasons ------------------------------------------------------------------

    log = cached_property(seasons.log)
    history = cached_property(seasons.history)
    log_year = attempted(build_log.log_year)
    log_told = attempted(build_log.log_told)
    upkeep = attempted(build_upkeep.upkeep)
    cleaning_cost = attempted(build_upkeep.cleaning_cost)
    trends = attempted(build_trends.trends)
    winter_outlook = attempted(build_winter.winter_outlook)
    standing = cached_property(build_winter.standing)
    alarms = cached_property(build_winter.alarms)
    frazil_seen = cached_property(build_winter.frazil_seen)
    jobs = cached_property(seasons.jobs)
    jobs_together = cached_property(seasons.jobs_together)
    steps = cached_property(seasons.steps)

    # --- for the reader and the runner --------------------------------------------------------

    def read(self) -> None:
        """Read everything the site file names.

        Raises
        ------
        InputError
            Every mistake at once.
        """
        telling.read(self)

    def findings(self, rooms: Iterable[str] | None = None) -> list[Finding]:
        """What a reader must know, gathered from everything that was worked out."""
        return telling.findings(self, rooms)

    def told(self, display: str = "", rooms: Iterable[str] | None = None) -> list[Finding]:
        """The findings in the reader's units."""
        view = self.view(display)
        return [Finding(each.level, each.where, view.told(each)) for each in self.findings(rooms)]

    def answer(self, key: str) -> Answer | None:
        """The answer to one question, such as ``"energy.annual.p50"``; None where it is not known."""
        if key not in self._answers:
            self._answers[key] = ask(self, key)
        return self._answers[key]

    answer_findings = cached_property(telling.answer_findings)

    @property
    def examples_left(self) -> tuple[Finding, ...]:
        """Values of a new study that are still its examples."""
        here = self.path.resolve()
        return examples_left(each for each in self.folder.read if each.is_relative_to(here))

    @property
    def sheet_notes(self) -> tuple[Finding, ...]:
        """How the files read so far were understood, where that is not as they stand."""
        return tuple(self.folder.notes)

    def results(self) -> Entries:
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
                else Path("..", *each.parts[-2:])
            ).as_posix(): text_hash(each)
            for each in files
        }
