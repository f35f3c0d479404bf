"""Write the CSV files of the study saltfern-creek. The hatchery, its plant and every number are invented.

An oyster hatchery with a bunkhouse and a workshop stands at the head of a wooded inlet, from the
beach to 190 ft up the creek. A log-crib weir with a plate of small holes, 640 ft of polyethylene
line over bedrock with two high points, a timber flume behind a gate, a settling box, 1,110 ft of
penstock (6 in, then 4 in) over a tidal gully on a trestle; two machines on one generator shaft: a
winter unit with a single jet, opened first, and a machine with three, all jets of one bore. The
hatchery has eight gaugings, a thermometer and a log of two years, and no daily record of the creek.
inlet.py holds what lies behind all that, inlet_floats.py
and inlet_survey.py what was floated and surveyed.

Why these numbers: 134 ft of head and about 435 gpm make 5 kW, what pumps, cold room and bunkhouse
take on a cold evening; the last 195 ft are of a size too small and take half of what the whole pipe takes;
the creek feeds four jets through much of the winter and spring, in a dry September not one.

What is seeded in the log (events_truth.csv), in order of time:
* storms bring needles down: three seasons in which the plate loses a steady share of the water a day;
* a gauge that salt air made read 3 psi too high from 2024-03-18, until a new one came on 2024-09-27;
* a tripped breaker on 2024-06-03, found a day and a half later;
* a page without entries in July 2024, and another in June 2025;
* the winter unit's jet, worn by sand from 2024-10-15 on, a third more area by the end;
* ice in the flume in the outbreak of February 2025: little comes, then nothing, for nine days;
* a slide in spring, 2025-04-08: stones push the line off its bed; mended on the fourth day;
* a regulator that held 204 V from 2025-05-06 until it was set right on 2025-05-16.

Run `python make_data.py` to write the files again, the same to the byte.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))
sys.path.insert(0, str(HERE))

from inlet import (  # noqa: E402
    FLUME_LOSES,
    GPM,
    SCREEN_LETS_IN,
    STAYS_IN_CREEK,
    VOLTS,
    coast_weather,
    creek_gpm,
    fed_flow,
    running,
)
from inlet_floats import float_gpm, float_runs, write_float  # noqa: E402
from inlet_survey import write_survey  # noqa: E402
from invented_csv import fixed, write_csv  # noqa: E402

AIR_FROM, LOG_FROM, LOG_TO = "2020-09-01", "2023-09-01", "2025-08-31"
GAUGE_NOISE, METER_NOISE = 0.008, 0.008  # standard deviation of one reading, as a share

# day, method, uncertainty [%], staff gauge read
GAUGINGS = (
    ("2022-03-19", "current meter", 6, True),
    ("2022-12-03", "current meter", 6, True),
    ("2023-05-13", "float", 12, True),
    ("2023-09-02", "bucket", 4, True),
    ("2024-01-20", "salt", 5, False),
    ("2024-06-15", "salt", 5, True),
    ("2024-09-21", "bucket", 4, True),
    ("2025-03-01", "current meter", 7, True),
)
FLOAT_DAY = "2023-05-13"
# staff gauge at the riffle: flow [gpm] = 2150 (stage - 0.18 ft)^1.8
RIFFLE_GPM, RIFFLE_ZERO_FT, RIFFLE_EXPONENT = 2150.0, 0.18, 1.8
# day, jets: commissioned on the first, later looks
COMMISSIONED = "2023-03-11"
READINGS = (
    ("2023-03-11", 0),
    ("2023-03-11", 1),
    ("2023-03-11", 2),
    ("2023-03-11", 3),
    ("2023-03-11", 4),
    ("2023-04-01", 4),
    ("2023-06-24", 3),
    ("2023-06-24", 2),
    ("2023-08-05", 1),
)

# first day, last day, share of the screen lost a day
NEEDLES = (
    ("2023-10-12", "2023-12-20", 0.050),
    ("2024-11-18", "2024-12-24", 0.060),
    ("2025-03-02", "2025-03-24", 0.035),
)
TRIPPED = ("2024-06-03 05:20", "2024-06-04 18:10")
GAUGE_HIGH = ("2024-03-18 00:00", "2024-09-27 11:20", 3.0)  # psi
WORN = ("2024-10-15", "2025-08-31", 0.33)  # of a new jet's area, at the end
ICING, ICED, CLEAR = "2025-02-08 03:00", "2025-02-09 02:00", "2025-02-18 13:00"
SLID = ("2025-04-08 02:30", "2025-04-11 16:20", 150.0)  # gpm that still come
LOW_VOLTS = ("2025-05-06 09:00", "2025-05-16 17:30", 204.0)
AWAY = (("2024-07-03", "2024-07-26"), ("2025-06-10", "2025-06-24"))
# visits that the log must hold
HELD = (
    "2024-03-16 10:20",
    "2024-03-19 09:40",
    "2024-06-02 17:30",
    "2024-06-03 20:10",
    "2024-06-04 17:20",
    "2024-09-27 10:30",
    "2025-02-07 16:30",
    "2025-02-08 09:10",
    "2025-02-09 09:00",
    "2025-02-13 11:40",
    "2025-02-18 14:20",
    "2025-04-07 17:45",
    "2025-04-08 08:20",
    "2025-04-09 12:10",
    "2025-04-11 15:10",
    "2025-05-05 18:00",
    "2025-05-06 12:15",
    "2025-05-09 09:30",
    "2025-05-13 18:20",
    "2025-05-16 16:40",
)


def main(folder=HERE):
    folder = Path(folder)
    air = coast_weather()
    creek, fahrenheit = creek_gpm(air), air["temperature_degc"] * 1.8 + 32.0
    daily = fahrenheit.loc[AIR_FROM:]
    write_csv(
        folder / "temperature.csv",
        ["Invented: mean daily air temperature at the intake. Written by make_data.py."],
        {"date": daily.index, "temperature [degF]": fixed(daily, 1)},
    )
    write_gaugings(folder, creek)
    write_float(folder, creek[FLOAT_DAY])
    write_readings(folder, creek)
    write_log(folder, creek, fahrenheit)
    write_survey(folder)


# --- gaugings ----------------------------------------------------------------------------------------


def write_gaugings(folder, creek):
    random = np.random.RandomState(19)
    rows = []
    for day, method, uncertainty, read in GAUGINGS:
        found = creek[day] * (1.0 + 0.7 * uncertainty / 100.0 * random.standard_normal())
        if method == "float":
            found = float_gpm(*float_runs(creek[day]))
        stage = (
            RIFFLE_ZERO_FT
            + (creek[day] / RIFFLE_GPM) ** (1.0 / RIFFLE_EXPONENT)
            + 0.006 * random.standard_normal()
        )
        rows.append((day, stage if read else np.nan, found, uncertainty, method))
    day, stage, found, uncertainty, method = zip(*rows)
    write_csv(
        folder / "gaugings.csv",
        [
            "Invented: the whole creek above the weir. Uncertainty: one standard deviation. Written by make_data.py.",
            "The staff gauge at the riffle lay under ice on 2024-01-20.",
        ],
        {
            "date": day,
            "stage [ft]": fixed(stage, 2),
            "flow [gpm]": found,
            "uncertainty [%]": uncertainty,
            "method": method,
        },
    )


# --- what is read in the powerhouse ------------------------------------------------------------------


def arriving(creek_gpm_then, blocked=0.0):
    """Flow into the settling box, gpm."""
    entering = np.minimum(creek_gpm_then - STAYS_IN_CREEK, SCREEN_LETS_IN * (1.0 - blocked))
    return max(entering, 0.0) * (1.0 - FLUME_LOSES)


def read_panel(random, psi, watts, volts=VOLTS):
    """What one writes down: pressure to half a psi, volts to one, watts to ten."""
    psi = round(2.0 * psi * (1.0 + GAUGE_NOISE * random.standard_normal())) / 2.0
    if watts < 1.0:
        return psi, 0.0, 0.0
    return (
        psi,
        round(volts * (1.0 + 0.004 * random.standard_normal())),
        round(watts * (1.0 + METER_NOISE * random.standard_normal()), -1),
    )


def write_readings(folder, creek):
    random = np.random.RandomState(21)
    rows = []
    for day, jets in READINGS:
        pressure, watts, spills = running(jets, arriving(creek[day]))
        rows.append(
            (
                day,
                jets,
                *read_panel(random, pressure, watts),
                "yes" if spills else "no",
                "steady" if spills else "fluctuates",
            )
        )
    day, jets, psi, volts, watts, spills, needle = zip(*rows)
    write_csv(
        folder / "readings.csv",
        [
            "Invented: gauge just before the jets, meters on the switchboard. Written by make_data.py.",
            "The first jet is the winter unit's, the others are the machine's.",
        ],
        {
            "date": day,
            "jets [-]": fixed(jets, 0),
            "pressure [psi]": fixed(psi, 1),
            "volts [V]": fixed(volts, 0),
            "watts [W]": fixed(watts, 0),
            "spilling": spills,
            "needle": needle,
            "commissioning": ["yes" if each == COMMISSIONED else "" for each in day],
        },
    )


def visit_times(random):
    """When somebody wrote: every other day while needles fall, else twice a week or so; not on the lost pages."""
    times, day = [], pd.Timestamp(LOG_FROM)
    while day <= pd.Timestamp(LOG_TO):
        moment = day + pd.Timedelta(minutes=int(random.randint(7 * 60, 19 * 60)))
        needles = any(first <= f"{day:%Y-%m-%d}" <= last for first, last, _ in NEEDLES)
        if not any(first <= f"{day:%Y-%m-%d}" <= last for first, last in AWAY):
            times.append(moment)
        day += pd.Timedelta(days=int(random.randint(1, 3) if needles else random.randint(2, 6)))
    held = [pd.Timestamp(each) for each in HELD]
    apart = pd.Timedelta(hours=15)
    return sorted(
        [each for each in times if all(abs(each - other) > apart for other in held)] + held
    )


def write_log(folder, creek, fahrenheit):
    random = np.random.RandomState(2309)
    crew = Crew(random, creek, fahrenheit)
    for moment in visit_times(random):
        crew.visit(moment)
    time, jets, psi, volts, watts, spills, needle, air, note = zip(*crew.rows)
    write_csv(
        folder / "log.csv",
        [
            "Invented: the hatchery's log, kept in the powerhouse. Written by make_data.py.",
            "jets: the first is the winter unit's, the others the machine's. Two pages were lost (July 2024 and June 2025).",
        ],
        {
            "time": time,
            "jets [-]": fixed(jets, 0),
            "pressure [psi]": fixed(psi, 1),
            "volts [V]": fixed(volts, 0),
            "watts [W]": fixed(watts, 0),
            "spilling": spills,
            "needle": needle,
            "air [degF]": fixed(air, 0),
            "note": note,
        },
    )
    truth = [
        (first, last, "needles", 100.0 * rate, "% of the screen per day")
        for first, last, rate in NEEDLES
    ]
    truth += [(moment, moment, "brushed", np.nan, "") for moment in crew.brushed]
    truth += [
        (*TRIPPED, "breaker tripped", np.nan, ""),
        (*GAUGE_HIGH[:2], "gauge high", GAUGE_HIGH[2], "psi"),
        (GAUGE_HIGH[1], GAUGE_HIGH[1], "gauge replaced", np.nan, ""),
        (*WORN[:2], "jet worn", 100.0 * WORN[2], "% of one jet's area at the end"),
        (ICING, ICED, "flume icing", np.nan, ""),
        (ICED, CLEAR, "flume iced", np.nan, ""),
        (*SLID[:2], "slide", SLID[2], "gpm still coming"),
        (*LOW_VOLTS[:2], "regulator low", LOW_VOLTS[2], "V"),
    ]
    first, last, kind, size, unit = zip(*sorted(truth))
    write_csv(
        folder / "events_truth.csv",
        ["What truly happened behind log.csv, for the tests; no notebook opens this file."],
        {
            "start": [_minute(each) for each in first],
            "end": [_minute(each) for each in last],
            "event": kind,
            "size": size,
            "unit": unit,
        },
    )


def _minute(text):
    return f"{pd.Timestamp(text):%Y-%m-%d %H:%M}"


def _during(stamp, spell):
    return spell[0] <= stamp < spell[1]


class Crew:
    """The hatchery's crew: which jets they leave open, when they brush the plate, what they write down."""

    def __init__(self, random, creek, fahrenheit):
        self.random, self.fahrenheit = random, fahrenheit
        noon = creek.index + pd.Timedelta(hours=12)
        self.hours, self.flows = (
            noon.to_numpy().astype("datetime64[m]").astype(float),
            creek.to_numpy(),
        )
        self.jets, self.brushed_at = 1, pd.Timestamp(LOG_FROM)
        self.rows, self.brushed = [], []

    def visit(self, moment):
        """Read, act where something is amiss, read again."""
        stamp = f"{moment:%Y-%m-%d %H:%M}"
        if ICED <= stamp < CLEAR:
            told = (
                "flume full of ice; jets shut and pipe drained" if self.jets else "flume still iced"
            )
            self.jets = 0
            self.write(moment, told)
        elif stamp[:10] == CLEAR[:10]:
            self.jets, self.brushed_at = 2, moment
            self.write(moment, "ice broken out; filled slowly; running again")
        elif _during(stamp, TRIPPED):
            self.write(moment, "breaker found open" if stamp[:10] == TRIPPED[1][:10] else "")
            if stamp[:10] == TRIPPED[1][:10]:
                self.write(moment + pd.Timedelta(minutes=65), "breaker closed again")
        elif _during(stamp, SLID):
            self.write(
                moment,
                "stones have pushed the line off its bed" if stamp[:10] == SLID[0][:10] else "",
            )
            if stamp[:10] == SLID[1][:10]:
                self.write(moment + pd.Timedelta(minutes=80), "line back on its bed and coupled")
        elif _during(stamp, LOW_VOLTS):
            self.write(moment, "")
            if stamp[:10] == LOW_VOLTS[1][:10]:
                self.write(moment + pd.Timedelta(minutes=70), "regulator set right")
        elif stamp[:10] == GAUGE_HIGH[1][:10]:
            self.new_gauge(moment)
        else:
            self.act(moment, *self.write(moment, ""))

    def act(self, moment, spills, share):
        """Brush the plate, shut or open a jet, unless the oysters keep the crew from it."""
        later, willing = (
            moment + pd.Timedelta(minutes=int(self.random.randint(30, 80))),
            self.random.random_sample(),
        )
        runs_over = self.flow(moment) - STAYS_IN_CREEK > SCREEN_LETS_IN * (
            1.0 - self.blocked(moment)
        )
        if (
            self.blocked(moment) > 0.05
            and runs_over
            and (share < 0.90 or not self.jets)
            and willing < 0.85
        ):
            self.brushed_at = later
            self.brushed.append(f"{later:%Y-%m-%d %H:%M}")
            spills, share = self.write(later, "needles brushed off the plate")
            later += pd.Timedelta(minutes=25)
        if not spills and self.jets and share < (0.93 if self.jets > 1 else 0.25) and willing < 0.7:
            self.jets -= 1
            self.write(
                later,
                f"shut jet {self.jets + 1}"
                + ("" if self.jets else ": creek too low; generator set on"),
            )
        elif (
            spills
            and self.jets < 4
            and arriving(self.flow(moment), self.blocked(moment))
            > 1.04 * self.takes(self.jets + 1, moment)
            and willing < 0.7
        ):
            self.jets += 1
            self.write(later, f"opened jet {self.jets}")

    def new_gauge(self, moment):
        """Everything shut for the old gauge and the new one."""
        before, self.jets = self.jets, 0
        self.write(moment, "all shut to compare the gauges")
        self.write(moment + pd.Timedelta(minutes=60), "new gauge; all shut")
        if before:
            self.jets = before
            self.write(moment + pd.Timedelta(minutes=80), "new gauge; running")

    def write(self, moment, note):
        """One line of the log; tells whether the box spills, and the share of the full pressure."""
        stamp = f"{moment:%Y-%m-%d %H:%M}"
        comes = arriving(self.flow(moment), self.blocked(moment))
        if _during(stamp, SLID):
            comes = min(comes, SLID[2])
        if ICING <= stamp < ICED:
            comes = min(comes, 40.0)
        psi, watts, spills = running(self.jets, comes, self.worn(moment))
        share = psi / running(self.jets, 1e6, self.worn(moment))[0] if self.jets else 1.0
        volts = VOLTS
        if ICED <= stamp < CLEAR:
            psi, watts, spills = 0.0, 0.0, False
        if _during(stamp, TRIPPED):
            watts = 0.0
        if _during(stamp, LOW_VOLTS):
            volts, watts = (
                LOW_VOLTS[2],
                watts * (LOW_VOLTS[2] / VOLTS) ** 2,
            )  # heaters take the square of the volts
        shown = psi + (GAUGE_HIGH[2] if _during(stamp, GAUGE_HIGH) and psi > 0.0 else 0.0)
        hour = moment.hour + moment.minute / 60.0
        air = (
            self.fahrenheit[moment.normalize()]
            - 4.0 * np.cos(2.0 * np.pi * (hour - 3.0) / 24.0)
            + self.random.standard_normal()
        )
        looked = self.random.random_sample() < 0.9
        seen = ("yes" if spills else "no") if looked else ""
        needle = "fluctuates" if self.jets and not spills and share < 0.97 else "steady"
        self.rows.append(
            (
                stamp,
                self.jets,
                *read_panel(self.random, shown, watts, volts),
                seen,
                needle,
                air,
                note,
            )
        )
        return spills, share

    def flow(self, moment):
        """gpm in the creek, straight from noon to noon."""
        return float(np.interp(np.datetime64(moment, "m").astype(float), self.hours, self.flows))

    def blocked(self, moment):
        """Share of the plate that needles have covered since it was brushed."""
        share = 0.0
        for first, last, rate in NEEDLES:
            fell = min(moment, pd.Timestamp(last)) - max(self.brushed_at, pd.Timestamp(first))
            share += rate * max(fell / pd.Timedelta(days=1), 0.0)
        return min(share, 0.9)

    def worn(self, moment):
        """How much wider sand has made the winter unit's jet: its added area over that of a new one."""
        first, last = pd.Timestamp(WORN[0]), pd.Timestamp(WORN[1])
        return WORN[2] * min(max((moment - first) / (last - first), 0.0), 1.0)

    def takes(self, jets, moment):
        return fed_flow(jets + self.worn(moment)) / GPM


if __name__ == "__main__":
    main(*sys.argv[1:])
