"""Write the CSV files of the study frost-hollow. The house, its plant and every number are invented.

An off-grid house at 8,300 ft runs on a snowmelt creek: drilled-pipe screen, 1,400 ft of flexible
diversion line with summits, a meadow, a weir and pond, 900 ft of nominal 4 in PVC with a pipe
bridge, four fixed 1/2 in drilled jets, 240 V. Its owner has a pressure gauge, two meters, five
gaugings and a notebook of readings: the thin data most owners have. No daily flow exists for this
creek, and none is written here; plant_truth.py holds what lies behind the readings.

Why these numbers: 164 ft of head and about 210 gpm make 3 kW, a house with heaters; 4 in pipe is
a size small, so that four jets lose a seventh of the head; the creek feeds four jets in summer,
two by Christmas and barely one under the March snow, so that how many jets stand open matters.

readings.csv: shut-off and 1 to 4 jets on 8 July 2023 with the pond spilling, then later days, one
of them with four jets starved and the same hour with three. Gauge noise 1.5 % (one standard
deviation, read to half a psi), meters 0.7 %. The shut-off is the mean of several taps and exact;
the seed was chosen so that pressure falls from jet to jet, as an owner would read again if it did
not. In the log the noise stands as it fell: a reading at one jet may exceed the static by 1 psi.

log.csv: two years at irregular times, in which these events are planted (events_truth.csv):
* leaves on the screen each October, taking a steady share a day, undone by each cleaning;
* a sudden drop: a diversion coupling parts on 2024-05-20, mended on 2024-05-23;
* an ice stop: frazil blinds the screen in a night, the line freezes on 2025-01-15 until 2025-02-12;
* a jet that wears: from 2024-07-01 the first jet gains area evenly, a quarter by 2025-09-30;
* a gauge hurt by frost on 2024-01-22 reads 4 psi low until it is replaced on 2024-06-12.
The owner closes a jet when the creek no longer feeds it, but not always at once.

Run `python make_data.py` to write the files again, the same to the byte.
"""
import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))
sys.path.insert(0, str(HERE))

from invented_csv import fixed, write_csv  # noqa: E402
from plant_truth import CREEK_KEEPS_GPM, FOOT, GPM, GRAVITY, INTAKE_PASSES_GPM, VOLTS, creek_gpm, full_flow, mountain_weather, operate  # noqa: E402

FIRST_DAY, LOG_FIRST_DAY, LOG_LAST_DAY = "2019-10-01", "2023-10-01", "2025-09-30"
GAUGE_NOISE, METER_NOISE = 0.015, 0.007

# day, jets open
READINGS = (("2023-07-08", 0), ("2023-07-08", 1), ("2023-07-08", 2), ("2023-07-08", 3), ("2023-07-08", 4),
            ("2023-07-29", 3), ("2023-08-12", 4), ("2023-08-12", 3), ("2023-09-05", 4))
# day, method, uncertainty [%]
GAUGINGS = (("2023-07-08", "v-notch", 4), ("2023-08-12", "v-notch", 4), ("2023-12-12", "bucket", 6),
            ("2024-02-15", "bucket", 8), ("2024-09-05", "v-notch", 4))

CLOGGING = (("2023-10-03", "2023-11-03", 0.040), ("2024-09-29", "2024-11-02", 0.055))   # share of the flow lost a day
COUPLING = ("2024-05-20 03:00", "2024-05-23 14:00", 130.0)                              # gpm that still arrive
FRAZIL, FROZEN, THAWED = "2025-01-14 20:00", "2025-01-15 04:00", "2025-02-12 11:00"
WEAR = ("2024-07-01", "2025-09-30", 0.25)                                               # of one new jet's area
GAUGE_LOW = ("2024-01-22 06:00", "2024-06-12 15:00", 4.0)                               # psi

MENDING_VISIT, GAUGE_VISIT = "2024-05-23 13:20", "2024-06-12 14:10"
# visits that must be in the log
FORCED_VISITS = ("2024-01-21 09:10", "2024-01-22 16:40", "2024-05-19 08:15", "2024-05-20 07:50", "2024-05-21 18:05",
                 MENDING_VISIT, GAUGE_VISIT, "2025-01-13 08:30", "2025-01-14 22:40", "2025-01-15 08:20", "2025-02-12 15:30")

# chainage [ft], elevation [ft]
DIVERSION = (
    (0, 8312.0), (60, 8310.5), (130, 8308.6), (190, 8306.9), (240, 8306.0), (300, 8306.6), (360, 8307.4), (430, 8308.0),
    (490, 8306.3), (560, 8302.4), (640, 8299.6), (700, 8301.6), (760, 8304.0), (820, 8305.2), (880, 8304.1),
    (950, 8302.2), (1010, 8301.0), (1090, 8302.0), (1160, 8302.6), (1240, 8301.7), (1320, 8300.7), (1400, 8300.0),
)
# ground [ft] over its bed or beside the posts of the bridge; elsewhere the pipe lies a foot deep
GROUND = {0: 8287.9, 3: 8287.9, 398: 8230.0, 407: 8224.5, 415: 8219.2, 422: 8223.0, 430: 8228.2, 892: 8128.5, 900: 8125.5}
# chainage [ft], elevation [ft], note
PENSTOCK = (
    (0, 8290.0, "pond water level"), (3, 8288.2, "pipe mouth"), (40, 8284.9, ""),
    (85, 8279.3, ""), (130, 8271.8, ""), (175, 8263.2, ""), (220, 8253.9, ""),
    (265, 8245.6, ""), (310, 8238.7, ""), (355, 8233.5, ""), (398, 8230.2, "pipe bridge begins"),
    (407, 8229.7, "pipe bridge"), (415, 8229.2, "pipe bridge 10 ft above the gully"), (422, 8228.8, "pipe bridge"),
    (430, 8228.4, "pipe bridge ends"), (470, 8224.6, ""), (515, 8217.8, ""), (560, 8208.9, ""),
    (605, 8198.4, ""), (650, 8187.1, ""), (695, 8175.6, ""), (740, 8164.4, ""),
    (785, 8154.0, ""), (830, 8144.1, ""), (870, 8134.6, ""), (892, 8127.9, "powerhouse wall"),
    (900, 8126.2, "gauge and jets"),
)


def main(folder=HERE):
    folder = Path(folder)
    air = mountain_weather()
    creek = creek_gpm(air)
    fahrenheit = air["temperature_degc"] * 1.8 + 32.0
    daily = fahrenheit.loc[FIRST_DAY:]
    write_csv(folder / "temperature.csv", ["Invented: mean daily air temperature at 8,300 ft. Written by make_data.py."],
              {"date": daily.index, "temperature [degF]": fixed(daily, 1)})
    write_gaugings(folder, creek)
    write_weir(folder)
    write_readings(folder, creek)
    write_log(folder, creek, fahrenheit)
    write_csv(folder / "diversion.csv",
              ["Invented: flexible diversion line, levels good to 0.3 ft. Written by make_data.py.",
               "First station: water surface at the intake. Last: outlet over the meadow. Between them: bottom of the line."],
              {"chainage [ft]": [row[0] for row in DIVERSION], "elevation [ft]": fixed([row[1] for row in DIVERSION], 1)})
    chainage, elevation, note = zip(*PENSTOCK)
    write_csv(folder / "penstock.csv",
              ["Invented: penstock, chainage along the pipe, levels good to 0.3 ft. Written by make_data.py.",
               "Elevation: centre of the pipe (first station: water surface of the pond). Buried about a foot except at the bridge."],
              {"chainage [ft]": chainage, "elevation [ft]": fixed(elevation, 1),
               "ground [ft]": fixed([GROUND.get(at, level + 1.0) for at, level in zip(chainage, elevation)], 1), "note": note})


def v_notch_stage(flow_gpm):
    """Head [ft] over a 90 degree thin-plate notch, read to a hundredth of a foot."""
    return round((flow_gpm * GPM / (8.0 / 15.0 * 0.578 * (2.0 * GRAVITY) ** 0.5)) ** 0.4 / FOOT, 2)


def v_notch_gpm(stage_ft):
    return 8.0 / 15.0 * 0.578 * (2.0 * GRAVITY) ** 0.5 * (stage_ft * FOOT) ** 2.5 / GPM


def write_gaugings(folder, creek):
    random = np.random.RandomState(5)
    rows = []
    for day, method, uncertainty in GAUGINGS:
        found = creek[day] * (1.0 + 0.6 * uncertainty / 100.0 * random.standard_normal())
        stage = np.nan
        if method == "v-notch":
            stage = v_notch_stage(found)
            found = v_notch_gpm(stage)
        rows.append((day, stage, found, uncertainty, method))
    day, stage, found, uncertainty, method = zip(*rows)
    write_csv(folder / "gaugings.csv",
              ["Invented: whole creek above the intake. Uncertainty: one standard deviation. Written by make_data.py.",
               "v-notch: 90 degree plate, stage is the head over its point. bucket: 55 gal drum under the culvert, mean of four fills."],
              {"date": day, "stage [ft]": fixed(stage, 2), "flow [gpm]": found, "uncertainty [%]": uncertainty, "method": method})


def write_weir(folder):
    """Heads over the notch on the last gauging day, three readings to a sixteenth of an inch."""
    write_csv(folder / "sheet_weir.csv",
              ["Invented: head over the point of the notch, 2024-09-05, hook and ruler a yard upstream. Written by make_data.py."],
              {"head [in]": ["6.81", "6.88", "6.88"]})


def arriving(creek_gpm_then, blocked=0.0):
    """Gallons a minute that reach the pond when so much of the screen is blocked."""
    return np.maximum(np.minimum(creek_gpm_then - CREEK_KEEPS_GPM, INTAKE_PASSES_GPM) * (1.0 - blocked), 0.0)


def read_instruments(random, pressure_psi, watts):
    """What the owner writes down: pressure [psi] to the half, volts to one, amps to a tenth."""
    psi = round(2.0 * pressure_psi * (1.0 + GAUGE_NOISE * random.standard_normal())) / 2.0
    if watts < 1.0:
        return psi, 0.0, 0.0
    volts = VOLTS * (1.0 - 0.04 * max(1.0 - watts / 1000.0, 0.0)) * (1.0 + METER_NOISE * random.standard_normal())
    amps = watts / volts * (1.0 + METER_NOISE * random.standard_normal())
    return psi, round(volts), round(amps, 1)


def write_readings(folder, creek):
    random = np.random.RandomState(71)
    rows = []
    for day, jets in READINGS:
        pressure, watts, spilling = operate(jets, arriving(creek[day]))
        psi, volts, amps = read_instruments(random, pressure, watts)
        rows.append((day, jets, pressure if jets == 0 else psi, volts, amps, "yes" if spilling else "no"))
    day, jets, psi, volts, amps, spilling = zip(*rows)
    write_csv(folder / "readings.csv",
              ["Invented: gauge in the powerhouse just before the jets, water 6 degC. Written by make_data.py.",
               "Electrical load: heaters, one phase, power factor 1."],
              {"date": day, "jets [-]": fixed(jets, 0), "pressure [psi]": fixed(psi, 1), "volts [V]": fixed(volts, 0),
               "amps [A]": fixed(amps, 1), "spilling": spilling})


def visit_times(random):
    """When the owner wrote something down: most days in leaf season, else every few days to a week."""
    times = []
    day = pd.Timestamp(LOG_FIRST_DAY)
    while day <= pd.Timestamp(LOG_LAST_DAY):
        times.append(day + pd.Timedelta(minutes=int(random.randint(7 * 60, 18 * 60 + 30))))
        leaves = any(first <= day.strftime("%Y-%m-%d") <= last for first, last, _ in CLOGGING)
        day += pd.Timedelta(days=int(random.randint(1, 3) if leaves else random.randint(3, 8)))
    forced = [pd.Timestamp(text) for text in FORCED_VISITS]
    apart = pd.Timedelta(hours=14)
    return sorted([time for time in times if all(abs(time - other) > apart for other in forced)] + forced)


def write_log(folder, creek, fahrenheit):
    random = np.random.RandomState(2023)
    owner = Owner(random, creek, fahrenheit)
    for time in visit_times(random):
        owner.visit(time)
    time, jets, psi, volts, amps, spilling, needle, air, note = zip(*owner.rows)
    write_csv(folder / "log.csv",
              ["Invented: the owner's notebook in the powerhouse. Written by make_data.py.",
               "Pressure just before the jets; needle hunts when the pipe draws air."],
              {"time": time, "jets [-]": fixed(jets, 0), "pressure [psi]": fixed(psi, 1), "volts [V]": fixed(volts, 0),
               "amps [A]": fixed(amps, 1), "spilling": spilling, "needle": needle, "air [degF]": fixed(air, 0), "note": note})
    truth = [(first, last, "clogging", 100.0 * rate, "% of flow per day") for first, last, rate in CLOGGING]
    truth += [(moment, moment, "clean", np.nan, "") for moment in owner.cleans]
    truth += [(*COUPLING[:2], "sudden drop", COUPLING[2], "gpm still arriving"),
              (FRAZIL, FROZEN, "frazil", np.nan, ""), (FROZEN, THAWED, "ice stop", np.nan, ""),
              (*WEAR[:2], "jet wear", 100.0 * WEAR[2], "% of one jet's area at the end"),
              (*GAUGE_LOW[:2], "gauge low", GAUGE_LOW[2], "psi"), (GAUGE_LOW[1], GAUGE_LOW[1], "gauge replaced", np.nan, "")]
    first, last, kind, size, unit = zip(*sorted(truth))
    write_csv(folder / "events_truth.csv",
              ["What was planted in log.csv. A study does not read this file; tests hold its findings against it."],
              {"start": [_to_the_minute(day) for day in first], "end": [_to_the_minute(day) for day in last],
               "event": kind, "size": size, "unit": unit})


def _to_the_minute(text):
    return f"{pd.Timestamp(text):%Y-%m-%d %H:%M}"


class Owner:
    """The plant and its owner through two years: what stands open, what is blocked, what gets written."""

    def __init__(self, random, creek, fahrenheit):
        self.random, self.creek, self.fahrenheit = random, creek, fahrenheit
        self.jets, self.last_clean = 4, pd.Timestamp(LOG_FIRST_DAY)
        self.rows, self.cleans = [], []

    def visit(self, time):
        """Read, then act, then read again if something was changed."""
        stamp = time.strftime("%Y-%m-%d %H:%M")
        if FROZEN <= stamp < THAWED:
            first = self.jets > 0
            self.jets = 0
            self.write(time, "line frozen; jets shut; pipe drained" if first else
                       "still frozen" if self.random.random_sample() < 0.4 else "")
            return
        if stamp[:10] == THAWED[:10]:
            self.jets = 1
            self.last_clean = time
            self.write(time, "thawed; filled slowly and vented; running again")
            return
        if stamp == MENDING_VISIT:
            self.write(time, "coupling parted below the second summit")
            self.write(time + pd.Timedelta(minutes=95), "coupling mended")
            return
        if stamp == GAUGE_VISIT:
            self.replace_gauge(time)
            return
        spilling, pressure_share = self.write(time, "")
        self.act(time, spilling, pressure_share)

    def act(self, time, spilling, pressure_share):
        """Clean, close a jet or open one, as an owner with other work would."""
        offered = arriving(self.flow(time))
        later = time + pd.Timedelta(minutes=int(self.random.randint(25, 70)))
        willing = self.random.random_sample()
        if self.blocked(time) > 0.05 and pressure_share < 0.86 and willing < 0.75:
            self.last_clean = later
            self.cleans.append(later.strftime("%Y-%m-%d %H:%M"))
            spilling, _ = self.write(later, "cleaned screen: leaves")
            if not spilling and self.jets > 1 and willing < 0.5:
                self.jets -= 1
                self.write(later + pd.Timedelta(minutes=20), f"closed jet {self.jets + 1}: creek too low for it")
        elif not spilling and self.jets > 1 and offered < self.wanted(self.jets, time) and willing < 0.6:
            self.jets -= 1
            self.write(later, f"closed jet {self.jets + 1}")
        elif spilling and self.jets < 4 and offered > 1.05 * self.wanted(self.jets + 1, time) and willing < 0.6:
            self.jets += 1
            self.write(later, f"opened jet {self.jets}")

    def replace_gauge(self, time):
        """Shut off before and after, as one should."""
        running, self.jets = self.jets, 0
        self.write(time, "shut off to check the gauge")
        self.write(time + pd.Timedelta(minutes=55), "new gauge; shut off")
        self.jets = running
        self.write(time + pd.Timedelta(minutes=70), "new gauge; running")

    def write(self, time, note):
        """One row; returns whether the pond spills and the share of full running pressure."""
        stamp = time.strftime("%Y-%m-%d %H:%M")
        arrives = arriving(self.flow(time), self.blocked(time))
        if COUPLING[0] <= stamp < COUPLING[1]:
            arrives = min(arrives, COUPLING[2])
        if FRAZIL <= stamp < FROZEN:
            arrives = 24.0
        pressure, watts, spilling = operate(self.jets, arrives, self.wear(time))
        if FROZEN <= stamp < THAWED:
            pressure, watts, spilling = 0.0, 0.0, False
        share = pressure / operate(self.jets, 1e6, self.wear(time))[0] if self.jets else 1.0
        shown = pressure - (GAUGE_LOW[2] if GAUGE_LOW[0] <= stamp < GAUGE_LOW[1] else 0.0)
        psi, volts, amps = read_instruments(self.random, max(shown, 0.0), watts)
        hour = time.hour + time.minute / 60.0
        air = self.fahrenheit[time.normalize()] - 8.0 * np.cos(2.0 * np.pi * (hour - 3.0) / 24.0) + self.random.standard_normal()
        looked = self.random.random_sample() < 0.93                        # now and then nobody walks to the pond
        seen = ("yes" if spilling else "no") if looked else ""
        needle = "hunts" if self.jets and not spilling and share < 0.97 else "steady"
        self.rows.append((stamp, self.jets, psi, volts, amps, seen, needle, air, note))
        return spilling, share

    def flow(self, time):
        """The creek at a moment [gpm], between one day's noon and the next."""
        noon = time.normalize() + pd.Timedelta(hours=12)
        before = noon if time >= noon else noon - pd.Timedelta(days=1)
        part = (time - before) / pd.Timedelta(days=1)
        after = min((before + pd.Timedelta(days=1)).normalize(), self.creek.index[-1])
        return (1.0 - part) * self.creek[before.normalize()] + part * self.creek[after]

    def blocked(self, time):
        """Share of the screen blocked by leaves since the last cleaning."""
        share = 0.0
        for first, last, rate in CLOGGING:
            fell = min(time, pd.Timestamp(last)) - max(self.last_clean, pd.Timestamp(first))
            share += rate * max(fell / pd.Timedelta(days=1), 0.0)
        return min(share, 0.95)

    def wear(self, time):
        """Area the first jet has gained, in new jets."""
        first, last = pd.Timestamp(WEAR[0]), pd.Timestamp(WEAR[1])
        return WEAR[2] * min(max((time - first) / (last - first), 0.0), 1.0)

    def wanted(self, jets, time):
        return full_flow(jets + self.wear(time)) / GPM


if __name__ == "__main__":
    main(*sys.argv[1:])
