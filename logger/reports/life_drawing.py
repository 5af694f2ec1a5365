"""The hottest measured place of each burn over a candle's life, with limit and alert, as SVG."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.burn.limits import WallLimits
from logger.burn.model import Hottest
from logger.reports.scale import Scale, round_step, ticks
from logger.reports.svg import coordinate, line, tag, text
from logger.words import Words

WIDE, NARROW = 640.0, 360.0  # on paper and a screen; on a phone, where its letters stay legible
_HEIGHT = 250.0
_LEFT, _TOP, _BOTTOM = 48.0, 26.0, 206.0
_BESIDE = 8.0  # right of the axis
_BAR = 4.0  # half the width of the bar at either end of an uncertainty
_NAME = 24.0  # that the number of a burn needs below the axis
_INK = "#1d1b18"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnHeat:
    """One burn in the drawing."""

    name: str
    hottest: Hottest | None  # None: nothing on the vessel was measured


def life_drawing(
    burns: Sequence[BurnHeat], wall: WallLimits, words: Words, width: float = WIDE
) -> str:
    """Burns from left to right; a bar is the expanded uncertainty (k = 2)."""
    unit = words.temperature_in
    seen = [one.hottest for one in burns if one.hottest]
    low = unit.outside(min([wall.alert_c, *(one.lower_c for one in seen)]) - 2.0)
    high = unit.outside(max([wall.limit_c, *(one.upper_c for one in seen)]) + 2.0)
    step = round_step(high - low, 5)
    y = Scale(low=low, high=high, start=_BOTTOM, end=_TOP)
    x = Scale(low=0.0, high=float(len(burns)), start=_LEFT, end=width - _BESIDE)
    return tag(
        "svg",
        tag("rect", width=coordinate(width), height=coordinate(_HEIGHT), fill="#fffefb"),
        *_axes(burns, x, y, step, words),
        *_limits(wall, x, y, words),
        *(piece for one in enumerate(burns) for piece in _burn(*one, x, y, words)),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {coordinate(width)} {coordinate(_HEIGHT)}",
        role="img",
        aria_label="The hottest measured place of each burn",
        font_family="sans-serif",
        font_size="11.5",
    )


def _axes(
    burns: Sequence[BurnHeat], x: Scale, y: Scale, step: float, words: Words
) -> Iterator[str]:
    for value in ticks(y.low, y.high, step):
        yield line(_LEFT, y(value), x.end, y(value), stroke=_INK, stroke_opacity="0.15")
        yield text(_LEFT - 6.0, y(value) + 4.0, f"{value:g}", anchor="end", fill=_INK)
    yield text(_LEFT - 6.0, _TOP - 10.0, words.temperature_in.symbol, anchor="end", fill=_INK)
    yield line(_LEFT, _BOTTOM, x.end, _BOTTOM, stroke=_INK)
    every = math.ceil(len(burns) * _NAME / (x.end - x.start))
    for number, one in enumerate(burns):
        if number % every == 0:
            yield text(x(number + 0.5), _BOTTOM + 16.0, one.name, anchor="middle", fill=_INK)
    middle = (_LEFT + x.end) / 2.0
    yield text(
        middle, _BOTTOM + 34.0, "burns, in the order of lighting", anchor="middle", fill=_INK
    )


def _limits(wall: WallLimits, x: Scale, y: Scale, words: Words) -> Iterator[str]:
    for at_c, named, dash in (
        (wall.limit_c, "the maker's limit", ""),
        (wall.alert_c, "alert", "6 4"),
    ):
        at = y(words.temperature_in.outside(at_c))
        yield line(_LEFT, at, x.end, at, stroke=_INK, stroke_width="1.5", stroke_dasharray=dash)
        said = f"{named} {words.temperature(at_c)}"
        yield text(_LEFT + 6.0, at - 4.0, said, fill=_INK, font_weight="600")


def _burn(number: int, one: BurnHeat, x: Scale, y: Scale, words: Words) -> Iterator[str]:
    at = x(number + 0.5)
    if one.hottest is None:
        yield text(at, _BOTTOM - 6.0, "?", anchor="middle", fill=_INK)
        return
    outside = words.temperature_in.outside
    value, lower, upper = (
        y(outside(c)) for c in (one.hottest.value_c, one.hottest.lower_c, one.hottest.upper_c)
    )
    yield line(at, lower, at, upper, stroke=_INK, stroke_width="1.2")
    for end in (lower, upper):
        yield line(at - _BAR, end, at + _BAR, end, stroke=_INK, stroke_width="1.2")
    yield tag("circle", cx=coordinate(at), cy=coordinate(value), r="3.2", fill=_INK)
