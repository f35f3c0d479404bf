"""The drawings of the lessons and their handouts: what stands where, and what is measured there."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from ..errors import HydrokitError, did_you_mean
from .drawn import AIR, SOFT, Drawing, Paper

__all__ = ["DRAWINGS", "drawing"]


@cache
def drawing(name: str) -> Drawing:
    """One of the drawings.

    Parameters
    ----------
    name : str
        One of :data:`DRAWINGS`.

    Raises
    ------
    HydrokitError
        No drawing of this name.

    Examples
    --------
    >>> print(repr(drawing("stilling tube"))[:52])
    A stilling tube stands in the bank. A thin pipe low
    """
    if name not in DRAWINGS:
        raise HydrokitError(
            f"drawing(): there is no drawing '{name}'{did_you_mean(name, DRAWINGS)}; there "
            f"are: {', '.join(DRAWINGS)}"
        )
    return DRAWINGS[name]()


# --- gauging -----------------------------------------------------------------------------------


def _v_notch() -> Drawing:
    paper = Paper(680, 270)
    paper.text(20, 24, "seen from below", bold=True)
    paper.ground(
        (20, 60), (60, 100), (60, 232), (260, 232), (260, 100), (300, 60), (300, 254), (20, 254)
    )
    paper.area(
        (60, 78),
        (112, 78),
        (160, 168),
        (208, 78),
        (260, 78),
        (260, 232),
        (60, 232),
        fill="#f4f4f2",
        wide=1.8,
    )
    paper.water((131, 114), (189, 114), (160, 168))
    paper.line((131, 114), (189, 114), wide=1.2)
    paper.text(160, 200, "plate, sharp edge", "middle")
    paper.text(160, 70, "90°", "middle")
    paper.line((140, 131), (148, 125), (160, 122), (172, 125), (180, 131), wide=0.9)
    paper.text(350, 24, "seen from the side", bold=True)
    paper.water((350, 114), (556, 114), (570, 122), (570, 232), (350, 232))
    paper.line((350, 114), (552, 114), (570, 124), wide=1.2)
    paper.area((570, 168), (577, 164), (577, 232), (570, 232), fill="#f4f4f2", wide=1.6)
    paper.water(
        (570, 124),
        (590, 140),
        (604, 176),
        (612, 216),
        (598, 216),
        (590, 178),
        (577, 164),
        (570, 166),
    )
    paper.water((578, 216), (660, 216), (660, 232), (578, 232))
    paper.ground((350, 232), (664, 232), (664, 254), (350, 254))
    paper.line((400, 168), (570, 168), wide=0.9, dash="5 4")
    paper.level(480, 114)
    paper.measure((420, 114), (420, 168), "h, the head", (428, 146))
    paper.measure((420, 92), (570, 92), "at least 4 times h", (436, 84))
    paper.line((570, 86), (570, 120), wide=0.8, ink=SOFT)
    paper.text(618, 176, "air", size=12)
    paper.arrow((616, 184), (586, 200), wide=1)
    return paper.done(
        "A V-notch weir from below and from the side. The head is the height of the water above "
        "the point of the notch, read upstream at a distance of at least four times that head. "
        "The water falls free, with air behind it."
    )


def _float_run() -> Drawing:
    paper = Paper(680, 280)
    paper.text(20, 24, "seen from above", bold=True)
    paper.water((20, 60), (430, 60), (430, 190), (20, 190))
    paper.ground((20, 38), (430, 38), (430, 64), (330, 58), (220, 66), (110, 58), (20, 64))
    paper.ground((20, 186), (110, 192), (220, 184), (330, 192), (430, 186), (430, 212), (20, 212))
    for x in (110, 350):
        paper.line((x, 48), (x, 202), wide=1.4, dash="7 4")
        paper.dot(x, 46, 3.5)
        paper.dot(x, 204, 3.5)
    for y, left in ((92, 60), (124, 44), (158, 64)):
        paper.circle(left, y, 6, "#e9b44c")
        paper.arrow((left + 12, y), (392, y), wide=1.1)
    paper.measure((110, 234), (350, 234))
    paper.text(230, 254, "measured length; stop the time from cord to cord", "middle")
    paper.text(470, 24, "across the creek", bold=True)
    paper.water((480, 80), (660, 80), (620, 140), (570, 162), (520, 140))
    paper.line((466, 60), (480, 80), (520, 140), (570, 162), (620, 140), (660, 80), (672, 60))
    paper.line((480, 80), (660, 80), wide=1.2)
    for x, y in ((525, 143), (570, 162), (615, 143)):
        paper.measure((x, 80), (x, y))
    paper.level(548, 80)
    paper.text(570, 192, "depths at even distances", "middle")
    paper.text(570, 216, "flow = 0.8 × speed × area", "middle", bold=True)
    return paper.done(
        "A float run. From above: floats go from one cord across the creek to another, near both "
        "banks and in the middle. Across: depths are measured at even distances. The flow is 0.8 "
        "times the surface speed times the area."
    )


def _salt_pour() -> Drawing:
    paper = Paper(680, 250)
    upper = [(20, 84), (120, 70), (220, 92), (330, 70), (440, 94), (550, 76), (660, 86)]
    lower = [(x, y + 88) for x, y in upper]
    paper.ground((20, 44), (660, 44), *reversed(upper))
    paper.ground(*lower, (660, 206), (20, 206))
    paper.water(*upper, *reversed(lower))
    for x, y, size in (
        (176, 120, 30),
        (208, 158, 22),
        (300, 112, 20),
        (376, 148, 26),
        (462, 118, 18),
    ):
        paper.area(
            (x, y - size / 3),
            (x + size / 2, y),
            (x, y + size / 3),
            (x - size / 2, y),
            fill="#b9b2a5",
            wide=1,
        )
    for column in range(9):
        x, spread = 92 + 52 * column, min(6 + 9 * column, 34)
        for row in (-1, -0.4, 0.3, 0.9):
            paper.dot(x + 9 * (row % 0.7), 122 + row * spread, 2.6 - 0.14 * column)
    paper.area((70, 26), (96, 26), (92, 52), (74, 52), fill="#ffffff", wide=1.6)
    paper.arrow((84, 54), (88, 104))
    paper.text(106, 36, "all the salt at once")
    paper.line((584, 30), (584, 128), wide=2.4)
    paper.area((579, 116), (589, 116), (589, 138), (579, 138), fill="#ffffff", wide=1.4)
    paper.text(574, 36, "probe in the flow", "end")
    paper.measure((88, 222), (584, 222))
    paper.text(
        336,
        242,
        "until it has mixed from bank to bank: 25 widths or more, stones and bends help",
        "middle",
    )
    return paper.done(
        "Salt is poured into a creek all at once. It spreads as it goes down, past stones and "
        "bends. The probe stands where it has mixed from bank to bank, 25 widths or more below."
    )


def _stilling_tube() -> Drawing:
    paper = Paper(680, 260)
    paper.water((20, 108), (330, 108), (330, 204), (250, 218), (20, 218))
    paper.line(*((20 + 10 * step, 108 + (3 if step % 2 else -3)) for step in range(32)), wide=1.2)
    paper.ground((330, 70), (660, 60), (660, 244), (20, 244), (20, 218), (250, 218), (330, 204))
    paper.area((410, 34), (460, 34), (460, 222), (410, 222), fill="#ffffff", wide=2)
    paper.water((411, 108), (459, 108), (459, 221), (411, 221))
    paper.line((411, 108), (459, 108), wide=1.2)
    paper.pipe((326, 190), (412, 190), bore=8)
    for step in range(12):
        paper.line((446 if step % 5 else 440, 60 + 12 * step), (460, 60 + 12 * step), wide=1)
    paper.level(426, 108)
    paper.text(40, 92, "waves in the creek")
    paper.text(472, 50, "lid against leaves and frost")
    paper.text(472, 112, "calm water, same level")
    paper.text(472, 134, "staff gauge or logger")
    paper.text(344, 176, "thin pipe", size=12)
    paper.text(472, 196, "deeper than the")
    paper.text(472, 212, "lowest water")
    return paper.done(
        "A stilling tube stands in the bank. A thin pipe low in the creek feeds it, so that the "
        "water in it stands at the creek's level without waves. A staff gauge or a logger is read "
        "in it."
    )


# --- water's way -------------------------------------------------------------------------------


def _penstock_and_gauge() -> Drawing:
    paper = Paper(680, 300)
    paper.ground((20, 96), (150, 96), (190, 105), (540, 245), (660, 245), (660, 284), (20, 284))
    paper.water((30, 62), (140, 62), (140, 95), (30, 95))
    paper.line((24, 50), (30, 50), (30, 95), (140, 95), (140, 54), (146, 54), wide=1.8)
    paper.line((30, 62), (140, 62), wide=1.2)
    paper.level(70, 62)
    paper.pipe((138, 84), (190, 96), (540, 236), (600, 236), bore=10)
    paper.line((140, 62), (655, 62), wide=1, dash="7 5")
    paper.line((140, 62), (578, 118), wide=1.4, dash="2 4")
    paper.gauge(578, 206, 0.62)
    paper.line((578, 221), (578, 230), wide=2)
    paper.area((598, 226), (612, 246), (612, 226), (598, 246), fill="#ffffff", wide=1.4)
    paper.text(620, 242, "valve")
    paper.text(600, 206, "gauge")
    paper.measure((640, 62), (640, 222))
    paper.text(632, 150, "gross head", "end", bold=True)
    paper.measure((560, 64), (560, 115))
    paper.text(552, 88, "head loss", "end")
    paper.text(250, 54, "all shut: the gauge carries the whole column")
    paper.text(322, 130, "running: hydraulic grade line")
    paper.text(34, 40, "forebay")
    paper.text(300, 190, "penstock")
    return paper.done(
        "A penstock from a forebay down to a valve, with a gauge. With all shut the gauge carries "
        "the whole gross head. While water runs, the hydraulic grade line falls along the pipe, "
        "and the gauge reads less by the head loss."
    )


def _trapped_air() -> Drawing:
    paper = Paper(680, 290)
    line = [(90, 74), (180, 176), (270, 104), (360, 200), (450, 128), (550, 226), (620, 170)]
    paper.ground(
        (20, 96),
        (70, 96),
        (90, 96),
        (180, 193),
        (270, 121),
        (360, 217),
        (450, 145),
        (550, 243),
        (636, 183),
        (660, 183),
        (660, 280),
        (20, 280),
    )
    paper.water((24, 50), (92, 50), (92, 90), (24, 90))
    paper.line((24, 42), (24, 90), (80, 90), wide=1.8)
    paper.line((24, 50), (96, 50), wide=1.2)
    paper.level(50, 50)
    paper.pipe(*line, bore=11)
    for high, low in ((line[2], line[3]), (line[4], line[5])):
        paper.pipe((high[0] + 2, high[1] + 2), (low[0] - 6, low[1] - 6), bore=11, fill=AIR)
    paper.line((96, 50), (660, 50), wide=1, dash="7 5")
    for (x, top), (_, foot) in ((line[2], line[3]), (line[4], line[5])):
        paper.line((x, top), (x + 62, top), wide=0.8, ink=SOFT)
        paper.measure((x + 56, top), (x + 56, foot - 8))
        paper.text(x + 63, (top + foot) / 2 - 14, "air", bold=True)
    paper.text(262, 88, "high point", "middle", size=12)
    paper.text(452, 112, "high point", "middle", size=12)
    paper.text(28, 34, "pond")
    paper.text(655, 150, "outlet: not a drop", "end")
    paper.text(655, 42, "level of the pond", "end", size=12)
    paper.text(
        340,
        272,
        "each pocket keeps back as much head as it is high; together more than there is",
        "middle",
    )
    return paper.done(
        "A line from a pond over two high points. Air is shut in on the falling side behind each "
        "high point. Each pocket keeps back as much head as it is high, together more than there "
        "is: not a drop comes out, though the outlet lies below the pond."
    )


def _screens() -> Drawing:
    paper = Paper(680, 250)
    for left, title, after, holes in (
        (20, "clean", 92, range(10)),
        (350, "half of the holes blocked", 124, range(0, 10, 2)),
    ):
        paper.text(left, 24, title, bold=True)
        paper.water((left, 84), (left + 146, 84), (left + 146, 204), (left, 204))
        paper.water((left + 152, after), (left + 300, after), (left + 300, 204), (left + 152, 204))
        paper.line((left, 84), (left + 146, 84), wide=1.2)
        paper.line((left + 152, after), (left + 300, after), wide=1.2)
        paper.area(
            (left + 146, 58),
            (left + 152, 58),
            (left + 152, 204),
            (left + 146, 204),
            fill="#ffffff",
            wide=1.2,
        )
        for hole in range(10):
            y = 90 + 11 * hole
            if hole in holes:
                paper.area(
                    (left + 144, y),
                    (left + 154, y),
                    (left + 154, y + 4),
                    (left + 144, y + 4),
                    fill="#cfe4ee",
                )
            else:
                paper.area(
                    (left + 138, y),
                    (left + 146, y - 3),
                    (left + 146, y + 6),
                    fill="#6b5a3a",
                    wide=0.8,
                )
        for y in (112, 156):
            paper.arrow((left + 30, y), (left + 120, y))
        paper.level(left + 90, 84)
        paper.level(left + 250, after)
        paper.line((left + 152, 84), (left + 230, 84), wide=0.8, dash="5 4")
        paper.ground((left, 204), (left + 300, 204), (left + 300, 222), (left, 222))
        if after > 100:
            paper.measure((left + 206, 84), (left + 206, after), "loss", (left + 160, 108))
        else:
            paper.text(left + 160, 78, "hardly a loss")
    paper.text(340, 243, "half the holes: some seven times the loss", "middle")
    return paper.done(
        "A drilled screen plate, clean and with half of its holes blocked by leaves. Clean, the "
        "water below stands hardly lower than above. Half blocked, the loss is some seven times "
        "as large."
    )


# --- plant -------------------------------------------------------------------------------------


def _under_fed_jet() -> Drawing:
    paper = Paper(680, 300)
    for left, title, top, turn in (
        (20, "three jets open: all are fed", 66, 0.72),
        (356, "four jets open: too many", 152, 0.36),
    ):
        paper.text(left, 24, title, bold=True)
        paper.ground(
            (left, 96),
            (left + 70, 96),
            (left + 220, 250),
            (left + 304, 250),
            (left + 304, 276),
            (left, 276),
        )
        full = top < 100
        paper.water(
            (left + 4, 66 if full else 82),
            (left + 62, 66 if full else 82),
            (left + 62, 95),
            (left + 4, 95),
        )
        paper.line((left + 4, 56), (left + 4, 95), (left + 62, 95), (left + 62, 60), wide=1.6)
        start, foot = (left + 60, 82), (left + 214, 232)
        paper.pipe(start, foot, (left + 252, 232), bore=11, fill="#cfe4ee" if full else AIR)
        if full:
            paper.text(left + 70, 60, "it spills", size=12)
            paper.arrow((left + 62, 64), (left + 74, 76), wide=1)
        else:
            share = (top - start[1]) / (foot[1] - start[1])
            inside = (start[0] + share * (foot[0] - start[0]), top)
            paper.pipe(inside, foot, (left + 252, 232), bore=11)
            for step in (0.12, 0.24, 0.36):
                x, y = (
                    start[0] + step * (foot[0] - start[0]),
                    start[1] + step * (foot[1] - start[1]),
                )
                paper.line((x - 3, y + 3), (x + 5, y + 8), wide=1.2)
            paper.line((left + 130, top), (left + 290, top), wide=0.9, dash="5 4")
            paper.text(left + 96, 88, "water falls, air goes along", size=12)
        paper.gauge(left + 226, 200, turn)
        paper.line((left + 226, 215), (left + 226, 226), wide=2)
        paper.circle(left + 286, 232, 15)
        for spoke in (-9, 0, 9):
            paper.line((left + 286 - 15, 232 + spoke), (left + 286 + 15, 232 - spoke), wide=1)
        paper.arrow((left + 252, 232), (left + 271, 232), wide=3 if full else 1.6)
        head = 66 if full else top
        paper.measure((left + 262, head), (left + 262, 222))
        if full:
            paper.text(left + 255, 130, "net head", "end", size=12)
        else:
            paper.text(left + 296, 145, "what is left of the head", "end", size=12)
    paper.line((82, 66), (300, 66), wide=0.9, dash="5 4")
    paper.text(340, 292, "the same water, one jet less: higher pressure, much more power", "middle")
    return paper.done(
        "The same water on three jets and on four. With three open all are fed, the forebay is "
        "full and the gauge reads high. With four open the water stands lower in the pipe with "
        "air above it, the gauge reads low, and much less head is left."
    )


def _one_line() -> Drawing:
    paper = Paper(680, 250)
    y = 90
    paper.line((60, y), (560, y), wide=1.6)
    paper.circle(44, y, 22)
    for spoke in (-14, 0, 14):
        paper.line((30, y + spoke), (58, y - spoke), wide=1)
    paper.text(44, y + 42, "runner", "middle")
    paper.circle(120, y, 22)
    paper.text(120, y + 6, "G", "middle", bold=True, size=17)
    paper.text(120, y + 42, "generator", "middle")
    paper.line((120, y + 50), (120, y + 66), wide=1.2)
    for number, wide in enumerate((12, 8, 4)):
        paper.line((120 - wide, y + 66 + 5 * number), (120 + wide, y + 66 + 5 * number))
    paper.text(140, y + 76, "earth", size=12)
    for x, name in ((190, "breaker"), (500, "breaker")):
        paper.area(
            (x - 12, y - 12),
            (x + 12, y - 12),
            (x + 12, y + 12),
            (x - 12, y + 12),
            fill="#ffffff",
            wide=1.6,
        )
        paper.line((x - 12, y + 12), (x + 12, y - 12), wide=1.4)
        paper.text(x, y + 34, name, "middle")
    paper.circle(270, y, 17)
    paper.text(270, y + 5, "kWh", "middle", size=11)
    paper.text(270, y + 42, "meter", "middle")
    paper.dot(330, y, 4)
    paper.line((330, y), (330, 160), wide=1.6)
    paper.area((296, 160), (364, 160), (364, 190), (296, 190), fill="#ffffff", wide=1.6)
    paper.text(330, 180, "controller", "middle", size=12)
    paper.line((364, 175), (400, 175), wide=1.6)
    paper.line(*((400 + 6 * step, 175 + (-8 if step % 2 else 8)) for step in range(11)), wide=1.6)
    paper.text(430, 206, "ballast: takes what nobody uses", "middle", size=12)
    paper.measure((352, 62), (482, 62), "cable", (398, 54))
    paper.line((560, 44), (560, 136), wide=4)
    for branch, name in ((56, "heating"), (90, "house"), (124, "workshop")):
        paper.arrow((560, branch), (606, branch))
        paper.text(612, branch + 4, name, size=12)
    paper.text(560, 156, "panel", "middle")
    paper.text(
        20,
        236,
        "A sketch of what stands where, not a wiring plan: the local code and a licensed electrician decide.",
        size=12,
    )
    return paper.done(
        "One-line diagram: runner, generator with its earth, breaker, meter, a controller with a "
        "ballast that takes what nobody uses, the cable, a second breaker, and the panel with its "
        "loads. It is a sketch and no wiring plan."
    )


# Name -> the drawing.
DRAWINGS: dict[str, Callable[[], Drawing]] = {
    "V-notch": _v_notch,
    "float run": _float_run,
    "salt pour": _salt_pour,
    "stilling tube": _stilling_tube,
    "penstock and gauge": _penstock_and_gauge,
    "trapped air": _trapped_air,
    "screens": _screens,
    "under-fed jet": _under_fed_jet,
    "one-line diagram": _one_line,
}
