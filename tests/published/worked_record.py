"""Worked examples of the record room that take more than one call."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from hydrokit.stream.duration import flow_duration
from hydrokit.stream.extend import move1
from hydrokit.stream.floods import annual_maxima, flood_of_peaks
from hydrokit.stream.frequency import gev_quantile, lp3_limits, pearson3_factor
from hydrokit.stream.low_flow import annual_minima, low_flow, low_flow_of_minima
from hydrokit.stream.record import read_record
from hydrokit.stream.rights import resolve_rights
from hydrokit.stream.rules import tennant
from hydrokit.units import Q_

DATA = Path(__file__).parents[1] / "data"


def plotting_positions(count, ranks):
    """Exceedance in per cent of the flows of some ranks among so many days of different flow."""
    days = pd.date_range("2001-01-01", periods=count)
    flows = np.arange(count, 0, -1) / 1000
    curve = flow_duration(pd.Series(flows, index=days, name="flow_m3s"))
    return 100 * curve.exceedance_of(Q_(flows[np.array(ranks) - 1], "m^3/s"))


def return_periods(count, ranks):
    """Return period in steps of the flows of some ranks among so many."""
    return 100 / plotting_positions(count, ranks)


def duration_of(file, exceedance):
    """Flow at exceedances of a record in the test data."""
    return flow_duration(read_record(DATA / file)).flow_at(exceedance)


def flow_ratios(file, exceedance):
    """Ratio of the flow at one exceedance to that at one minus it."""
    curve = flow_duration(read_record(DATA / file))
    exceedance = np.array(exceedance)
    return (curve.flow_at(exceedance) / curve.flow_at(1 - exceedance)).m_as("")


def mean_of(file):
    return Q_(flow_duration(read_record(DATA / file)).mean_m3s, "m^3/s")


def mean_annual_extremes(file, days, which, start_month):
    """Mean over the years of the yearly moving-mean minima or maxima, parts of years included."""
    extremes = {"min": annual_minima, "max": annual_maxima}[which]
    record = read_record(DATA / file)
    choices = {"start_month": start_month, "part_years": True, "within_years": True}
    return Q_([float(extremes(record, each, **choices).mean()) for each in days], "m^3/s")


def low_flow_of(file, days, years, method):
    return low_flow(read_record(DATA / file), days, years, method).flow


def low_flows(minima, nonexceedance):
    """Log-Pearson III quantiles of yearly minima."""
    return Q_(
        [low_flow_of_minima(minima, 1 / chance).flow_m3s for chance in nonexceedance], "m^3/s"
    )


def floods(peaks, years):
    """Log-Pearson III quantiles of yearly peaks, station skew."""
    return Q_([flood_of_peaks(peaks, each).flow_m3s for each in years], "m^3/s")


def log_pearson(mean, standard_deviation, skew, exceedance):
    """Quantiles in cfs from moments of the base-10 logarithms of cfs."""
    factor = pearson3_factor(skew, 1 - np.array(exceedance))
    return Q_(10 ** (mean + standard_deviation * factor), "cfs")


def floods_with_skew(peaks, skew, exceedance):
    """Log-Pearson III quantiles with a skew given from outside."""
    found = flood_of_peaks(peaks, 10)
    factor = pearson3_factor(skew, 1 - np.array(exceedance))
    return Q_(10 ** (found.mean + found.standard_deviation * factor), "m^3/s")


def flood_limits(peaks, skew, exceedance, level):
    """Lower and upper limit with a skew given from outside."""
    found = flood_of_peaks(peaks, 10)
    factors = lp3_limits(pearson3_factor(skew, 1 - exceedance), found.count, level)
    return Q_([10 ** (found.mean + found.standard_deviation * each) for each in factors], "m^3/s")


def gumbel_line(years, flows, wanted):
    """Flow of a return period on the Gumbel distribution through two others."""
    reduced = [gev_quantile(0.0, 1.0, 0.0, 1 - 1 / each) for each in years]
    scale = (flows[1] - flows[0]) / (reduced[1] - reduced[0])
    return gev_quantile(flows[0] - scale * reduced[0], scale, 0.0, 1 - 1 / wanted)


def extension_line(there, here):
    """Slope, intercept and correlation of MOVE.1 between base-10 logarithms."""
    return list(move1(np.log10(there), np.log10(here)))


def tennant_shares(grades):
    """Share of the mean flow in January and in July for some grades."""
    days = pd.date_range("2019-10-01", "2021-09-30")
    steady = pd.Series(1.0, index=days, name="flow_m3s")
    kept = [resolve_rights([tennant(grade)], record=steady).keep_m3s for grade in grades]
    return [[flow[month] for month in (0, 6)] for flow in kept]
