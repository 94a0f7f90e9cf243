"""How each reading is taken: a drawing and a few sentences."""

from __future__ import annotations

import math
from collections.abc import Callable

from digitise.svg import ACCENT, SOFT, Points, Sheet
from model.errors import ReadingError

LEFT, RIGHT, TABLE = 90.0, 550.0, 300.0  # butt, tip and table of the drawings from the side


def how_picture(kind: str) -> str:
    """An SVG of how a kind of reading is taken. Raises ReadingError for an unknown kind."""
    name, draw, _ = _found(kind)
    sheet = Sheet(640, 360, f"How to take the {name} reading")
    sheet.text(320, 34, name[:1].upper() + name[1:])
    draw(sheet)
    return sheet.svg()


def how_words(kind: str) -> tuple[str, ...]:
    """What to do, sentence by sentence. Raises ReadingError for an unknown kind."""
    return _found(kind)[2]


def _found(kind: str) -> tuple[str, Callable[[Sheet], None], tuple[str, ...]]:
    key = kind.strip().lower().replace("-", "_").replace(" ", "_")
    if key not in HOW:
        raise ReadingError(f"there is no picture of {kind!r}: use one of {', '.join(HOW)}")
    return HOW[key]


def _side(sheet: Sheet, y: float, turn_deg: float = 0.0) -> Points:
    """A racquet from the side, lying from butt (left) to tip; gives butt, balance point and tip."""
    long = RIGHT - LEFT
    body = [(0, -13), (0.3, -13), (0.36, -7), (0.98, -7), (1, -4), (1, 4), (0.98, 7), (0.36, 7), (0.3, 13)]
    body.append((0, 13))
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def put(along: float, across: float) -> tuple[float, float]:
        return LEFT + along * long * c - across * s, y + along * long * s + across * c

    sheet.shape([put(a, b) for a, b in body])
    return [put(0, 0), put(0.56, 0), put(1, 0)]


def _front(
    sheet: Sheet, x: float, y: float, size: float, turn_deg: float, squeeze: float = 1.0
) -> Callable[[float, float], tuple[float, float]]:
    """A racquet from the front hung with its butt at (x, y), tip down; ``squeeze`` narrows it."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def put(along: float, across: float) -> tuple[float, float]:
        u, v = across * size * squeeze, along * size
        return x + u * c - v * s, y + u * s + v * c

    right = [(0, 0.04), (0.3, 0.04)]
    turns = [math.radians(-78 + 13 * k) for k in range(13)]
    right += [(0.67 + 0.33 * math.sin(t), 0.23 * math.cos(t)) for t in turns]
    sheet.shape([put(a, b) for a, b in [*right, *((a, -b) for a, b in reversed(right))]])
    return put


def _scale(sheet: Sheet, x: float, y: float, shows: str) -> None:
    sheet.shape([(x - 55, y), (x + 55, y), (x + 62, y + 34), (x - 62, y + 34)], "#ffffff")
    sheet.text(x, y + 24, shows)


def _edge(sheet: Sheet, x: float, y: float) -> None:
    sheet.shape([(x, y), (x + 14, TABLE), (x - 14, TABLE)], "#ffffff")


def _table(sheet: Sheet) -> None:
    sheet.line([(40, TABLE), (600, TABLE)], SOFT, 3)


def _draw_weight(sheet: Sheet) -> None:
    _side(sheet, 238)
    _scale(sheet, 348, 266, "231.4 g")
    sheet.line([(348, 266), (348, 251)], SOFT)
    _table(sheet)


def _draw_check(sheet: Sheet) -> None:
    sheet.shape([(320, 212), (380, 212), (380, 266), (320, 266)])
    sheet.text(350, 245, "200 g")
    _scale(sheet, 350, 266, "200.4 g")
    _table(sheet)


def _draw_balance(sheet: Sheet) -> None:
    _, middle, _ = _side(sheet, 225)
    _edge(sheet, middle[0], 234)
    _table(sheet)
    sheet.span(LEFT, middle[0], 190, "balance, from the butt end")


def _two_supports(scale_at: float, block_at: float) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        _side(sheet, 214)
        for at in (scale_at, block_at):
            under = 227.0 if at < 300 else 221.0
            sheet.shape([(at, under), (at + 8, under + 18), (at - 8, under + 18)], "#ffffff")
            if at == scale_at:
                sheet.line([(at, under + 18), (at, 266)], SOFT)
                _scale(sheet, at, 266, "139.2 g")
            else:
                sheet.shape(
                    [(at - 26, under + 18), (at + 26, under + 18), (at + 26, TABLE), (at - 26, TABLE)]
                )
        _table(sheet)
        near, far = sorted((scale_at, block_at))
        names = {scale_at: "scale", block_at: "block"}
        sheet.span(LEFT, near, 168, names[near])
        sheet.span(LEFT, far, 128, f"{names[far]}, from the butt end")

    return draw


def _draw_two_scales(sheet: Sheet) -> None:
    _side(sheet, 214)
    for at, under, shows in ((150.0, 227.0, "91.8 g"), (510.0, 221.0, "139.2 g")):
        sheet.line([(at, under), (at, 266)], SOFT)
        _scale(sheet, at, 266, shows)
    _table(sheet)
    sheet.span(LEFT, 150, 168, "low")
    sheet.span(LEFT, 510, 128, "high, from the butt end")


def _draw_pendulum(sheet: Sheet) -> None:
    sheet.shape([(172, 84), (250, 84), (250, 96), (184, 96)], "#ffffff")
    for turn in (-14, 14):
        _front(sheet, 180, 66, 250, turn, 0.16)
    sheet.line([(180, 84), (180, 330)], SOFT, dashed=True)
    sheet.dot(180, 84)
    sheet.rise(300, 66, 84, "pivot, from the butt end")
    sheet.text(310, 200, "swing it a hand's width, face first,", middle=False)
    sheet.text(310, 222, "and time 20 swings there and back", middle=False)


def _threads(sheet: Sheet, x: float, half: float, bottom: float) -> None:
    sheet.line([(x - 110, 60), (x + 110, 60)], SOFT, 4)
    for side in (-1, 1):
        sheet.line([(x + side * half, 60), (x + side * half, bottom)], ACCENT, 1.5)


def _draw_bifilar(sheet: Sheet) -> None:
    _threads(sheet, 120, 22, 140)
    sheet.line([(98, 140), (142, 140)], SOFT, 4)
    _front(sheet, 120, 140, 150, 0)
    sheet.text(120, 320, "twist: handle upright")
    _threads(sheet, 320, 62, 205)
    _front(sheet, 396, 205, 152, 90)
    sheet.text(320, 320, "recoil: level, face upright")
    _threads(sheet, 520, 62, 205)
    _front(sheet, 596, 205, 152, 90, 0.25)
    sheet.text(520, 320, "spin: level, face flat")
    sheet.rise(196, 60, 140, "length")
    sheet.text(320, 344, "threads parallel and equally long; turn it a little and let go")


def _draw_machine(sheet: Sheet) -> None:
    put = _front(sheet, 120, 180, 380, -90)
    at = put(0.125, 0)
    sheet.line([(at[0], 84), (at[0], 262)], SOFT, dashed=True)
    sheet.dot(*at)
    sheet.span(120, at[0], 98, "")
    sheet.text(at[0] + 12, 92, "axis, from the butt end", middle=False, colour=ACCENT)


def _draw_size(sheet: Sheet) -> None:
    put = _front(sheet, 120, 180, 380, -90)
    sheet.span(120, put(1, 0)[0], 290, "length, butt end to tip")
    top, low = put(0.67, 0.23), put(0.67, -0.23)
    sheet.rise(540, min(top[1], low[1]), max(top[1], low[1]), "width")


def _draw_component(sheet: Sheet) -> None:
    sheet.shape([(300, 232), (390, 232), (400, 266), (290, 266)])
    sheet.text(345, 255, "grip")
    _scale(sheet, 345, 266, "15.2 g")
    _table(sheet)


HOW: dict[str, tuple[str, Callable[[Sheet], None], tuple[str, ...]]] = {
    "weight": (
        "weight",
        _draw_weight,
        (
            "Set a small cup on the scale, press tare, and lay the racquet on it, touching nothing else.",
            "Read it two or three times, lifting it off between.",
        ),
    ),
    "scale_check": (
        "scale check",
        _draw_check,
        ("Put something of known mass on the same scale and write down what it shows.",),
    ),
    "balance": (
        "balance",
        _draw_balance,
        (
            "Lay the racquet across a sharp, level edge and move it until it tips to neither side.",
            "Measure from the butt end to the edge. For a flat edge such as a pencil, state its width.",
        ),
    ),
    "two_supports": (
        "two supports",
        _two_supports(510.0, 120.0),
        (
            "Rest the handle on an edge on a block, the head on an edge on the scale, tared with that edge.",
            "Make the racquet level; state the tilt if it is not. Measure both edges from the butt end.",
        ),
    ),
    "two_scales": (
        "two scales",
        _draw_two_scales,
        ("As with two supports, with a scale under each: together they give weight and balance.",),
    ),
    "head_reading": (
        "head reading",
        _two_supports(530.0, 110.0),
        ("Level, the butt on a block, the head on the scale. Measure where both touch, from the butt end.",),
    ),
    "butt_reading": (
        "butt reading",
        _two_supports(110.0, 530.0),
        ("Level, the head on a block, the butt on the scale. Measure where both touch, from the butt end.",),
    ),
    "pendulum": (
        "pendulum",
        _draw_pendulum,
        (
            "Hang the racquet, tip down, from a sharp, level edge near its swing axis: a notched clip round "
            "the handle rests on it.",
            "Measure from the butt end to where it rests. A heavy clip is a component, not counted.",
            "Let it swing by a hand's width and time 20 swings there and back, three times.",
            "A closed face carries air along: add 'in air', or swing it edge first and add 'edge first'.",
        ),
    ),
    "bifilar": (
        "two threads",
        _draw_bifilar,
        (
            "Hang the racquet on two equal threads, as far apart above as below, the balance point midway.",
            "Turn it a little about the upright line, let go, and time 20 turns there and back, three times.",
            "Upright handle gives twist, level with the face upright recoil, level with the face flat spin.",
            "For twist and recoil a closed face carries air along: add 'in air'.",
        ),
    ),
    "machine": (
        "machine",
        _draw_machine,
        ("Write down what the inertia machine shows and its axis, measured from the butt end.",),
    ),
    "component": (
        "component",
        _draw_component,
        (
            "Weigh the piece alone: a grip, a butt cap, cut-out strings, the tape's own mass.",
            "Say 'not counted' for what was on the racquet while measuring but is none of it.",
        ),
    ),
    "length": ("length", _draw_size, ("Lay the racquet against a wall and measure from there to its tip.",)),
    "width": (
        "width",
        _draw_size,
        ("Stand the widest place between two books, and measure between the books.",),
    ),
}
"""Each kind's name, drawing and sentences."""
