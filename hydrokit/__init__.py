"""hydrokit: dependable power from a small creek, from a bucket to a report a bank believes."""

from .result import shown_by as _shown_by

__version__ = "0.2.0"

# Public name -> module it lives in. Nothing is imported until it is asked for (PEP 562).
_HOME = {
    name: module
    for module, names in {
        "errors": "Finding HydrokitError InputError RangeWarning RunError UnitsError",
        "units": "Q_ units",
        "water": "air_pressure density head_to_pressure pressure_to_head vapour_pressure viscosity",
        "stream.gauging": "Gauging gain_or_loss total",
        "stream.bucket": "bucket",
        "stream.floats": "float_coefficient float_gauging",
        "stream.readings": "read_stage",  # the level of a logger, before a rating turns it to flow
        "stream.verticals": "velocity_area vertical_velocity",
        # Salt poured as brine, of a strength that need not be known.
        "stream.salt": "mixing_check salt_dose salt_slug solution_slug",
        "stream.conductivity": "relative_calibration salt_calibration",
        "stream.slope_area": "slope_area",
        # weir_coefficient: of one's own plate, held against a bucket.
        "stream.weir_plate": "design_weir weir_coefficient weir_gauging weir_head",
        "stream.ice": "open_water",
        "stream.instruments": "flat_line_flags spike_flags",  # a logger tested before it is believed
        "stream.weirs": "broad_crested cipolletti rectangular_weir",
        "stream.v_notch": "v_notch",
        "stream.rating": "Rating fit_rating",
        "stream.one_more_gauging": "one_more_gauging",
        "stream.record": "read_record",
        "stream.extend": "extend_record",
        "stream.duration": "flow_duration",
        "stream.low_flow": "low_flow",
        "stream.floods": "flood",
        # bypassed_reach: what an authority asks, the flow left between intake and tailrace.
        "stream.rights": "bypassed_reach residual_flow usable_flow",
        "works.friction": "friction_factor",
        "works.hazen_williams": "hazen_williams",
        "works.pipe": "Line Pipe pipe_diameter pipe_flow pipe_loss",
        "works.channel": "manning part_full",
        # A channel and its trap for gravel, dimensioned by hand before a site file has them.
        "works.section": "best_section channel_slope freeboard",
        "works.forebay": "gravel_trap transition_length",
        # The wave from a pipe's dimension ratio, and the closed form that a slow closure is held against.
        "works.surge": "closing_time slow_closure surge wave_speed wave_speed_plastic",
        "works.basin": "settling_velocity",
        "works.frost": "freezing_time keep_open_flow",
        # How thick ice grows, and whether a thermometer in the creek can be believed.
        "works.ice": "ice_thickness stream_thermometer",
        "works.screens": "slot_open_share",  # of a screen at hand, measured with a caliper
        "works.insulation": "film_in_still_air thermal_resistance",  # the film, where wind does not reach
        "works.fittings": "contraction enlargement fitting",  # steps between two bores
        "works.pipe_sizes": "pipe_size",
        "works.intake": "crest orifice orifice_head",  # the inverse of orifice
        "works.falling": "falling_line",
        "works.filling": "filling",
        # Air in an open end, and the pressure at a high point, from what was measured there.
        "works.clearing": "outlet_depth outlet_flows",
        "works.venting": "high_point_pressure",
        # jet_velocity, best_flow, best_jet_diameter: the classic third of the head, which a sweep
        # is held against.
        "plant.jets": "best_flow best_jet_diameter jet_diameter jet_flow jet_flow_at_head jet_velocity",
        "plant.turbine": "hydraulic_power specific_speed",
        "plant.choice": "turbine_choice",
        # A list of surfaces and a sum of degree-days, for a house before a site file has it.
        "plant.heat": "degree_day_heat difference_held surface_loss",
        "plant.pelton": "bucket_efficiency jets_needed pelton turgo",
        "plant.reaction": "at_other_head axial_runner pump_backwards",  # low heads, and pumps run as turbines
        # A manufacturer's table turned into losses; the speed a generator may have at all.
        "plant.losses": "loss_curve",
        "plant.generator": "synchronous_speed",
        "plant.electric": "breaker_load",
        "plant.phases": "neutral_current starting_dip",  # as the trade's notes have them
        # For the electrician: a gauge by its law, a cable in the heat.
        "plant.gauge": "gauge_diameter",
        "plant.ampacity": "ambient_factor",
        "plant.cable": "cable",
        "plant.cable_choice": "smallest_cable",
        # What a page rests on, by name: the chain, its year, how sure it is, what it costs.
        "plant.chain": "Chain",
        "energy.year": "annual_energy",
        "energy.year_power": "duration_energy",  # the sum under a duration curve, where there is no record
        "energy.uncertainty": "energy_uncertainty",
        "energy.economic_diameter": "economic_diameter",
        "energy.money": "levelised_cost payback",
        # The sums behind a bank's table, a line at a time.
        "energy.discounting": (
            "annuity_factor building_interest capital_recovery net_present_value nominal_rate "
            "real_rate replacement_value"
        ),
        "energy.borrowing": "loan_payment",
        "running.commission": "commission",
        "running.diagnose": "diagnose",
        "study.opening": "open_study",
        "study.variant": "save_variant",
        "report.side_by_side": "side_by_side",
        "study.study": "Study",
        "study.view": "View",
    }.items()
    for name in names.split()
}

# Public name of before -> name of today; these go with 0.3.
_RENAMED = {"summit_pressure": "high_point_pressure"}

__all__ = sorted(_HOME)


def __getattr__(name):
    if name in _RENAMED:
        from warnings import warn

        told = (
            f"hydrokit.{name} is called hydrokit.{_RENAMED[name]} now; the old name goes with 0.3"
        )
        warn(told, DeprecationWarning, stacklevel=2)
        name = _RENAMED[name]
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__():
    return sorted({*globals(), *__all__})


def _later(module, name):
    """A function of a room further down, whose module is loaded when it is first called."""

    def ask(*given):
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{module}"), name)(*given)

    return ask


_shown_by(
    html=_later("report.showing", "html_of"),
    table=_later("report.showing", "frame_of"),
    plot=_later("report.plotting", "plot"),
)
