"""hydrokit: dependable power from a small creek, from a bucket to a report a bank believes."""

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
        "stream.verticals": "velocity_area vertical_velocity",
        "stream.salt": "mixing_check salt_dose salt_slug",
        "stream.conductivity": "salt_calibration",
        "stream.slope_area": "slope_area",
        "stream.weir_board": "design_weir weir_gauging weir_head",
        "stream.ice": "open_water",
        "stream.weirs": "broad_crested cipolletti rectangular_weir",
        "stream.v_notch": "v_notch",
        "stream.rating": "Rating fit_rating",
        "stream.record": "read_record",
        "stream.extend": "extend_record",
        "stream.duration": "flow_duration",
        "stream.low_flow": "low_flow",
        "stream.floods": "flood",
        "stream.rights": "residual_flow usable_flow",
        "works.friction": "friction_factor",
        "works.hazen_williams": "hazen_williams",
        "works.pipe": "Line Pipe pipe_diameter pipe_flow pipe_loss",
        "works.channel": "manning part_full",
        "works.surge": "closing_time surge wave_speed",
        "works.basin": "settling_velocity",
        "works.frost": "freezing_time keep_open_flow",
        "works.insulation": "thermal_resistance",
        "works.fittings": "fitting",
        "works.pipe_sizes": "pipe_size",
        "works.intake": "crest orifice",
        "works.falling": "falling_line",
        "works.filling": "filling",
        "plant.jets": "jet_diameter jet_flow",
        "plant.turbine": "hydraulic_power specific_speed",
        "plant.choice": "turbine_choice",
        "plant.heat": "difference_held",
        "plant.pelton": "pelton",
        "plant.cable": "cable",
        "plant.cable_choice": "smallest_cable",
        "study.opening": "open_study",
        "study.study": "Study",
        "study.view": "View",
    }.items()
    for name in names.split()
}

# Public name of before -> name of today; these go with 0.3.
_RENAMED: dict[str, str] = {}

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
