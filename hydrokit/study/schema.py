"""What a site file may say: every section and key, its kind, and one line about it.

The tables here are the only list of keys. The checker, the template of a new study and the error
sentences all read them.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Key", "LISTS", "PART_KINDS", "SECTIONS"]


@dataclass(frozen=True)
class Key:
    """One key: what kind of value it takes, what it means, an example.

    kind: ``text``, ``word``, ``file``, ``yes/no``, ``months``, ``date``, ``one of: a | b``, ``count``,
    ``ratio``, a unit; with ``±`` behind it a :class:`~hydrokit.study.values.Measured`; with ``list of`` before it a list;
    with ``by month:`` before it one value, twelve, or a table of months. ``within``: ``low to high``
    where the usual bounds of its kind do not hold.
    """

    kind: str
    about: str
    example: str = ""
    required: bool = False
    within: str = ""


# Ground under open water: name in the site file -> row of the table of seepage.
SOILS = {"clay loam": "unlined clay loam", "sandy loam": "unlined sandy loam", "not known": "unlined any soil", "concrete": "concrete lined", "cracked lining": "lined deteriorated"}

SECTIONS: dict[str, dict[str, Key]] = {
    "site": {
        "name": Key("text", "name of the creek or plant", '"Alder Burn"', required=True),
        "place": Key("text", "where it is, in words", '"a hill farm"'),
        "prepared_by": Key("text", "who made this study", '"J. Field"'),
        "altitude": Key("m", "height of the intake above sea level", '"240 m"', within="-430 m to 6000 m"),
        "water_temperature": Key("K", "usual temperature of the water", '"8 degC"', within="0 degC to 40 degC"),
        "catchment": Key("m^2", "area that drains to the intake", '"2.2 km^2"'),
        "display": Key("one of: metric | us", "units of tables, figures and sentences", '"metric"'),
        "currency": Key("word", "name of the money used under [costs]", '"crowns"'),
        "stage_of_work": Key("one of: planned | existing", "is the plant planned, or does it run today", '"planned"'),
        "winter": Key("months", "the months counted as winter", "[12, 1, 2]"),
        "coldest": Key("K", "coldest day a pipe must live through, where no record of air temperature says it", '"-15 degC"', within="-80 degC to 40 degC"),
    },
    "stream": {
        "gaugings": Key("file", "CSV: date, stage [m] (may be empty), flow [L/s], uncertainty [%], method, ice", '"gaugings.csv"'),
        "stage": Key("file", "CSV: date, stage [m] of daily means, or time, stage [m] as a logger writes it; ice yes or no", '"stage.csv"'),
        "ice_stages": Key("one of: excluded | corrected", "stages under ice are left out, or lowered by what gaugings under ice show", '"excluded"'),
        "record": Key("file", "CSV: date, flow [L/s], daily means", '"flow.csv"'),
        "record_uncertainty": Key("ratio", "standard deviation of the record's flows where no rating says it", '"12 %"', within="0 % to 80 %"),
        "neighbour_record": Key("file", "CSV of a long daily record nearby, to extend a short one", '"../../data/long-gauge.csv"'),
        "neighbour_catchment": Key("m^2", "area that drains to the neighbour's gauge", '"38 km^2"'),
        "extension": Key("one of: move1 | area | duration", "how the short record is extended", '"move1"'),
        "temperature": Key("file", "CSV: date, temperature [degC], daily means of the air", '"temperature.csv"'),
        "cease_to_flow": Key("m", "stage at which the creek would stop flowing, surveyed", '"0.05 m"', within="-1000 m to 9000 m"),
        "control": Key("one of: v-notch | rectangular | riffle | channel", "what holds the water back below the gauge; shapes a rating of fewer than five stages", '"riffle"'),
        "ice_months": Key("months", "months in which ice lifts the stage, where no sheet has a column ice", "[1, 2]"),
        "segments": Key("count", "curves the rating is made of; left out, as many as the gaugings ask for", "2", within="1 to 2"),
        "fill_gaps": Key("count", "longest gap, in days, that may be filled", "5", within="0 to 366"),
        "current_meter": Key("file", "CSV field sheet: distance [m], depth [m], velocity [m/s]; or velocity at 0.2, at 0.6, at 0.8, at surface, at bed", '"sheet_current_meter.csv"'),
        "salt": Key("file", "CSV field sheet: time [s], conductivity [uS/cm]; second probe [uS/cm], temperature [degC] where read", '"sheet_salt.csv"'),
        "salt_mass": Key("kg", "salt of that sheet", '"0.5 kg"', within="1 g to 1000 kg"),
        "salt_background": Key("S/m", "conductivity before the salt arrives", '"84 uS/cm"'),
        "salt_background_after": Key("S/m", "conductivity after it has passed, where it drifts", '"85 uS/cm"'),
        "salt_tail": Key("one of: measured | exponential", "end with the last reading, or add the tail the falling readings foretell", '"exponential"'),
        "salt_calibration": Key("file", "CSV field sheet: added [mL] so far from 0 up, conductivity [uS/cm]; temperature [degC] where the salt sheet has it", '"sheet_calibration.csv"'),
        "salt_solution": Key("kg/m^3", "salt in the solution that was added", '"2 g/L"'),
        "salt_sample": Key("m^3", "creek water it was added to", '"0.5 L"'),
        "bucket": Key("file", "CSV field sheet: volume [L], time [s], one row a fill", '"bucket.csv"'),
        "bucket_beside": Key("m^3/s ±", "flow that went past the bucket meanwhile, such as what the intake took", '"5 L/s ± 0.3 L/s"', within="0 L/s to 10000 m^3/s"),
        "float": Key("file", "CSV field sheet: length [m], time [s], one row a run", '"sheet_float.csv"'),
        "float_section": Key("file", "CSV field sheet of the reach the floats cross: station [m], across [m], depth [m]", '"sheet_section.csv"'),
        "float_bed": Key("one of: planks or concrete | fine gravel | gravel | cobbles | boulders", "bed of that reach, for the floats' coefficient", '"gravel"'),
        "float_coefficient": Key("ratio ±", "mean over surface velocity, where it is known", '"0.8 ± 0.08"', within="10 % to 100 %"),
        "weir": Key("file", "CSV field sheet: head [mm], one row a reading of the board described under [weir]", '"sheet_weir.csv"'),
        "slope_area": Key("file", "CSV field sheet of flood marks: station [m], level [m], across [m], depth [m]", '"sheet_flood.csv"'),
        "slope_area_manning": Key("count ±", "Manning's n of that reach, judged by eye", '"0.05 ± 0.01"', within="0.008 to 0.3"),
        "width": Key("m", "usual width of the water where it is gauged", '"1.8 m"', within="1 cm to 1000 m"),
        "depth": Key("m", "usual depth of the water there", '"0.2 m"', within="1 mm to 100 m"),
        "slope": Key("ratio", "fall of the creek over its length there", '"3 %"', within="0.001 % to 100 %"),
        "regional_skew": Key("count", "skew of yearly floods in the region, to be weighed with the creek's own", "0.1", within="-3 to 3"),
        "regional_skew_error": Key("count", "mean square error of that skew", "0.302", within="0.001 to 10"),
        "lowest_known_flow": Key("m^3/s", "smallest flow anyone has seen here", '"5 gpm"'),
    },
    "weir": {
        "kind": Key("one of: v-notch | rectangular | cipolletti | broad-crested", "board whose heads the sheet has", '"v-notch"'),
        "angle": Key("rad", "of a V-notch", '"90 deg"', within="10 deg to 120 deg"),
        "width": Key("m", "length of the crest of the others", '"0.4 m"', within="1 cm to 100 m"),
        "channel_width": Key("m", "width of the pool behind the board, or where one could stand", '"1.5 m"', within="1 cm to 1000 m"),
        "crest_height": Key("m", "crest, or point of the notch, above the pool's floor", '"0.3 m"', within="1 mm to 100 m"),
        "notch_depth": Key("m", "depth of the notch from its point to the top of the board", '"0.25 m"', within="1 mm to 100 m"),
        "head_uncertainty": Key("m", "standard deviation of one reading of the head", '"2 mm"', within="0.01 mm to 1 m"),
        "available_rise": Key("m", "how far a pond may stand above the water below it", '"0.5 m"', within="1 cm to 100 m"),
        "lowest": Key("m^3/s", "least flow a new board must read; left out, from record or gaugings", '"2 L/s"', within="0.01 L/s to 10000 m^3/s"),
        "highest": Key("m^3/s", "largest flow it must read", '"40 L/s"', within="0.01 L/s to 10000 m^3/s"),
    },
    "rights": {
        "licence": Key("by month: m^3/s", "most that may be taken", '"45 L/s"'),
        "licence_volume": Key("m^3", "most that may be taken in a year", '"800000 m^3"'),
        "ramp": Key("m^3/s/day", "most that the flow taken may rise from one day to the next; it falls as the creek does", '"10 L/s/day"'),
    },
    "intake": {
        "capacity": Key("m^3/s ±", "most the intake passes when clean; measured, so with ±, it goes before what the screens listed under [[part]] above the pond are calculated to pass; without, they take its place", '"60 L/s ± 4 L/s"', within="0.01 L/s to 10000 m^3/s"),
        "clogged": Key("by month: ratio", "share of it blocked, by month", '{ october = "40 %" }'),
        "weir_length": Key("m", "length of the crest of the weir across the creek, over which a flood runs", '"4 m"', within="1 cm to 1000 m"),
        "weir_crest": Key("one of: broad | thin plate | rounded", "shape of that crest", '"broad"'),
        "banks": Key("m", "height of the banks or walls beside it over the crest", '"0.8 m"', within="0 m to 100 m"),
        "flood": Key("m^3/s ±", "flood it must survive, where no record says it", '"3 m^3/s"', within="0.1 L/s to 10000 m^3/s"),
        "notch_depth": Key("m", "from the sill of the notch for the water that stays up to the lip of the intake", '"100 mm"', within="1 mm to 10 m"),
        "notch_width": Key("m", "width of that notch as built; left out, it is worked out", '"150 mm"', within="1 mm to 100 m"),
        "level": Key("m", "water level at the intake, in the datum of the penstock's profile", '"286.4 m"', within="-1000 m to 9000 m"),
        "life": Key("count", "years it is to stand", "25", within="1 to 200"),
        "flood_risk": Key("ratio", "chance, in those years, of a flood above the one it is built for that you accept", '"20 %"', within="0.1 % to 99 %"),
    },
    "diversion": {
        "profile": Key("file", "CSV: chainage [m], elevation [m] of the line from creek to pond", '"diversion.csv"'),
        "along_slope": Key("yes/no", "is the chainage taped along the pipe (true) or level, as from a map", "true"),
        "inside_diameter": Key("m", "inside diameter of the line, measured", '"160 mm"', within="1 mm to 10 m"),
        "size": Key("text", "size from the catalogue instead of an inside diameter", '"PE100 SDR 17 160 mm"'),
        "roughness": Key("m", "roughness of its wall", '"0.03 mm"'),
        "source_level": Key("m", "water level at its upper end, in the profile's datum", '"287.9 m"', within="-1000 m to 9000 m"),
        "outlet": Key("one of: free | upturned | gated | submerged", "how its lower end is made", '"free"'),
        "outlet_lip": Key("m", "height of an upturned outlet's lip, in the profile's datum", '"277.2 m"', within="-1000 m to 9000 m"),
        "vents": Key("list of m", "chainages of the vents", '["40 m"]'),
        "entry": Key("ratio", "loss coefficient of its mouth", "0.8"),
        "mouth": Key("m", "level of the axis of its mouth, in the profile's datum, where the first station is the water's surface", '"287.6 m"', within="-1000 m to 9000 m"),
        "levels": Key("one of: axis | bottom | top", "which part of the pipe the profile's levels are of", '"axis"'),
        "rating": Key("Pa", "pressure rating at 23 °C where not from the catalogue", '"6 bar"'),
        "snow": Key("m", "usual depth of snow over it in mid winter", '"0.6 m"'),
        "cover": Key("m", "soil over it; left out, it lies on the ground", '"0.3 m"'),
        "insulation": Key("m", "thickness of dry insulation round it", '"30 mm"'),
    },
    "penstock": {
        "profile": Key("file", "CSV: chainage [m], elevation [m], from the water level down to the jets", '"penstock.csv"'),
        "along_slope": Key("yes/no", "is the chainage taped along the pipe (true) or level, as from a map", "true"),
        "head": Key("m ±", "height from the water level to the jets, surveyed", '"46.2 m ± 0.3 m"', within="0.1 m to 3000 m"),
        "static_pressure": Key("Pa ±", "gauge pressure with all jets shut", '"71 psi ± 1 psi"', within="0.01 bar to 300 bar"),
        "gauge_height": Key("m", "height of the gauge above the jets", '"2 ft"', within="-100 m to 100 m"),
        "gauge_zero": Key("Pa", "what the gauge shows with no pressure on it", '"0 psi"', within="-10 bar to 10 bar"),
        "length": Key("m ±", "length of the pipe where no profile is given; paced is enough", '"900 ft ± 30 ft"', within="1 m to 100 km"),
        "entry": Key("ratio", "loss coefficient of the mouth, bends and valves together", "1.5"),
        "closing_time": Key("s", "quickest closing of the valve at the foot", '"8 s"', within="0 s to 20 min"),
        "warmest": Key("K", "warmest its wall gets, such as empty in the sun", '"35 degC"', within="-20 degC to 80 degC"),
        "snow": Key("m", "usual depth of snow over it in mid winter", '"0.6 m"'),
        "cover": Key("m", "soil over it; left out, it lies on the ground", '"0.3 m"'),
        "insulation": Key("m", "thickness of dry insulation round it", '"30 mm"'),
    },
    "turbine": {
        "kind": Key("one of: pelton | turgo | cross-flow | propeller | kaplan | francis | pump run backwards | water wheel | screw", "type of machine", '"pelton"', required=True),
        "jets": Key("count", "number of jets", "4", within="1 to 8"),
        "jet_kind": Key("one of: conical nozzle | drilled plate | sharp-edged orifice | short tube | spear", "how the jets are made; spear jets are adjustable", '"conical nozzle"'),
        "jet_diameter": Key("m", "bore of a fixed jet (drill size)", '"0.5 in"', within="0.5 mm to 1 m"),
        "jet_coefficient": Key("ratio ±", "discharge coefficient where it is known", '"0.95 ± 0.02"', within="30 % to 100 %"),
        "design_flow": Key("m^3/s", "flow of the whole machine at full opening; left out, the sizing decides", '"18 L/s"', within="0.01 L/s to 1000 m^3/s"),
        "efficiency": Key("ratio ±", "best efficiency of the runner", '"78 % ± 3 %"', within="1 % to 100 %"),
        "efficiency_table": Key("file", "CSV of the maker: flow [%], efficiency [%]", '"maker.csv"'),
        "minimum_flow": Key("ratio", "smallest share of the design flow on which a machine with gates or needles runs", '"10 %"'),
        "cavitation": Key("ratio", "cavitation number of a reaction machine, from its maker", "0.3", within="0.001 to 10"),
        "speed": Key("1/s", "speed of the runner", '"1500 rpm"', within="1 rpm to 100000 rpm"),
        "runner_diameter": Key("m", "diameter of the runner at the jets", '"220 mm"', within="10 mm to 20 m"),
        "jets_open": Key("by month: count", "jets that stand open whatever comes, where nobody changes them with the flow; 0, or a month left out: as many as are fed", "4", within="0 to 8"),
    },
    "generator": {
        "kind": Key("one of: synchronous | induction | permanent magnet", "type of generator", '"synchronous"'),
        "efficiency": Key("ratio ±", "efficiency at full load", '"88 %"', within="1 % to 99.9 %"),
        "rating": Key("W", "rated output", '"6 kW"', within="1 W to 1000000 kW"),
        "water_to_wire": Key("ratio ±", "efficiency from the water at the jets to the meter, where only that is known", '"52 %"', within="1 % to 100 %"),
    },
    "cable": {
        "length": Key("m", "one-way length from powerhouse to loads", '"120 m"'),
        "size": Key("text", "conductor, AWG or mm2", '"16 mm2"'),
        "material": Key("one of: copper | aluminium", "conductor", '"copper"'),
        "voltage": Key("V", "voltage between conductors, at the powerhouse", '"230 V"', within="1 V to 100000 V"),
        "phases": Key("one of: dc | one | three", "how it is wired", '"one"'),
        "loss": Key("ratio", "loss at full load where the conductor is not known", '"3 %"'),
    },
    "loads": {
        "need": Key("by month: J", "energy wanted in each month: one value, twelve in a list, or a table such as { january = ..., july = ... }", '"900 kWh"'),
        "heated_ua": Key("W/K", "heat loss of the heated rooms", '"115 W/K"'),
        "inside_temperature": Key("K", "temperature kept in them", '"20 degC"', within="-10 degC to 40 degC"),
        "base_power": Key("W", "steady need beside heating", '"400 W"'),
        "fuel": Key("text", "what heats when the plant does not: propane, heating oil, seasoned firewood, white oak, …", '"propane"'),
        "stove": Key("ratio", "efficiency of that stove, for a kind of wood", '"63 %"', within="1 % to 100 %"),
    },
    "readings": {
        "file": Key("file", "CSV: date, jets, pressure [psi], volts [V], amps [A] or watts [W], spilling, needle", '"readings.csv"'),
        "log": Key("file", "CSV: time, jets, pressure [psi], volts [V], amps [A], spilling, needle, air [degF], note", '"log.csv"'),
        "power_factor": Key("ratio", "of the volts times amps, for alternating current", "1.0"),
        "metered_at": Key("one of: generator terminals | sending end | receiving end", "where the watts are metered, and water_to_wire counted: at the generator, at the beginning or at the far end of the main cable", '"sending end"'),
    },
    "outage": {
        "planned_days": Key("count", "days a year the plant is stopped on purpose", "4", within="0 to 365"),
        "planned_months": Key("months", "months in which that is done", "[8]"),
        "unplanned": Key("ratio", "share of the time it stands still unplanned", '"3 %"'),
    },
    "operation": {
        "jet_dead_band": Key("ratio", "jets are opened or shut only for at least this share more power", '"10 %"', within="0 % to 100 %"),
        "visit_days": Key("count", "days from one look at the jets to the next", "3", within="1 to 60"),
        "stops_per_winter": Key("count", "stops on frosty days in a usual winter: air locks, ice, a tripped breaker", "1", within="0 to 100"),
        "freezes_below": Key("K", "daily mean air temperature at and below which a plant that stands still freezes", '"-3 degC"', within="-60 degC to 10 degC"),
        "thaws_above": Key("K", "mean of five days above which it runs again", '"0 degC"', within="-60 degC to 20 degC"),
        "starved_freezes": Key("yes/no", "does it freeze too where jets are starved and the pipe gulps air", "false"),
    },
    "costs": {
        "fixed": Key("money", "what any plant here costs: intake, access, design, licence", "9000"),
        "per_power": Key("money/W", "machine and switchboard, for each kW", '"1400 per kW"'),
        "pipes": Key("file", "CSV of sizes to try: size, inside [mm], price [money/m]", '"pipe_prices.csv"'),
        "per_jet": Key("money", "each jet with its valve", "450"),
        "laying": Key("money/m", "laying a metre of pipe of any size", '"18 per m"'),
        "cable": Key("money/m", "a metre of cable, laid", '"9 per m"'),
        "cables": Key("file", "CSV of cable sizes to weigh: size, price [money/m], laid", '"cable_prices.csv"'),
        "yearly": Key("ratio", "upkeep in a year, as a share of the first cost", '"2 %"'),
        "life": Key("count", "years the plant is to last", "25", within="1 to 200"),
        "discount_rate": Key("ratio", "what money costs, above inflation", '"4 %"'),
        "value": Key("money/J", "what a kWh is worth here", '"0.22 per kWh"'),
        "replaces": Key("text", "what the energy replaces, whose price that is", '"electricity from the grid"'),
        "loan_years": Key("count", "years over which the first cost would be borrowed", "15", within="1 to 100"),
        "loan_rate": Key("ratio", "interest on the loan, above inflation; left out, the discount rate", '"5 %"', within="0 % to 100 %"),
        "visit": Key("money", "what one walk to the intake is worth: your time, the way there", "8"),
        "doubt": Key("ratio", "standard deviation of the costs", '"15 %"'),
    },
    "sizing": {
        "flows": Key("list of m^3/s", "design flows to try", '["8 L/s", "12 L/s"]', within="0.01 L/s to 1000 m^3/s"),
        "jets": Key("list of count", "jet numbers to try", "[1, 2, 4]", within="1 to 8"),
        "aim": Key("one of: cost | winter | worth", "lowest cost of a kWh, most winter energy, or highest worth", '"cost"'),
        "flat_within": Key("ratio", "designs this near to the best count as equal", '"3 %"'),
    },
    "doubt": {
        "head": Key("ratio", "standard deviation of the head", '"1 %"', within="0 % to 50 %"),
        "loss": Key("ratio", "standard deviation of the pipe loss", '"15 %"', within="0 % to 100 %"),
        "efficiency": Key("ratio", "standard deviation of the efficiency, water to wire", '"4 %"', within="0 % to 50 %"),
        "jet_area": Key("ratio", "standard deviation of the jets' effective area", '"2 %"', within="0 % to 50 %"),
        "draws": Key("count", "number of draws", "4000", within="100 to 100000"),
    },
    "ballast": {
        "power": Key("W", "what the ballast that is there takes; left out, it is worked out", '"5 kW"', within="1 W to 1000000 kW"),
        "stages": Key("count", "stages it is switched in", "3", within="1 to 12"),
        "rule": Key("one of: generator | charge controller | battery code", "whose margin over the plant's output it is to have", '"generator"'),
        "pattern": Key("one of: equal | doubling", "stages all alike, or each twice the one before, which gives finer steps", '"equal"'),
        "voltage": Key("V", "across its resistors; left out, that of the cable", '"230 V"', within="1 V to 100000 V"),
    },
    "inverter": {
        "rating": Key("W", "rated output", '"4 kW"', within="1 W to 1000000 kW"),
        "idle": Key("W", "what it draws with nothing switched on", '"20 W"'),
        "efficiency": Key("ratio", "best efficiency its maker prints", '"94 %"', within="10 % to 99.9 %"),
    },
    "battery": {
        "voltage": Key("V", "of the bank", '"48 V"', within="1 V to 2000 V"),
        "charge": Key("Ah", "rated charge of the bank that is there", '"400 Ah"', within="0.1 Ah to 1000000 Ah"),
        "depth": Key("ratio", "share of it that may be used: 50 % of lead-acid, 80 % of lithium iron phosphate", '"50 %"', within="1 % to 100 %"),
        "efficiency": Key("ratio", "share of what goes in that comes out again", '"85 %"', within="10 % to 100 %"),
        "day_use": Key("list of W", "power wanted in each hour of a usual day, midnight first, 24 values", "[" + ", ".join(['"200 W"'] * 7 + ['"900 W"'] * 2 + ['"400 W"'] * 8 + ['"1.4 kW"'] * 4 + ['"300 W"'] * 3) + "]"),
    },
    "survey": {},
}  # fmt: skip

# A stretch that lies otherwise than the rest of its line: what is left out there is not there.
_STRETCH = {
    "name": Key("text", "what it is called here", '"pipe bridge"'),
    "from": Key("m", "chainage at which it begins", '"121 m"', required=True),
    "to": Key("m", "chainage at which it ends", '"131 m"', required=True),
    "cover": Key("m", "soil over it", '"0.3 m"'),
    "snow": Key("m", "usual depth of snow over it in mid winter", '"0 m"'),
    "insulation": Key("m", "thickness of dry insulation round it", '"30 mm"'),
    "span": Key("m", "distance between its supports, where it hangs free", '"2.4 m"'),
    "snow_load": Key("m", "snow that stands on it where it hangs free", '"0.4 m"'),
    "ice": Key("m", "ice that grows round it where it hangs free", '"20 mm"'),
}
LISTS: dict[str, dict[str, Key]] = {
    "stream.reach": {
        "name": Key("text", "the ditch, pipe or reach that may leak", '"ditch to the pond"', required=True),
        "above": Key("m^3/s ±", "flow gauged at its upper end", '"8.2 L/s ± 0.3 L/s"', required=True, within="0.01 L/s to 10000 m^3/s"),
        "below": Key("m^3/s ±", "flow gauged at its lower end, on the same steady day", '"7.4 L/s ± 0.3 L/s"', required=True, within="0 L/s to 10000 m^3/s"),
        "shared": Key("ratio", "part of both doubts that is one and the same error, such as the mark of one bucket", '"2 %"'),
    },
    "rights.residual": {
        "rule": Key("one of: fixed | share of mean | percentile | tennant | swiss | share of flow | hands-off", "how the flow that stays is set", '"fixed"', required=True),
        "flow": Key("m^3/s", "for fixed and hands-off", '"4 L/s"'),
        "share": Key("ratio", "for share of mean and share of flow", '"10 %"'),
        "exceedance": Key("exceedance", "for percentile", '"95 %"'),
        "class": Key("text", "for tennant", '"good"'),
        "months": Key("months", "months it holds in; left out, all", "[5, 6, 7, 8]"),
    },
    "penstock.pipe": {
        "size": Key("text", "size from the catalogue, gives bore, wall and rating", '"PVC-U PN 10 160 mm"'),
        "inside_diameter": Key("m", "bore, measured, instead of a size", '"101.5 mm"', within="10 mm to 10 m"),
        "length": Key("m", "length of this stretch; left out for one pipe along the whole profile", '"380 m"', within="1 m to 100 km"),
        "roughness": Key("m", "roughness of the wall", '"0.01 mm"'),
        "fittings": Key("ratio", "loss coefficients of bends and valves on it, summed", "1.2"),
        "rating": Key("Pa", "pressure rating at 23 °C where not from the catalogue", '"10 bar"'),
    },
    "penstock.stretch": _STRETCH,
    "penstock.bend": {
        "at": Key("m", "its chainage", '"120 m"', required=True),
        "angle": Key("rad", "by which the pipe turns there, in plan or upright", '"45 deg"', required=True),
    },
    "diversion.stretch": _STRETCH,
    "machine": {
        "name": Key("text", "one of several adjustable machines on the penstock", '"the small one"'),
        "design_flow": Key("m^3/s", "its flow at full opening", '"12 L/s"', required=True, within="0.01 L/s to 1000 m^3/s"),
        "kind": Key("text", "type of machine where it is not that under [turbine]", '"kaplan"'), "efficiency": Key("ratio", "its best efficiency", '"80 %"', within="1 % to 100 %"), "minimum_flow": Key("ratio", "share of its flow below which it stops", '"15 %"', within="0 % to 99 %"),
    },
    "costs.replacement": {
        "name": Key("text", "a part that wears out before the plant does", '"bearings and belts"', required=True), "cost": Key("money", "what a new one costs, put in", "600", required=True),
        "every": Key("count", "years it lasts", "8", required=True, within="0.5 to 200"),
    },
    "loads.night": {
        "power": Key("W", "mean of all heat put in through a calm, dark night, lights and sleepers (80 W each) included", '"2.5 kW"', required=True),
        "inside": Key("K", "mean temperature of the rooms that night", '"19 degC"', required=True, within="-30 degC to 50 degC"),
        "outside": Key("K", "mean temperature outdoors that night", '"-6 degC"', required=True),
        "hours": Key("s", "how long it was watched", '"8 h"'),
        "date": Key("date", "night it was done", "2026-01-18"),
    },
    "room": {
        "name": Key("text", "what it is called; list the rooms the plant is to heat", '"kitchen"', required=True),
        "ua": Key("W/K", "its heat loss where it is known, instead of areas", '"40 W/K"'),
        "walls": Key("m^2", "outer walls, without windows and doors", '"38 m^2"'),
        "u_walls": Key("W/m^2/K", "heat they let through", '"0.4 W/m^2/K"', within="0.01 W/m^2/K to 20 W/m^2/K"),
        "windows": Key("m^2", "windows", '"4 m^2"'),
        "u_windows": Key("W/m^2/K", "heat they let through", '"1.6 W/m^2/K"', within="0.01 W/m^2/K to 20 W/m^2/K"),
        "doors": Key("m^2", "outer doors", '"2 m^2"'),
        "u_doors": Key("W/m^2/K", "heat they let through", '"2 W/m^2/K"', within="0.01 W/m^2/K to 20 W/m^2/K"),
        "roof": Key("m^2", "roof or ceiling under a cold loft", '"25 m^2"'),
        "u_roof": Key("W/m^2/K", "heat it lets through", '"0.2 W/m^2/K"', within="0.01 W/m^2/K to 20 W/m^2/K"),
        "floor": Key("m^2", "floor over ground or a cold cellar; it counts half", '"25 m^2"'),
        "u_floor": Key("W/m^2/K", "heat it lets through", '"0.5 W/m^2/K"', within="0.01 W/m^2/K to 20 W/m^2/K"),
        "volume": Key("m^3", "air in it", '"60 m^3"'),
        "air_changes": Key("count", "how often an hour that air is renewed: 0.3 tight, 1 and more in an old house", "0.5", within="0 to 20"),
    },
    "circuit": {
        "name": Key("text", "what hangs on it; list the most important first: it is served first", '"house"', required=True),
        "power": Key("W", "greatest power of its loads together", '"2 kW"', required=True, within="1 W to 100000 kW"),
        "kind": Key("one of: heater | motor | other", "what they are", '"heater"'),
        "length": Key("m", "one-way length of its cable", '"25 m"'),
        "size": Key("text", "its conductor, AWG or mm2; left out, the smallest for the drop is shown", '"2.5 mm2"'),
        "material": Key("one of: copper | aluminium", "conductor", '"copper"'),
        "voltage": Key("V", "voltage; left out, that of the cable", '"230 V"', within="1 V to 100000 V"),
        "phases": Key("one of: dc | one | three", "how it is wired; left out, as the cable", '"one"'),
        "power_factor": Key("ratio", "of its loads, for alternating current", "0.8", within="10 % to 100 %"),
        "drop": Key("ratio", "most of the voltage that may be lost on it", '"3 %"', within="0.1 % to 50 %"),
        "begins": Key("one of: cable end | powerhouse", "where it begins: at the far end of the main cable, or at the powerhouse", '"cable end"'),
    },
    "transformer": {
        "name": Key("text", "what it is called here", '"step-up"'),
        "at": Key("one of: powerhouse | loads", "at which end of the cable", '"powerhouse"', required=True),
        "rating": Key("W", "rated output", '"10 kW"', required=True, within="1 W to 1000000 kW"),
        "no_load_loss": Key("W", "lost day and night, from its plate", '"40 W"', required=True),
        "full_load_loss": Key("W", "lost in the windings at full load, from its plate", '"180 W"', required=True),
    },
    "reading": {
        "jets": Key("count", "jets open; 0 for shut-off", "2", required=True, within="0 to 8"),
        "pressure": Key("Pa", "gauge pressure", '"68 psi"', required=True),
        "volts": Key("V", "voltage", '"120 V"'),
        "amps": Key("A", "current", '"14 A"'),
        "watts": Key("W", "power where a meter shows it", '"1650 W"'),
        "spilling": Key("yes/no", "does the pond spill", "true"),
        "needle": Key("one of: steady | hunts", "does the needle hunt", '"steady"'),
        "date": Key("date", "day it was read", "2026-07-04"),
    },
    "upgrade": {
        "name": Key("text", "what would be done", '"a second pipe"', required=True),
        "cost": Key("money", "what it would cost", "1200"),
        "life": Key("count", "years it would last", "20", within="1 to 200"),
        "pipe": Key("text", "new pipe of the penstock, from the catalogue", '"6 in PVC Sch 40"'),
        "jets": Key("count", "new number of jets", "3", within="1 to 8"),
        "jet_diameter": Key("m", "new bore of the jets", '"12 mm"', within="0.5 mm to 1 m"),
        "capacity": Key("m^3/s", "new capacity of the intake", '"60 L/s"', within="0.01 L/s to 10000 m^3/s"),
        "clogged": Key("by month: ratio", "share of the intake blocked after the change", '"5 %"'),
        "diversion_pipe": Key("text", "new pipe of the line from creek to pond, from the catalogue", '"PE100 SDR 17 250 mm"'),
        "diversion_vents": Key("list of m", "chainages of new vents or standpipes on that line", '["40 m", "85 m"]'),
        "efficiency": Key("ratio", "new best efficiency of the runner", '"80 %"', within="1 % to 100 %"),
        "cable_size": Key("text", "new conductor", '"25 mm2"'),
        "unplanned": Key("ratio", "share of the time it stands still after the change", '"1 %"'),
        "close_jets": Key("count", "jets to close in the months named", "1", within="0 to 8"),
        "jets_as_fed": Key("yes/no", "open only as many jets as give most power, by the gauge, in the months named", "true"),
        "extra_flow": Key("m^3/s", "water brought in from elsewhere", '"3 L/s"'),
        "months": Key("months", "months in which jets are closed or opened as fed, or water comes; left out, all", "[12, 1, 2]"),
        "needs": Key("list of text", "other changes it makes no sense without", '["vents"]'),
    },
}  # fmt: skip

_CLOGGED = Key("by month: ratio", "share of it blocked, by month", "{ october = \"40 %\" }")
_GAUGED_HEAD = Key("list of m", "level difference across it, or to its middle where it falls free, one for each gauging", '["0.30 m", "0.28 m"]', within="0.1 mm to 100 m")
_GAUGED_FLOW = Key("list of m^3/s", "flow that was gauged then, such as with a bucket or salt", '["12 L/s", "24 L/s"]', within="0.001 L/s to 10000 m^3/s")
_SOIL = Key("one of: " + " | ".join(SOILS), "ground under the water", '"sandy loam"')
_SEEPAGE = Key("m/s", "water lost for each wetted area, where it was measured", '"0.3 m/d"', within="0 m/d to 100 m/d")
PART_KINDS: dict[str, dict[str, Key]] = {
    "screen": {"area": Key("m^2", "area of mesh or plate in the water", '"0.4 m^2"', required=True, within="0.001 m^2 to 1000 m^2"), "open": Key("ratio", "open share of it", '"45 %"', required=True, within="1 % to 100 %"), "head": Key("m", "water level difference it may use", '"30 mm"', required=True, within="1 mm to 10 m"), "wire_gap": Key("m", "clear gap of a mesh of round wires, which hold the water less than a plate", '"2 mm"', within="0.01 mm to 1 m"), "clogged": _CLOGGED},
    "drilled pipe": {"holes": Key("count", "number of holes", "220", required=True, within="1 to 100000"), "hole": Key("m", "their bore", '"10 mm"', required=True, within="0.5 mm to 1 m"), "head": Key("m", "depth of water over the middle row", '"80 mm"', required=True, within="1 mm to 10 m"), "mesh_open": Key("ratio", "open share of a mesh clamped over the holes", '"36 %"', within="1 % to 100 %"), "clogged": _CLOGGED},
    "bar rack": {"bar": Key("m", "thickness of a bar", '"8 mm"', required=True, within="0.1 mm to 1 m"), "gap": Key("m", "clear gap", '"20 mm"', required=True, within="0.1 mm to 1 m"), "width": Key("m", "width of the rack", '"0.8 m"', required=True, within="1 cm to 100 m"), "depth": Key("m", "depth of water before it", '"0.3 m"', required=True, within="1 cm to 10 m"), "angle": Key("rad", "slope from the horizontal", '"60 deg"', within="5 deg to 90 deg"), "head": Key("m", "level difference it may use", '"30 mm"', required=True, within="1 mm to 10 m"), "clogged": _CLOGGED},
    "tilted screen": {"rating": Key("m^3/s", "maker's or owner's rated flow through it, clean", '"25 L/s"', required=True, within="0.01 L/s to 10000 m^3/s"), "drop": Key("m", "drop it takes", '"0.4 m"'), "length": Key("m", "length along its wires, crest to toe", '"0.5 m"', within="1 cm to 100 m"), "rated_by": Key("one of: maker | gauged | estimate", "who says what it is rated for", '"maker"'), "clogged": _CLOGGED},
    "bottom rack": {"width": Key("m", "width across the creek", '"1 m"', required=True, within="1 cm to 100 m"), "length": Key("m", "length of the bars along the creek", '"0.7 m"', required=True, within="1 cm to 100 m"), "bar": Key("m", "thickness of a bar", '"10 mm"', required=True, within="0.1 mm to 1 m"), "gap": Key("m", "clear gap", '"10 mm"', required=True, within="0.1 mm to 1 m"), "slope": Key("rad", "of the bars along the creek", '"12 deg"', within="0 deg to 26 deg"), "clogged": _CLOGGED},
    "orifice": {"diameter": Key("m", "bore", '"120 mm"', required=True, within="1 mm to 10 m"), "head": Key("m", "water above its middle", '"0.3 m"', required=True, within="1 mm to 100 m"), "gauged_head": _GAUGED_HEAD, "gauged_flow": _GAUGED_FLOW},
    "gate": {"width": Key("m", "clear width", '"0.4 m"', required=True, within="1 cm to 100 m"), "opening": Key("m", "highest it is lifted", '"0.2 m"', required=True, within="1 mm to 100 m"), "head": Key("m", "most fall of the water across it", '"0.3 m"', required=True, within="1 mm to 100 m"), "gauged_lift": Key("list of m", "its lift when it was gauged, one for each gauging", '["40 mm", "80 mm"]', within="0.1 mm to 100 m"), "gauged_head": _GAUGED_HEAD, "gauged_flow": _GAUGED_FLOW},
    "line": {},
    "meadow": {"length": Key("m", "length the water runs in the open", '"200 ft"', required=True, within="0.1 m to 100 km"), "width": Key("m", "width of the water", '"2 ft"', required=True, within="1 cm to 1000 m"), "loss": Key("ratio", "share lost on the way in summer, gauged at both ends; left out, it is worked out from ground and size", '"10 %"', within="0 % to 99 %"), "soil": _SOIL, "seepage": _SEEPAGE},
    "channel": {
        "length": Key("m", "its length", '"120 m"', required=True, within="0.1 m to 100 km"),
        "slope": Key("ratio", "its fall over its length", '"0.5 %"', required=True, within="0.001 % to 100 %"),
        "width": Key("m", "width of its floor", '"0.4 m"', within="0 m to 100 m"),
        "depth": Key("m", "depth from bank to floor", '"0.4 m"', within="1 cm to 100 m"),
        "side_slope": Key("ratio", "how far its sides lean out for each metre up", "0.5", within="0 to 10"),
        "diameter": Key("m", "bore, where it is a pipe that runs part full", '"250 mm"', within="1 cm to 10 m"),
        "lining": Key("text", "floor and walls: " + ", ".join(("concrete", "boards planed", "earth sandy loam", "stream gravel", "pipe smooth plastic")) + " and so on", '"concrete"'),
        "manning": Key("count", "Manning's n, where it is known better than by the lining", "0.015", within="0.005 to 0.5"),
        "freeboard": Key("m", "bank that is to stay dry; left out, a quarter of its depth", '"0.15 m"', within="0 m to 10 m"),
        "soil": _SOIL, "seepage": _SEEPAGE,
        "loss": Key("ratio", "share lost on the way, gauged at both ends", '"5 %"', within="0 % to 99 %"),
        "clogged": _CLOGGED,
    },
    "pond": {"area": Key("m^2", "area of the pond", '"40 m^2"', required=True, within="0.01 m^2 to 100 km^2"), "depth": Key("m", "depth that may be drawn", '"0.3 m"', required=True, within="1 mm to 100 m"), "grain": Key("m", "smallest grain it is to keep from the jets", '"0.3 mm"'), "silt": Key("kg/m^3", "silt in the water when the creek is brown; let a jar of it stand", '"0.5 kg/m^3"'), "silt_depth": Key("m", "room for silt below the depth that is drawn", '"0.3 m"'), "standpipe": Key("m", "inside diameter of an upright overflow pipe, which is pulled to flush", '"150 mm"', within="1 cm to 10 m"), "standpipe_fall": Key("m", "from its rim down to the free end of the drain behind it", '"1.2 m"', within="0 m to 100 m"), "spill_length": Key("m", "length of a low edge that spills, at the same level", '"1.5 m"', within="1 cm to 1000 m"), "bank": Key("m", "height of the bank over the rim or the low edge", '"0.3 m"', within="1 mm to 100 m")},
}  # fmt: skip
LISTS["part"] = {
    "kind": Key("one of: " + " | ".join(PART_KINDS), "what it is; the keys depend on it", '"screen"', required=True),
    "name": Key("text", "what it is called here", '"creek screen"'),
}
