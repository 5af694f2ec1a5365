"""[pure] The vessel in section: where each place is drawn and where its label stands.

Heights are to scale; the width is not, and what nobody told the bench (rim, wax) is not drawn. The
melt pool takes its share of the inner width. The mark on the vessel (12 o'clock) is at the far
side, so 3 o'clock is at the right.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.quantities import Place, Position, Unit
from logger.reports.scale import round_step, ticks
from logger.web.place_views import PlaceView
from logger.web.texts import gettext as _
from logger.web.wax import SeenWax

WIDTH = 360.0
_MIDDLE = WIDTH / 2.0
_RADIUS = 54.0  # of the outside of the wall
_TOP, _UNDER = 18.0, 66.0  # above the highest place, and below the base for its label
_LABEL, _LINE = 58.0, 14.0  # a label has three lines, of a place read by hand four
_LABEL_X = 72.0  # from the middle to where labels begin; the page shows 12 beyond each edge
_LEAST_BODY = 220.0
_GLASS, _BASE = 5.0, 8.0  # drawn thickness of the wall and of the base
_SIDE = 0.25  # of the radius: nearer to the silhouette than this a place is at the side


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One place on the drawing and its label."""

    place: PlaceView
    x: float
    y: float
    side: str  # near, far, side, round (no clock position told), base, rim
    label_x: float
    label_y: float
    anchor: str

    @property
    def channel_words(self) -> str:
        """Position without the height, which the label writes in the display unit."""
        place = self.place.channel.place
        clock = place.clock
        return place.position.value if clock is None else _("%(clock)s o'clock", clock=clock)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnWax:
    """The wax inside the wall, and the melt pool on it."""

    top_y: float
    base_y: float
    left: float
    right: float
    pool_left: float | None = None  # None: no pool was seen, or not how far it reached
    pool_right: float = 0.0
    pool_y: float | None = None  # its floor; None: nobody saw how deep it was


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Everything the template needs to draw; lengths in the drawing's own units."""

    height: float
    base_y: float
    top_y: float
    left: float
    right: float
    rim_known: bool
    marks: tuple[Mark, ...]
    ruler: tuple[tuple[float, str], ...]  # y and the figure beside it
    ruler_unit: str
    wax: DrawnWax | None = None

    @property
    def version(self) -> str:
        """Changes when another place is drawn, or other wax."""
        places = " ".join(mark.place.channel.name for mark in self.marks)
        return f"{places} {self.height} {self.rim_known} {self.wax}"


def drawing(
    places: Sequence[PlaceView],
    unit: Unit,
    wax: SeenWax | None = None,
    vessel_mm: float | None = None,
) -> Drawing | None:
    """The vessel with `places` on it and `wax` in it; None where neither is known.

    `vessel_mm` is its height where a record tells it; else a place on the rim does.
    """
    on_vessel = [one for one in places if one.channel.on_vessel]
    level_mm = None if wax is None else wax.level_mm
    if not on_vessel and level_mm is None:
        return None
    rims_mm = [_height(one) for one in on_vessel if _is(one, Position.RIM)]
    rim_mm = max([*rims_mm, vessel_mm or 0.0])
    walls_mm = [_height(one) for one in on_vessel if _is(one, Position.WALL)]
    highest_mm = max([*walls_mm, rim_mm, level_mm or 0.0, 1.0])
    top_mm = rim_mm if rim_mm >= highest_mm else highest_mm * 1.15
    columns = _columns(on_vessel)
    body = max(_LEAST_BODY, *(sum(map(_label, column)) for column in columns.values()))
    base_y = _TOP + body
    scale = body / top_mm
    marks: list[Mark] = []
    for sign, column in columns.items():
        at = [base_y - scale * (_height(one) or top_mm) for one in column]
        spread = _spread(at, [_label(one) for one in column], _TOP + 6.0, base_y + 20.0)
        for one, y, label_y in zip(column, at, spread, strict=True):
            marks.append(_mark(one, y, label_y, sign))
    bases = [one for one in on_vessel if _is(one, Position.BASE)]
    for number, one in enumerate(bases):
        x = _MIDDLE + (number - (len(bases) - 1) / 2.0) * 40.0
        label_y = base_y + 28.0 + number * _LABEL
        marks.append(
            Mark(place=one, x=x, y=base_y, side="base", label_x=x, label_y=label_y, anchor="middle")
        )
    step = round_step(top_mm / unit.factor, 5)
    return Drawing(
        height=base_y + _UNDER + _LABEL * max(0, len(bases) - 1),
        base_y=base_y,
        top_y=_TOP,
        left=_MIDDLE - _RADIUS,
        right=_MIDDLE + _RADIUS,
        rim_known=rim_mm > 0.0 and rim_mm >= highest_mm,
        marks=tuple(marks),
        ruler=tuple(
            (base_y - scale * unit.inside(at), f"{at:g}")
            for at in ticks(step, top_mm / unit.factor * 0.97, step)
        ),
        ruler_unit=unit.name,
        wax=None if wax is None or level_mm is None else _wax(wax, level_mm, base_y, scale),
    )


def _wax(wax: SeenWax, level_mm: float, base_y: float, scale: float) -> DrawnWax:
    left, right = _MIDDLE - _RADIUS + _GLASS, _MIDDLE + _RADIUS - _GLASS
    floor_y = base_y - _BASE
    top_y = min(base_y - scale * level_mm, floor_y)
    found = DrawnWax(top_y=top_y, base_y=floor_y, left=left, right=right)
    if wax.pool is None:
        return found
    half = 0.5 * wax.pool * (right - left)
    depth_mm = wax.pool_depth_mm
    return replace(
        found,
        pool_left=_MIDDLE - half,
        pool_right=_MIDDLE + half,
        pool_y=None if depth_mm is None else min(top_y + scale * depth_mm, floor_y),
    )


def _mark(place: PlaceView, y: float, label_y: float, sign: int) -> Mark:
    right, near = _direction(place.channel.place)
    side = "near" if near > 0.0 else "far"
    if _is(place, Position.RIM):
        side, right = "rim", float(sign)
    elif place.channel.place.clock is None:
        side, right = "round", 0.0
    elif abs(near) < _SIDE:
        side = "side"
    return Mark(
        place=place,
        x=_MIDDLE + _RADIUS * right,
        y=y,
        side=side,
        label_x=_MIDDLE + sign * _LABEL_X,
        label_y=label_y,
        anchor="start" if sign > 0 else "end",
    )


def _columns(places: Sequence[PlaceView]) -> dict[int, list[PlaceView]]:
    """Which labels stand left (-1) and right (1), from the top; those in the middle fill up."""
    columns: dict[int, list[PlaceView]] = {-1: [], 1: []}
    middle: list[PlaceView] = []
    for one in places:
        if _is(one, Position.BASE):
            continue
        right, _ = _direction(one.channel.place)
        if abs(right) < _SIDE:
            middle.append(one)
        else:
            columns[1 if right > 0.0 else -1].append(one)
    for one in middle:
        columns[1 if len(columns[1]) < len(columns[-1]) else -1].append(one)
    for column in columns.values():
        column.sort(key=lambda one: -(_height(one) or math.inf))
    return columns


def _direction(place: Place) -> tuple[float, float]:
    """How far to the right and to the viewer a place lies, each -1 to 1."""
    if place.clock is None:
        return 0.0, 0.0
    angle = math.radians(30.0 * place.clock)
    return math.sin(angle), -math.cos(angle)


def _spread(
    at: Sequence[float], heights: Sequence[float], top: float, bottom: float
) -> list[float]:
    """Where labels stand: near `at` (ascending), clear of each other, from `top` to `bottom`."""
    found: list[float] = []
    free = top
    for y, height in zip(at, heights, strict=True):
        found.append(max(y, free))
        free = found[-1] + height
    floor = bottom
    for number in reversed(range(len(found))):
        floor -= heights[number]
        found[number] = max(min(found[number], floor), top + sum(heights[:number]))
        floor = found[number]
    return found


def _label(place: PlaceView) -> float:
    return _LABEL + _LINE * place.by_hand


def _height(place: PlaceView) -> float:
    return place.channel.place.height_mm or 0.0


def _is(place: PlaceView, position: Position) -> bool:
    return place.channel.place.position is position
