"""Field sheets to print: one page each, with lines to fill in by pencil.

They hold what the CSV sheets of the same study ask for, in the same order, so that an evening at
the kitchen table is enough to type them in.
"""

from __future__ import annotations

import html
from dataclasses import KW_ONLY, dataclass

__all__ = ["field_pages"]


@dataclass(frozen=True)
class _Sheet:
    """One page: what to write at its head, the columns of its table, what to watch for."""

    title: str
    about: str
    head: tuple[str, ...]
    _: KW_ONLY
    columns: tuple[tuple[str, str], ...]  # title, width
    rows: int
    cautions: tuple[str, ...]
    type_into: str
    more: str = ""  # further HTML between head and table


_UNITS = {
    "metric": {
        "length": "m",
        "depth": "m",
        "flow": "L/s",
        "volume": "L",
        "velocity": "m/s",
        "pressure": "bar",
        "air": "°C",
        "salt": "g",
    },
    "us": {
        "length": "ft",
        "depth": "ft",
        "flow": "gpm",
        "volume": "gal",
        "velocity": "ft/s",
        "pressure": "psi",
        "air": "°F",
        "salt": "oz",
    },
}


def field_pages(units: str = "metric") -> dict[str, str]:
    """The printable sheets of a study: file name to HTML.

    Parameters
    ----------
    units : {"metric", "us"}
        Units printed on them.
    """
    unit = _UNITS[units]
    return {
        f"print_{name}.html": _page(sheet)
        for name, sheet in (
            ("gauging", _gauging(unit)),
            ("salt", _salt(unit)),
            ("floats", _floats(unit)),
            ("flood", _flood(unit)),
            ("survey", _survey(unit)),
            ("log", _log(unit)),
        )
    }


def _gauging(unit: dict[str, str]) -> _Sheet:
    tries = "".join(f"<td>{number}</td>" for number in range(1, 7))
    bucket = (
        f'<table class="small"><caption>Bucket: at least three fills; empty it in between</caption><tr><th>fill</th>{tries}</tr>'
        f"<tr><th>volume [{unit['volume']}]</th>{'<td></td>' * 6}</tr><tr><th>time [s]</th>{'<td></td>' * 6}</tr></table>"
    )
    return _Sheet(
        "Gauging",
        "One visit, one page. Read the stage before and after; write down what you see, not what you expect.",
        (
            "Creek",
            "Place of the gauging",
            "Date",
            "Time from, to",
            "Who",
            "Weather, last rain",
            f"Stage before [{unit['length']}]",
            f"Stage after [{unit['length']}]",
            "Ice: none, edges, cover",
        ),
        columns=(
            (f"distance from the bank [{unit['length']}]", "26%"),
            (f"depth [{unit['depth']}]", "20%"),
            (f"velocity at 6/10 of the depth [{unit['velocity']}]", "28%"),
            ("remark", "26%"),
        ),
        rows=14,
        cautions=(
            "Do not wade in water that is fast and above the knee, nor alone, nor in flood. "
            "Cold water takes the strength from hands and legs within minutes.",
            "Throw no more salt than is needed; keep it from fish pools and from anybody's drinking water.",
            (
                "From bank to bank, at least ten verticals, none with more than a tenth of the "
                "flow; the edges have depth 0."
            ),
        ),
        type_into="sheet_bucket.csv, sheet_current_meter.csv, each with its date and stage; or gaugings.csv",
        more=bucket,
    )


def _salt(unit: dict[str, str]) -> _Sheet:
    steps = "".join(f"<td>{number}</td>" for number in range(7))
    calibration = (
        '<table class="small"><caption>Calibration in a jar of creek water: add the same solution step by step, stir, read</caption>'
        f"<tr><th>step</th>{steps}</tr><tr><th>added so far [mL]</th>{'<td></td>' * 7}</tr><tr><th>reading [µS/cm]</th>{'<td></td>' * 7}</tr></table>"
        '<p class="fields"><span>Water in the jar [mL]</span><span>Salt in the solution [g/L]</span><span>Temperature of the jar</span></p>'
    )
    pair = (("time [s]", "9%"), ("conductivity [µS/cm]", "16%"))
    return _Sheet(
        "Salt",
        (
            "One throw, one page. Read the conductivity every 5 s, from before the salt comes "
            "until it stands again where it began; go down the columns in turn."
        ),
        (
            "Creek",
            "Date, time",
            "Who",
            f"Salt thrown, weighed dry [{unit['salt']}]",
            f"Throw to meter [{unit['length']}]",
            f"Stage before, after [{unit['length']}]",
            "Conductivity before [µS/cm]",
            "Conductivity after [µS/cm]",
            f"Water [{unit['air']}]",
        ),
        columns=pair * 4,
        rows=20,
        cautions=(
            "Throw no more salt than is needed; keep it from fish pools and from anybody's "
            "drinking water, and ask whoever uses the creek below.",
            "Do not wade in water that is fast and above the knee, nor alone, nor in flood.",
            (
                "A second probe at the other bank shows whether the salt has mixed; give its "
                "readings a page of their own."
            ),
        ),
        type_into="sheet_salt.csv, with its date and stage in the first row; sheet_calibration.csv",
        more=calibration,
    )


def _floats(unit: dict[str, str]) -> _Sheet:
    runs = "".join(f"<td>{number}</td>" for number in range(1, 11))
    heads = "".join(f"<td>{number}</td>" for number in range(1, 7))
    head = "mm" if unit["length"] == "m" else "in"
    tables = (
        '<table class="small"><caption>Floats: at least eight, spread from bank to '
        f"bank</caption><tr><th>run</th>{runs}</tr><tr><th>time "
        f'[s]</th>{"<td></td>" * 10}</tr></table><table class="small"><caption>Weir plate: read '
        "the head well upstream of it, four times the head "
        f"away</caption><tr><th>reading</th>{heads}</tr><tr><th>head "
        f'[{head}]</th>{"<td></td>" * 6}</tr></table><p class="fields"><span>Plate: V-notch and '
        f"its angle, or crest and its length [{unit['length']}]</span><span>Width of the pool "
        f"[{unit['length']}]</span><span>Point or crest above its floor "
        f"[{unit['length']}]</span></p>"
    )
    return _Sheet(
        "Floats, weir plate",
        (
            "Without a meter. The floats cross two sections whose depths are measured below; the "
            "weir plate needs no section."
        ),
        (
            "Creek",
            "Place of the gauging",
            "Date, time",
            "Who",
            f"Stage before, after [{unit['length']}]",
            f"Length the floats are timed over [{unit['length']}]",
            "Bed: planks, fine gravel, gravel, cobbles, boulders",
            "Wind up or down the creek",
            "Ice: none, edges, cover",
        ),
        columns=(
            (f"station along the creek [{unit['length']}]", "26%"),
            (f"across from the bank [{unit['length']}]", "26%"),
            (f"depth [{unit['depth']}]", "22%"),
            ("remark", "26%"),
        ),
        rows=16,
        cautions=(
            "Do not wade in water that is fast and above the knee, nor alone, nor in flood. "
            "Cold water takes the strength from hands and legs within minutes.",
            (
                "Section: at least eight depths from edge to edge, at the upper and the lower end "
                "of the floats' way."
            ),
            (
                "A weir plate must spill clear: air behind the falling water, and the water below "
                "well under the crest."
            ),
        ),
        type_into="sheet_float.csv, sheet_section.csv, sheet_weir.csv",
        more=tables,
    )


def _flood(unit: dict[str, str]) -> _Sheet:
    return _Sheet(
        "Flood marks",
        (
            "After the water has fallen: a straight reach that does not widen, at least three "
            "sections, marks on both banks."
        ),
        (
            "Creek",
            "Reach",
            "Date of the flood, date of the survey",
            "Who, with what level",
            "Bed and banks: stones, brush, bends",
            "Manning's n, judged by eye, and how sure",
        ),
        columns=(
            (f"station along the creek [{unit['length']}]", "20%"),
            (f"level of the mark [{unit['length']}]", "18%"),
            (f"across from the mark [{unit['length']}]", "20%"),
            (f"depth of the bed below it [{unit['depth']}]", "20%"),
            ("what the mark is: wrack, bark, seeds", "22%"),
        ),
        rows=24,
        cautions=(
            "Banks undercut by a flood can give way: stay off them, and out of the water "
            "until it is low and clear.",
            (
                "All levels from one datum; the reach at least 75 times as long as the water was "
                "deep, if it can be had."
            ),
        ),
        type_into="sheet_flood.csv",
    )


def _survey(unit: dict[str, str]) -> _Sheet:
    return _Sheet(
        "Survey of a line",
        (
            "Penstock or diversion: a station at every change of slope, at every high point and "
            "low point, at bridges and bends. To "
            f"{'a centimetre' if unit['length'] == 'm' else 'half an inch'}; close back on the "
            "first station."
        ),
        (
            "Creek",
            "Line: penstock or diversion",
            "Date",
            "Who, with what level",
            f"Water level at the upper end [{unit['length']}]",
            "Chainage: along the slope, or level",
        ),
        columns=(
            (f"chainage [{unit['length']}]", "16%"),
            (f"back sight [{unit['length']}]", "14%"),
            (f"fore sight [{unit['length']}]", "14%"),
            (f"elevation of the pipe [{unit['length']}]", "20%"),
            ("what is there: high point, bend and its angle, bridge, rock, cover", "36%"),
        ),
        rows=22,
        cautions=(
            "On steep or wet ground one holds the rope. No staff of metal near overhead wires.",
            "First station: the water's surface at the intake. Last station: the jets.",
            f"Closing error [{unit['length']}]: ____________   A survey that does not close is walked again.",
        ),
        type_into="sheet_penstock.csv, or diversion.csv with the same columns",
    )


def _log(unit: dict[str, str]) -> _Sheet:
    return _Sheet(
        "Log of the powerhouse",
        (
            "A line whenever you pass. Read with the plant steady for a quarter of an hour; say "
            "when the forebay does not spill."
        ),
        (
            "Plant",
            "Month and year",
            "Gauge shows with no pressure",
            f"Gauge with all jets shut [{unit['pressure']}]",
        ),
        columns=(
            ("day, time", "13%"),
            ("jets open", "8%"),
            (f"pressure [{unit['pressure']}]", "11%"),
            ("volts", "9%"),
            ("amps", "9%"),
            ("forebay spills", "9%"),
            ("needle steady or fluctuates", "12%"),
            (f"air [{unit['air']}]", "8%"),
            ("what was seen and done", "21%"),
        ),
        rows=24,
        cautions=(
            "A turning generator is live even when nothing is switched on. Close valves "
            "slowly; stand aside of joints.",
            (
                "Nothing opened, reached into or wired while it turns; electrical work is for "
                "those licensed for it."
            ),
        ),
        type_into="sheet_log.csv",
    )


# Sized to fit A4 and Letter alike: as narrow as the one, as short as the other.
_STYLE = """
@page { margin: 11mm 12mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #17242b; font: 10.5pt/1.35 "Segoe UI", "Helvetica Neue", Arial, "Liberation Sans", sans-serif; }
body { margin: 0 auto; width: 184mm; height: 251mm; display: flex; flex-direction: column; }
h1 { font-size: 17pt; margin: 0; }
.about { margin: 1mm 0 3mm; color: #51616a; }
.fields { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 0 5mm; margin: 0 0 3mm; }
.fields span { border-bottom: 1px solid #17242b; font-size: 8.5pt; color: #51616a; height: 9mm; display: flex; align-items: flex-start; }
table { width: 100%; border-collapse: collapse; table-layout: fixed; }
th, td { border: 1px solid #8a979d; padding: .6mm 1.5mm; font-weight: 600; font-size: 8.5pt; text-align: left; vertical-align: bottom; }
td { font-weight: 400; }
.small { margin: 0 0 2mm; } .small td { height: 6mm; } .small th { width: 26mm; }
caption { text-align: left; font-size: 8.5pt; padding-bottom: 1mm; color: #51616a; }
.lines { flex: 1; } .lines thead { height: 1mm; }
ul { margin: 3mm 0 0; padding: 2mm 2mm 2mm 7mm; border: 1px solid #17242b; font-size: 9pt; }
footer { margin-top: 2mm; font-size: 8.5pt; color: #51616a; }
@media screen { body { margin: 8mm auto; } }
"""


def _page(sheet: _Sheet) -> str:
    fields = "".join(f"<span>{html.escape(each)}</span>" for each in sheet.head)
    columns = "".join(
        f'<th style="width:{width}">{html.escape(title)}</th>' for title, width in sheet.columns
    )
    rows = f"<tr>{'<td></td>' * len(sheet.columns)}</tr>" * sheet.rows
    cautions = "".join(f"<li>{html.escape(each)}</li>" for each in sheet.cautions)
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{html.escape(sheet.title)}: field sheet</title>
<style>{_STYLE}</style>
</head>
<body>
<h1>{html.escape(sheet.title)}</h1>
<p class="about">{html.escape(sheet.about)}</p>
<p class="fields">{fields}</p>
{sheet.more}
<table class="lines"><thead><tr>{columns}</tr></thead><tbody>{rows}</tbody></table>
<ul>{cautions}</ul>
<footer>Type it into {html.escape(sheet.type_into)}.</footer>
</body>
</html>
"""
