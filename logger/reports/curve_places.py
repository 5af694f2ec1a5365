"""The curve's lines: one for each place, told apart by letter, dash and colour."""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logger.quantities import Position
from logger.reports.curve_frame import Frame
from logger.reports.place_line import PlaceLine
from logger.reports.svg import coordinate, line, path, tag, text
from logger.reports.thinning import Column, stretches

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Blue and vermilion of Okabe and Ito's colour-blind safe set (2008, from memory), and a green and a
# purple darker than theirs: each has a contrast of 3:1 or more on white (WCAG 2.2, 1.4.11).
_COLOURS = ("#0072b2", "#d55e00", "#007a5a", "#9a4f80")
_DASHES = ("", "9 4", "2 3", "12 3 2 3", "5 2")
_BASE_COLOUR, _BASE_DASH = "#7a5200", "2 2 9 2"
_ROOM_DASH = "1.5 3.5"

COLUMN_PX = 3.0  # long enough for a dash to be seen
_LABEL_PX = 13.0  # from one label to the next below
_OUT_PX = 22.0  # of the word "out" above the labels
_BY_HAND_PX = 20.0  # of a letter beside its point
_LEGEND_PX = 18.0
_MARGIN_PX = 4.0
_LEGEND_COLUMN_PX = 300.0  # a piece of line and the longest name
_LABEL_CHARACTERS = 27  # what fits beside the plot, of 12 px sans-serif; the rest goes below


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a place's line looks."""

    letter: str
    label: str
    css: str
    colour: str
    dash: str
    width: float


def pen(number: int, place_line: PlaceLine, *, hottest: bool) -> Pen:
    """The pen of the place_line of that number, from 0."""
    css, colour, dash = f"c{number % 4 + 1}", _COLOURS[number % 4], _DASHES[number % 5]
    match place_line.place.position:
        case Position.ROOM:
            css, colour, dash = "room", "currentColor", _ROOM_DASH
        case Position.BASE:
            css, colour, dash = "base", _BASE_COLOUR, _BASE_DASH
    return Pen(
        letter=place_line.letter,
        label=str(place_line.place) + (", by hand" if place_line.by_hand else ""),
        css=f"curve-{css}",
        colour=colour,
        dash=dash,
        width=2.6 if hottest else 1.7,
    )


def band(frame: Frame, pen: Pen, place_line: PlaceLine) -> Iterator[str]:
    """Value plus and minus expanded uncertainty (k = 2)."""
    for stretch in () if place_line.by_hand else _stretches(frame, place_line):
        edges = [(column.at_s, column.upper) for column in stretch]
        edges += [(column.at_s, column.lower) for column in reversed(stretch)]
        yield tag(
            "path",
            d=_path(frame, edges) + "z",
            fill=pen.colour,
            fill_opacity="0.2",
            class_=f"curve-band {pen.css}",
        )


def place(frame: Frame, pen: Pen, place_line: PlaceLine) -> Iterator[str]:
    """A line through the means of columns within the span of lowest and highest.

    It is broken where nothing was measured. What was read by hand is points with their expanded
    uncertainty; doubtful estimates are dots.
    """
    if place_line.by_hand:
        yield from _by_hand(frame, pen, place_line)
        return
    css = f"curve-line {pen.css}"
    for stretch in _stretches(frame, place_line):
        span = [(column.at_s, column.highest) for column in stretch]
        span += [(column.at_s, column.lowest) for column in reversed(stretch)]
        yield tag(
            "path",
            d=_path(frame, span) + "z",
            fill=pen.colour,
            fill_opacity="0.35",
            stroke=pen.colour,
            stroke_opacity="0.35",
            stroke_width="0.5",
            class_=f"curve-span {pen.css}",
        )
        yield tag(
            "path",
            d=_path(frame, [(column.at_s, column.mean) for column in stretch]),
            fill="none",
            stroke=pen.colour,
            stroke_width=f"{pen.width:g}",
            stroke_dasharray=pen.dash,
            stroke_linejoin="round",
            class_=css,
        )
    for at_s, value_c in _points(place_line, place_line.doubtful):
        yield from _point(frame, pen, at_s, value_c, radius=1.2)


def labels(frame: Frame, drawn: Sequence[tuple[Pen, PlaceLine]], *, short: bool) -> Iterator[str]:
    """Each line's letter at its end, with the place's name unless `short`; none on another."""
    ends = [
        (frame.y_of(value_c), frame.x(at_s), pen, place_line)
        for pen, place_line in drawn
        for at_s, value_c in _last(frame, place_line)
    ]
    ends.sort(key=lambda end: end[0])
    rows = [1 if short else len(_rows(pen)) for _, _, pen, _ in ends]
    heights = _spread([y for y, _, _, _ in ends], rows, frame.top + _OUT_PX, frame.bottom - 2.0)
    for (y, x, pen, place_line), at_y in zip(ends, heights, strict=True):
        if not place_line.by_hand:
            yield line(
                x + 2.0,
                y,
                frame.right + 7.0,
                at_y,
                stroke=pen.colour,
                stroke_opacity="0.6",
                stroke_width="0.8",
                class_=f"curve-leader {pen.css}",
            )
        named = [pen.letter] if short else _rows(pen)
        yield _named(frame.right + 9.0, at_y + 4.0, pen, named)


def fit_beside(frame: Frame, drawn: Sequence[tuple[Pen, PlaceLine]]) -> bool:
    """Whether the names of all places have room beside the plot."""
    room_px = frame.bottom - frame.top - _OUT_PX
    return sum(len(_rows(pen)) for pen, _ in drawn) * _LABEL_PX <= room_px


def letters(frame: Frame, drawn: Sequence[tuple[Pen, PlaceLine]]) -> Iterator[str]:
    """Each line's letter once more upon it, further right from line to line, so that they part."""
    for number, (pen, place_line) in enumerate(drawn):
        share = 0.3 + 0.55 * (number + 0.5) / len(drawn)
        at_s = frame.x.low + share * (frame.x.high - frame.x.low)
        if place_line.by_hand:
            continue
        on_line = place_line.on_line(at_s, frame.x.high)
        for seen_s, value_c in _points(place_line, on_line.nonzero()[0][:1]):
            yield text(
                frame.x(seen_s),
                frame.y_of(value_c) + 4.0,
                pen.letter,
                anchor="middle",
                font_size="11",
                font_weight="700",
                class_="curve-halo",
            )


def legend(frame: Frame, drawn: Sequence[tuple[Pen, PlaceLine]], top: float) -> Iterator[str]:
    """The names below the plot, each beside a piece of its line, column by column."""
    rows = _legend_rows(frame, len(drawn))
    left = frame.left if rows < len(drawn) else _MARGIN_PX  # a phone has no room to spare
    for number, (pen, _) in enumerate(drawn):
        x = left + number // rows * _LEGEND_COLUMN_PX
        y = top + 14.0 + number % rows * _LEGEND_PX
        yield sample(pen, x, y - 4.0)
        yield _named(x + 48.0, y, pen, [f"{pen.letter} {pen.label}"])


def legend_px(frame: Frame, names: int) -> float:
    """How high a legend of so many names is."""
    return _LEGEND_PX * _legend_rows(frame, names) + 8.0


def _legend_rows(frame: Frame, names: int) -> int:
    columns = max(1, int((frame.right - frame.left) // _LEGEND_COLUMN_PX))
    return -(-names // columns)


def sample(pen: Pen, x: float, y: float) -> str:
    """A piece of the line."""
    return line(
        x,
        y,
        x + 38.0,
        y,
        stroke=pen.colour,
        stroke_width=f"{pen.width:g}",
        stroke_dasharray=pen.dash,
        class_=f"curve-line {pen.css}",
    )


def _by_hand(frame: Frame, pen: Pen, place_line: PlaceLine) -> Iterator[str]:
    shown = place_line.believed & place_line.within(frame.x.low, frame.x.high)
    reaches = place_line.expanded[shown].tolist()
    free = frame.left  # up to where the next letter may stand
    for (at_s, value_c), expanded in zip(_points(place_line, shown), reaches, strict=True):
        x, y = frame.x(at_s), frame.y_of(value_c)
        reach = frame.y_of(value_c + expanded) - y
        ink = {"stroke": pen.colour, "class_": f"curve-line {pen.css}"}
        yield line(x, y - reach, x, y + reach, stroke_width="1.4", **ink)
        yield from _point(frame, pen, at_s, value_c, radius=3.4)
        if x < free:
            continue
        free = x + _BY_HAND_PX
        at_end = x > frame.right - _BY_HAND_PX  # there the line's name begins
        yield text(
            x - 6.0 if at_end else x + 6.0,
            y - 5.0,
            pen.letter,
            anchor="end" if at_end else "start",
            font_weight="700",
            class_="curve-halo",
        )


def _point(frame: Frame, pen: Pen, at_s: float, value_c: float, *, radius: float) -> Iterator[str]:
    if frame.shows(at_s):
        yield tag(
            "circle",
            cx=coordinate(frame.x(at_s)),
            cy=coordinate(frame.y_of(value_c)),
            r=f"{radius:g}",
            fill="none",
            stroke=pen.colour,
            class_=f"curve-line {pen.css}",
        )


def _named(x: float, y: float, pen: Pen, rows: Sequence[str]) -> str:
    """Letter and name in `rows`, the first of which begins with the letter."""
    first, *more = rows
    words = tag("tspan", pen.letter, font_weight="700")
    words += tag("tspan", first.removeprefix(pen.letter))
    for row in more:
        words += tag("tspan", row, x=coordinate(x + 12.0), dy=coordinate(_LABEL_PX))
    return text(x, y, words, raw=True)


def _rows(pen: Pen) -> list[str]:
    return textwrap.wrap(f"{pen.letter} {pen.label}", _LABEL_CHARACTERS)


def _path(frame: Frame, points: Sequence[tuple[float, float]]) -> str:
    return path([(frame.x(at_s), frame.y_of(value_c)) for at_s, value_c in points])


def _stretches(frame: Frame, place_line: PlaceLine) -> Iterator[list[Column]]:
    low_s, high_s = frame.x.low, frame.x.high
    column_s = COLUMN_PX * (high_s - low_s) / (frame.right - frame.left)
    return stretches(place_line, from_s=low_s, to_s=high_s, column_s=column_s)


def _last(frame: Frame, place_line: PlaceLine) -> list[tuple[float, float]]:
    """Where the line ends, if there is one."""
    counts = place_line.believed if place_line.by_hand else place_line.good
    shown = counts & place_line.within(frame.x.low, frame.x.high)
    return _points(place_line, shown.nonzero()[0][-1:])


def _points(place_line: PlaceLine, which: "NDArray[Any]") -> list[tuple[float, float]]:
    """Time and value of some of its estimates."""
    return list(zip(place_line.at_s[which].tolist(), place_line.value[which].tolist(), strict=True))


def _spread(wanted: Sequence[float], rows: Sequence[int], top: float, bottom: float) -> list[float]:
    """Heights near `wanted`, which rise, each its `rows` above the next, from `top` to `bottom`."""
    row_px = min(_LABEL_PX, (bottom - top) / max(1, sum(rows) - 1))
    placed: list[float] = []
    least = top
    for y, count in zip(wanted, rows, strict=True):
        placed.append(max(y, least))
        least = placed[-1] + count * row_px
    most = bottom
    for number in reversed(range(len(placed))):
        most -= (rows[number] - 1) * row_px
        placed[number] = min(placed[number], most)
        most = placed[number] - row_px
    return placed
