"""The two surveys of the study saltfern-creek, invented: the line from the weir, and the penstock."""

from invented_csv import fixed, write_csv

# chainage [ft], elevation [ft]: polyethylene line over bedrock
LINE = (
    (0, 189.6),
    (45, 187.0),
    (95, 185.3),
    (150, 183.4),
    (205, 180.9),
    (250, 179.8),
    (300, 181.2),
    (345, 182.6),
    (385, 181.5),
    (430, 178.3),
    (475, 175.9),
    (515, 176.6),
    (550, 177.4),
    (585, 176.3),
    (615, 174.6),
    (640, 173.5),
)
# chainage [ft], elevation of the axis [ft], ground [ft], note
PENSTOCK = (
    (0, 170.4, 166.8, "water in the settling box"),
    (4, 168.1, 167.6, "pipe inlet"),
    (60, 163.2, 164.1, ""),
    (125, 156.0, 156.9, ""),
    (190, 148.8, 149.7, ""),
    (260, 141.5, 142.4, ""),
    (330, 132.6, 133.5, ""),
    (400, 122.8, 123.7, ""),
    (470, 112.1, 113.0, ""),
    (540, 102.3, 103.2, ""),
    (600, 93.4, 94.3, ""),
    (640, 88.2, 89.1, ""),
    (700, 79.5, 80.4, ""),
    (760, 70.4, 71.3, ""),
    (815, 62.7, 62.5, "trestle begins"),
    (840, 60.5, 48.9, "trestle over the tidal gully"),
    (865, 58.4, 44.0, "trestle over the tidal gully"),
    (890, 56.2, 47.6, "trestle over the tidal gully"),
    (915, 54.1, 53.9, "trestle ends; reducer to 4 in"),
    (970, 47.6, 48.5, ""),
    (1030, 41.9, 42.8, ""),
    (1080, 37.5, 38.4, "wall of the powerhouse"),
    (1110, 36.0, 34.1, "gauge and jets"),
)


def write_survey(folder):
    chainage, elevation = zip(*LINE)
    write_csv(
        folder / "line.csv",
        [
            "Invented: polyethylene line over bedrock, levels good to 0.2 ft. Written by make_data.py.",
            "First station: water behind the weir. Others: bottom of the line. Last: its end at the gate of the flume.",
        ],
        {"chainage [ft]": chainage, "elevation [ft]": fixed(elevation, 1)},
    )
    chainage, elevation, ground, note = zip(*PENSTOCK)
    write_csv(
        folder / "penstock.csv",
        [
            "Invented: penstock, taped along the pipe, levels good to 0.2 ft. Written by make_data.py.",
            "First station: water in the settling box. Others: middle of the pipe. High tide reaches 14 ft.",
        ],
        {
            "chainage [ft]": chainage,
            "elevation [ft]": fixed(elevation, 1),
            "ground [ft]": fixed(ground, 1),
            "note": note,
        },
    )
