"""Published winter examples that take several calls."""

from __future__ import annotations

from hydrokit.works.frost import freezing_time
from hydrokit.works.ice import stream_thermometer
from hydrokit.works.insulation import thermal_resistance


def pipe_times(inside, water, air, pick="to_zero", **around):
    """Hours to 0 °C (or another of the times) for a pipe described by its layers."""
    times = freezing_time(inside, thermal_resistance(**around), air, water)
    return getattr(times, pick).to("h")


def hours_from_zero(inside, air, pick, **around):
    """Hours to a share of ice, for water that is at 0 °C already."""
    return pipe_times(inside, "0 degC", air, pick, **around)


def coldest_credible_reading():
    """Lowest reading, in thousandths of a degree below zero, that a stream thermometer is still believed."""
    believed = [
        each
        for each in range(200)
        if not str(stream_thermometer(f"{-each / 1000} degC")).startswith("no stream")
    ]
    return float(max(believed))
