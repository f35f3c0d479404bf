"""Invented creeks whose truth is known, and how people would measure them. Imports nothing of hydrokit; SI units.

A creek is weather and three stores. Rain comes by an autocorrelated daily number, wet above a
threshold of the season; years differ by a factor with a memory. Snow and soil are walks that bounce at
nought, quick flow, springs and deep water linear stores. Sixteen hundred years of it are the truth of
the long run; what people measured is a few years near their end, and the years to come lie after.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter
from scipy.special import gamma as gamma_function
from scipy.special import ndtr

YEARS, OBSERVED, AHEAD = 1600, 40, 12  # of the truth; at most measured; still to come
GRAVITY, DENSITY, VISCOSITY = 9.80665, 999.7, 1.3e-6
TODAY = np.datetime64("2025-10-01")

# rain [mm/yr], temperature [degC] mean and half range, shares of quick, spring and deep water, their days,
# spread of the years, power of the rain of wet days
KINDS = {
    "wet": ((1300, 2400), (8, 6), (0.45, 0.35, 0.20), (2.0, 25.0, 150.0), (0.08, 0.15), 1.1),
    "snow": ((700, 1300), (1, 10), (0.35, 0.45, 0.20), (4.0, 25.0, 200.0), (0.10, 0.20), 1.0),
    "flashy": ((900, 1600), (11, 7), (0.65, 0.28, 0.07), (1.2, 12.0, 80.0), (0.15, 0.28), 1.4),
    "spring": ((900, 1600), (9, 7), (0.10, 0.30, 0.60), (2.0, 40.0, 350.0), (0.10, 0.20), 1.1),
}  # fmt: skip

# one standard deviation of a gauging by method, of which so much is one and the same error in all of them:
# the mark of the bucket, the notch's coefficient, the probe's calibration, the meter's, the surface coefficient
METHODS = {
    "bucket": (0.04, 0.01),
    "v-notch": (0.04, 0.02),
    "salt": (0.05, 0.02),
    "current meter": (0.06, 0.02),
    "float": (0.15, 0.08),
}


@dataclass(frozen=True, eq=False)
class Creek:
    """Daily flow on days that are counted from `first`."""

    kind: str
    first: np.datetime64
    flow: np.ndarray

    @property
    def date(self) -> np.ndarray:
        return self.first + np.arange(len(self.flow))

    def between(self, start: np.datetime64, end: np.datetime64) -> slice:
        """Places of the days from `start` up to the day before `end`."""
        return slice(int((start - self.first).astype(int)), int((end - self.first).astype(int)))


def autocorrelated(random: np.random.Generator, count: int, memory: float) -> np.ndarray:
    """Normal numbers of unit variance, each so much like the one before."""
    return lfilter([np.sqrt(1 - memory**2)], [1.0, -memory], random.standard_normal(count))


def bounced(steps: np.ndarray) -> np.ndarray:
    """A store that takes these steps and never falls below nought."""
    walk = np.cumsum(steps)
    return walk - np.minimum(np.minimum.accumulate(walk), 0.0)


def creeks(random: np.random.Generator, kind: str, likeness: float) -> tuple[Creek, Creek]:
    """A creek, and a neighbour whose weather is like its own by `likeness`."""
    rain, (mean, half), shares, days, spread, power = KINDS[kind]
    first = TODAY - np.timedelta64(int(365.25 * (YEARS + OBSERVED)), "D")
    last = TODAY + np.timedelta64(int(365.25 * AHEAD), "D")
    count = int((last - first).astype(int))
    season = 2 * np.pi * (np.arange(count) - 107) / 365.25  # nought in mid January
    yearly, wetness = random.uniform(*rain), random.uniform(0.3, 0.55)
    wet = wetness * (1 + random.uniform(-0.5, 0.5) * np.cos(season - random.uniform(0, 2 * np.pi)))
    year = np.arange(count) // 365.25
    of_year = autocorrelated(random, int(year[-1]) + 1, random.uniform(0.0, 0.3))
    level = np.exp(random.uniform(*spread) * of_year)[year.astype(int)]
    weather = autocorrelated(random, count, 0.5)
    air = mean - half * np.cos(season) + 3.5 * autocorrelated(random, count, 0.8)
    pair = []
    for alike in (1.0, likeness):
        own = autocorrelated(random, count, 0.5)
        number = alike * weather + np.sqrt(1 - alike**2) * own
        deep = np.maximum((ndtr(number) - 1 + wet) / wet, 0.0)
        fall = (-np.log1p(-np.minimum(deep, 1 - 1e-12))) ** power / gamma_function(1 + power)
        fall *= level * yearly / 365.25 / wetness
        pair.append(_creek(random, kind, first, fall, air, season, shares, days))
    return pair[0], pair[1]


def _creek(random, kind, first, fall, air, season, shares, days) -> Creek:
    snow = fall * np.clip((1.5 - air) / 2, 0, 1)
    melt = random.uniform(2.0, 4.0) * np.maximum(air - 0.2, 0)
    pack = bounced(snow - melt)
    ground = fall + np.r_[0.0, pack[:-1]] - pack
    thirst = random.uniform(0.6, 1.0) * np.maximum(1.5 - 1.3 * np.cos(season - 0.2), 0) * (air > 0)
    past = random.uniform(0.10, 0.25)  # of the water goes by the soil
    deficit = bounced(thirst - (1 - past) * ground)
    over = (1 - past) * ground - thirst + deficit - np.r_[0.0, deficit[:-1]]
    water = past * ground + np.maximum(over, 0.0)
    mixed = np.array(shares) * random.uniform(0.7, 1.3, 3)
    depth = np.zeros(len(fall))
    for share, stay in zip(mixed / mixed.sum(), np.array(days) * random.uniform(0.7, 1.4, 3)):
        keeps = np.exp(-1 / stay)
        depth += share * lfilter([1 - keeps], [1.0, -keeps], water)
    return Creek(kind, first, random.uniform(0.020, 0.060) * depth / depth.mean())


# --- the truth --------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Plant:
    """One adjustable jet at the foot of one pipe. `full` is the most it takes."""

    head: float
    bore: float
    length: float
    full: float
    efficiency: float
    loss_factor: float = 1.0

    def power(self, flow: np.ndarray) -> np.ndarray:
        """Watts by Darcy and Weisbach with Swamee and Jain's factor; what is beyond the full flow runs past."""
        used = np.minimum(flow, self.full)
        speed = used / (np.pi / 4 * self.bore**2)
        reynolds = np.maximum(speed * self.bore / VISCOSITY, 1.0)
        factor = 0.25 / np.log10(3e-5 / self.bore / 3.7 + 5.74 / reynolds**0.9) ** 2
        lost = (
            self.loss_factor * (factor * self.length / self.bore + 1.5) * speed**2 / (2 * GRAVITY)
        )
        return DENSITY * GRAVITY * used * np.maximum(self.head - lost, 0.0) * self.efficiency


@dataclass(frozen=True, eq=False)
class Truth:
    """What a creek and a plant are in the long run, and in the years to come."""

    exceeded: dict[float, float]
    monthly_usable: np.ndarray
    mean: float
    usable_mean: float
    lowest_week: float
    flood: float
    keep: float
    energy_mean: float
    energy_ten: float
    energy_next: float


def water_years(date: np.ndarray, month: int = 10) -> np.ndarray:
    """Label of the year, beginning with a month, that each day lies in."""
    months = date.astype("datetime64[M]").astype(int)
    return (months - (month - 1)) // 12


def of_years(values: np.ndarray, labels: np.ndarray, reduce: np.ufunc) -> np.ndarray:
    """Sum, least or greatest of each year, the first and the last left out, for they are cut."""
    starts = np.flatnonzero(np.r_[True, labels[1:] != labels[:-1]])
    return reduce.reduceat(values, starts)[1:-1]


def truth_of(creek: Creek, plant: Plant, keep: float | None, licence: float, years: float) -> Truth:
    """The truth; `keep` None: what is exceeded on 95 % of the days stays."""
    long = creek.between(creek.first + 730, TODAY - np.timedelta64(365 * OBSERVED, "D"))
    flow, date = creek.flow[long], creek.date[long]
    five, half, lean = np.quantile(flow, [0.95, 0.5, 0.05])
    keep = float(lean) if keep is None else keep
    usable = np.minimum(np.maximum(flow - keep, 0.0), licence)
    month = date.astype("datetime64[M]").astype(int) % 12
    week = np.convolve(flow, np.full(7, 1 / 7), "valid")
    minima = of_years(week, water_years(date[6:], 4), np.minimum)
    maxima = of_years(flow, water_years(date), np.maximum)
    ahead = creek.between(TODAY, TODAY + np.timedelta64(int(365.25 * 10), "D"))

    def kwh(values: np.ndarray) -> np.ndarray:
        return plant.power(np.clip(values - keep, 0.0, licence)) * 24 / 1000

    coming = kwh(creek.flow[ahead])
    return Truth(
        exceeded={0.05: float(five), 0.5: float(half), 0.95: float(lean)},
        monthly_usable=np.array([np.median(usable[month == each]) for each in range(12)]),
        mean=float(flow.mean()),
        usable_mean=float(usable.mean()),
        lowest_week=float(np.quantile(minima, 0.1)),
        flood=float(np.quantile(maxima, 1 - 1 / years)),
        keep=keep,
        energy_mean=float(kwh(flow).mean() * 365.25),
        energy_ten=float(coming.mean() * 365.25),
        energy_next=float(coming[:365].sum()),
    )


# --- measured as people measure ---------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Control:
    """Q = a (h - c)^b up to a bend, from where the exponent is another, as where the banks open."""

    a: float
    b: float
    c: float
    bend: float
    upper_b: float

    def stage(self, flow: np.ndarray) -> np.ndarray:
        low = (flow / self.a) ** (1 / self.b)
        high = self.bend * (flow / (self.a * self.bend**self.b)) ** (1 / self.upper_b)
        return self.c + np.where(low > self.bend, high, low)


@dataclass(frozen=True, eq=False)
class Measured:
    """What somebody has on paper."""

    gauged_date: np.ndarray
    gauged_stage: np.ndarray
    gauged_flow: np.ndarray
    method: str
    uncertainty: float
    cease_to_flow: float
    control: str
    date: np.ndarray = field(default_factory=lambda: np.empty(0, dtype="datetime64[D]"))
    stage: np.ndarray = field(default_factory=lambda: np.empty(0))


SHAPES = {"riffle": (2.0, 0.25), "v-notch": (2.5, 0.1), "channel": (5 / 3, 0.15)}


def measured(
    random: np.random.Generator, creek: Creek, years: int, gaugings: int, method: str
) -> Measured:
    """Gaugings over the years of a logger, and its stages with noise, a drift and gaps."""
    start = TODAY - np.timedelta64(int(365.25 * years), "D")
    start = (
        np.datetime64(f"{start.astype('datetime64[Y]')}-10-01")
        if years > 1
        else TODAY - np.timedelta64(366, "D")
    )
    here = creek.between(start, TODAY)
    flow, date = creek.flow[here], creek.date[here]
    shape = str(random.choice(list(SHAPES)))
    b = float(np.clip(random.normal(*SHAPES[shape]), 1.2, 3.2))
    deep = random.uniform(0.12, 0.25)  # of the median flow over cease-to-flow
    bend = deep * random.uniform(1.3, 2.0)
    control = Control(
        float(np.median(flow)) / deep**b,
        b,
        random.uniform(0.02, 0.15),
        bend,
        b + (random.normal(0, 0.15) if random.random() < 0.3 else 0.0),
    )
    true = control.stage(flow)
    sd, shared = METHODS[method]
    # nobody wades in a flood, and few go out in the worst of the winter
    calm = np.flatnonzero(flow < np.quantile(flow, random.uniform(0.75, 0.95)))
    day = np.sort(random.choice(calm, gaugings, replace=False))
    error = shared * random.standard_normal() + np.sqrt(sd**2 - shared**2) * random.standard_normal(
        gaugings
    )
    staff = np.round(true[day] + random.normal(0, 0.002, gaugings), 3)
    drift = 0.003 * autocorrelated(random, len(flow), 0.99)  # m, against the staff gauge
    logged = true + drift + random.normal(0, 0.002, len(flow))
    kept = np.ones(len(flow), dtype=bool)
    for _ in range(random.poisson(0.7 * years)):
        gap = random.integers(0, len(flow))
        kept[gap : gap + random.integers(1, 20)] = False
    return Measured(
        date[day],
        staff,
        flow[day] * np.exp(error),
        method,
        sd,
        control.c + random.normal(0, 0.005),
        shape,
        date[kept],
        np.round(logged[kept], 3),
    )
