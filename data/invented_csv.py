"""Write the CSV files of the invented studies: the same bytes on every machine."""

from pathlib import Path

import numpy as np


def digits(value, count):
    """`value` with `count` significant digits, as short plain text (0.0931, 55.2, 412).

    Blank for a missing value; text passes.
    """
    if isinstance(value, str):
        return value
    if value is None or np.isnan(value):
        return ""
    if value == 0:
        return "0"
    decimals = max(count - 1 - int(np.floor(np.log10(abs(value)))), 0)
    text = f"{float(f'{value:.{count - 1}e}'):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def fixed(values, decimals):
    """`values` as a reader notes them from an instrument: a fixed number of decimals."""
    return [
        "" if np.isnan(value) else f"{round(value, decimals) + 0.0:.{decimals}f}"
        for value in np.asarray(values, float)
    ]


def write_csv(path, remarks, columns, significant=3):
    """Write `columns` ({header with unit: values}) under the lines of `remarks`.

    Dates are written as YYYY-MM-DD, numbers with `significant` digits, lines end in LF.
    """
    written = [[_text(value, significant) for value in values] for values in columns.values()]
    lengths = {len(column) for column in written}
    if len(lengths) != 1:
        raise ValueError(f"{path}: columns of different lengths {sorted(lengths)}.")
    if any("," in text for column in written for text in column):
        raise ValueError(f"{path}: a comma in a cell; these files are written without quotes.")
    lines = [f"# {line}" for line in remarks]
    lines.append(",".join(columns))
    lines += [",".join(row) for row in zip(*written)]
    Path(path).write_bytes(("\n".join(lines) + "\n").encode("utf-8"))


def _text(value, significant):
    if hasattr(value, "strftime"):
        return value.strftime("%Y-%m-%d")
    return digits(value, significant)
