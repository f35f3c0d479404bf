"""A plant's year walked day by day, by a model that knows nothing of the package: from site file and sheets to kWh.

It reads site.toml and the CSVs itself and uses numpy and pandas only. What the sizing chose is handed
to it: bores, inside diameter of the pipe, size of the generator. Everything else is worked out again:
record, residual flow, friction (Colebrook and White, by iteration), under-fed jets and a runner held at
one speed, generator, cable, visits, frost, stops; what leaks on the way, a pond, a yearly volume, a ramp.
"""

import tomllib

import numpy as np
import pandas as pd

__all__ = ["model", "number", "offered", "plant_of", "record_of", "stays_of", "walked"]

GRAVITY, DENSITY, VISCOSITY = 9.80665, 999.85, 1.385e-6  # water of 8 °C, IAPWS-95
RESISTIVITY = (
    1.724e-8 * 1.13
)  # copper at about 50 °C, Ωm: IEC 60228 and 0.39 % a kelvin; the cable loses under 1 %
CONSTANT = {
    "synchronous": 0.45,
    "permanent magnet": 0.20,
}  # share of a generator's losses that is always there, common practice


def number(text):
    """``"0.03 mm"`` in SI."""
    value, unit = text.split()[0], text.split()[-1]
    return (
        float(value)
        * {"m": 1.0, "mm": 1e-3, "L/s": 1e-3, "%": 0.01, "mm2": 1e-6, "V": 1.0, "degC": 1.0}[unit]
    )


def sheet(folder, file):
    return pd.read_csv(folder / file, comment="#")


def daily(path, column, scale):
    table = pd.read_csv(path, comment="#", parse_dates=["date"]).set_index("date")[column] * scale
    return table.asfreq("D")


def record_of(folder, site):
    own = daily(folder / site["stream"]["record"], "flow [L/s]", 1e-3)
    if "neighbour_record" not in site["stream"]:
        return own
    # MOVE.1 (Hirsch, 1982): the line of equal variance between the logarithms of the days that both have
    other = daily(folder / site["stream"]["neighbour_record"], "flow [m3/s]", 1.0)
    both = pd.DataFrame({"own": own, "other": other}).dropna()
    logs = np.log(both[(both > 0).all(axis=1)])
    slope = logs["own"].std() / logs["other"].std()
    made = np.exp(logs["own"].mean() + slope * (np.log(other) - logs["other"].mean()))
    return own.reindex(other.index.union(own.index)).fillna(made)


def stays_of(record, site):
    """What must stay on each day."""
    keep = pd.Series(0.0, record.index)
    for rule in site["rights"]["residual"]:
        level = (
            np.quantile(record.dropna(), 1 - number(rule["exceedance"]), method="weibull")
            if rule["rule"] == "percentile"
            else number(rule["flow"])
        )
        holds = record.index.month.isin(rule.get("months", range(1, 13)))
        keep = np.maximum(keep, level * holds)
    return keep


def usable_of(record, site):
    left = (record - stays_of(record, site)).clip(lower=0.0)
    return np.minimum(left, number(site["rights"]["licence"]))


def plant_of(folder, site, bores, coefficient, inside_m, generator_w, suits=None):
    """Net watts of so many jets at usable flows, and the flow they take when fed.

    `suits` is the speed of the jets that the runner was bought for; that of these jets, fed, when not given.
    """
    line = sheet(folder, site["penstock"]["profile"]).to_numpy(dtype=float)
    head, length = (
        line[0, 1] - line[-1, 1],
        np.hypot(*np.diff(line[1:], axis=0).T).sum() + np.hypot(*np.diff(line[:2], axis=0).T).sum(),
    )
    pipe, fittings = (
        site["penstock"]["pipe"][0],
        site["penstock"]["entry"] + site["penstock"]["pipe"][0]["fittings"],
    )
    area = np.pi / 4 * inside_m**2
    efficiency, generator = (
        number(site["turbine"]["efficiency"].split("±")[0].strip()),
        site["generator"],
    )
    lost = 1 / number(generator["efficiency"]) - 1
    constant, square = CONSTANT[generator["kind"]] * lost, (1 - CONSTANT[generator["kind"]]) * lost
    cable = site["cable"]
    three = cable["phases"] == "three"
    ohm = RESISTIVITY * number(cable["length"]) * (1 if three else 2) / number(cable["size"])

    def loss(flow):
        speed, factor = flow / area, 0.02
        for _ in range(60):
            factor = (
                -2
                * np.log10(
                    number(pipe["roughness"]) / inside_m / 3.7
                    + 2.51 * VISCOSITY / (speed * inside_m * np.sqrt(factor))
                )
            ) ** -2
        return (factor * length / inside_m + fittings) * speed**2 / (2 * GRAVITY)

    def power(flow, jets):
        opening = coefficient * np.pi / 4 * bores[0] ** 2 * jets
        low, high = 0.0, opening * np.sqrt(2 * GRAVITY * head)
        for _ in range(60):
            middle = (low + high) / 2
            left = head - (loss(middle) if middle > 0 else 0.0)
            low, high = (
                (middle, high) if left > (middle / opening) ** 2 / (2 * GRAVITY) else (low, middle)
            )
        used = np.minimum(flow, low)
        shaft = DENSITY * GRAVITY * used * (used / opening) ** 2 / (2 * GRAVITY) * efficiency
        # buckets held at one speed before a slower jet: Euler's 4x(1 - x), best at x = 1/2 when the jets are fed;
        # of a generator with magnets nobody said more: half of its speed is taken as held
        held = 0.5 if generator["kind"] == "permanent magnet" else 1.0
        jet = np.maximum(used, 1e-12) / opening
        x = np.minimum(0.5 * ((suits or low / opening) / jet) ** held, 1.0)
        shaft = shaft * 4 * x * (1 - x)
        x = np.maximum(shaft / generator_w - constant, 0.0)
        out = generator_w * 2 * x / (1 + np.sqrt(1 + 4 * square * x))
        return out - ohm * (out / number(cable["voltage"])) ** 2, low

    return power


def visited(power, every, gain, first):
    """Which row of `power` is open each day; whoever comes on a day of visits opens what is best, if it is worth it."""
    now, rows = int(np.argmax(power[:, 0])), []
    for day in range(power.shape[1]):
        best = int(np.argmax(power[:, day]))
        if (day - first) % every == 0 and power[best, day] > power[now, day] * (1 + gain):
            now = best
        rows.append(now)
    return np.array(rows)


def chance_frozen(air, a_year, freezes, standing):
    """Chance on each day that a stop of that day or of one before it holds the plant, and that of a stop of that day alone."""
    cold = air <= freezes
    thaws = (air.rolling(5, min_periods=1).mean() > 0.0) & (air > 0.0)
    chance = a_year * len(air) / 365.25 / cold.sum()
    free, found = 1.0, []
    for is_cold, thaw, stands in zip(cold, thaws, standing):
        if thaw:
            free = 1.0
        if is_cold:
            free *= 0.0 if stands else 1 - chance
        found.append(1 - free)
    return np.array(found), chance * cold.to_numpy()


def model(folder, bores, coefficient, inside_m, generator_w):
    """Mean year of whole water years: kWh gross, net, lost to visits and frost; days in each state."""
    site = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    record = record_of(folder, site)
    flow = usable_of(record, site)
    flow = np.minimum(flow, number(site["intake"]["capacity"].split("±")[0].strip()))
    power = plant_of(folder, site, bores, coefficient, inside_m, generator_w)
    each, fed = zip(*(power(flow.to_numpy(), jets) for jets in range(1, len(bores) + 1)))
    each = np.array(each)
    habits, outage = site["operation"], site["outage"]
    every, gain = habits["visit_days"], number(habits["jet_dead_band"])
    walks = [visited(each, every, gain, first) for first in range(every)]
    days = np.arange(len(flow))
    made = [each[rows, days] for rows in walks]
    frost, out = np.zeros(len(flow)), np.zeros(len(flow))
    if "stops_per_winter" in habits:
        air = (
            daily(folder / site["stream"]["temperature"], "temperature [degC]", 1.0)
            .reindex(flow.index)
            .interpolate()
        )
        for watts in made:
            held, today = chance_frozen(
                air, habits["stops_per_winter"], number(habits["freezes_below"]), watts <= 0
            )
            frost += (held - today) * watts / every
            out += (held - today) * (watts > 0) / every
    lengths = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    months = np.array(outage["planned_months"])
    planned = np.isin(np.arange(1, 13), months) * outage["planned_days"] / lengths[months - 1].sum()
    runs = ((1 - planned) * (1 - number(outage["unplanned"])))[flow.index.month - 1]
    label = flow.index.year + (flow.index.month >= 10)
    whole = pd.Series(1, flow.index).groupby(label).sum() >= 365
    counted, years = np.isin(label, whole.index[whole]), int(whole.sum())

    def mean_year(values):
        return float(values[counted].sum() / years)

    best, hands = each.max(axis=0), np.mean(made, axis=0)
    state = {"full": 0.0, "part": 0.0, "underfed": 0.0}
    for rows, watts in zip(walks, made):
        under_fed = flow.to_numpy() < np.array(fed)[rows] * (1 - 1e-9)
        left = runs * (1 - out) * (watts > 0) / every
        state["underfed"] += mean_year(left * under_fed)
        state["full"] += mean_year(left * ~under_fed * (rows == len(bores) - 1))
        state["part"] += mean_year(left * ~under_fed * (rows < len(bores) - 1))
    return {
        "gross": mean_year(best * 0.024),
        "net": mean_year((hands - frost) * runs * 0.024),
        "visits": mean_year((best - hands) * runs * 0.024),
        "frost": mean_year(frost * runs * 0.024),
        **state,
        "stopped": mean_year(np.ones(len(flow))) - sum(state.values()),
    }


# --- what is taken at the creek, and what of it comes to the jets -----------------------------------


def offered(natural, *, keep=0.0, rate=np.inf, most=np.inf, volume=np.inf, ramp=np.inf):
    """What a plant takes of the creek day by day: no more than it can use, out of a yearly volume, rising so fast at most."""
    taken, before, left, year = [], np.inf, volume, None
    for day, flow, stays in zip(natural.index, natural, np.broadcast_to(keep, len(natural))):
        if year != day.year + (day.month >= 10):
            year, left = day.year + (day.month >= 10), volume
        take = min(max(flow - stays, 0.0), rate, most, left / 86400, before + ramp)
        left -= take * 86400
        before = take
        taken.append(take)
    return pd.Series(taken, natural.index)


def walked(folder, taken, jets, plant, *, lost=0.0, gate=np.inf, pond_m3=0.0):
    """kWh of a mean whole year: every day the best number of jets, of what leaks on the way and what a pond has left.

    `plant` is what :func:`plant_of` takes: bores, coefficient, inside diameter, size of the generator, and
    of a changed plant the speed of jets that its runner was bought for.
    """
    site = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    power = plant_of(folder, site, *plant)
    numbers = range(1, jets + 1)
    fed = [power(np.array([1.0]), count)[1] for count in numbers]
    grid = np.unique(np.r_[np.linspace(0.0, 1.05 * fed[-1], 4001), fed])
    curves = [power(grid, count)[0] for count in numbers]
    comes = np.minimum(taken.to_numpy(), gate) * (1 - lost)
    stored, made = pond_m3, []
    for flow in comes:
        there = flow + stored / 86400
        each = [np.interp(there, grid, curve) for curve in curves]
        best = int(np.argmax(each))
        used = min(there, fed[best]) if each[best] > 0 else 0.0
        stored = min((there - used) * 86400, pond_m3)
        made.append(max(each[best], 0.0) * 0.024)
    label = taken.index.year + (taken.index.month >= 10)
    whole = pd.Series(1, taken.index).groupby(label).sum() >= 365
    years = whole.index[whole]
    return float(np.array(made)[np.isin(label, years)].sum() / len(years))
