"""The hottest measured place of each burn over a candle's life, with limit and alert, as SVG."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.burn.limits import WallLimits
from logger.burn.model import Hottest
from logger.reports.scale import Scale, round_step, ticks
from logger.reports.svg import coordinate, line, tag, text
from logger.words import Words

_WIDTH, _HEIGHT = 640.0, 250.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 48.0, 632.0, 26.0, 206.0
_BAR = 4.0  # half the width of the bar at either end of an uncertainty
_MOST_NAMED = 24  # burns whose numbers fit below the axis
_INK = "#1d1b18"


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnHeat:
    """One burn in the drawing."""

    name: str
    hottest: Hottest | None  # None: nothing on the vessel was measured


def life_drawing(burns: Sequence[BurnHeat], wall: WallLimits, words: Words) -> str:
    """Burns from left to right; a bar is the expanded uncertainty (k = 2)."""
    unit = words.temperature_in
    seen = [one.hottest for one in burns if one.hottest]
    low = unit.outside(min([wall.alert_c, *(one.lower_c for one in seen)]) - 2.0)
    high = unit.outside(max([wall.limit_c, *(one.upper_c for one in seen)]) + 2.0)
    step = round_step(high - low, 5)
    y = Scale(low=low, high=high, start=_BOTTOM, end=_TOP)
    x = Scale(low=0.0, high=float(len(burns)), start=_LEFT, end=_RIGHT)
    return tag(
        "svg",
        tag("rect", width=coordinate(_WIDTH), height=coordinate(_HEIGHT), fill="#fffefb"),
        *_axes(burns, x, y, step, words),
        *_limits(wall, y, words),
        *(piece for one in enumerate(burns) for piece in _burn(*one, x, y, words)),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {coordinate(_WIDTH)} {coordinate(_HEIGHT)}",
        role="img",
        aria_label="The hottest measured place of each burn",
        font_family="sans-serif",
        font_size="11.5",
    )


def _axes(
    burns: Sequence[BurnHeat], x: Scale, y: Scale, step: float, words: Words
) -> Iterator[str]:
    for value in ticks(y.low, y.high, step):
        yield line(_LEFT, y(value), _RIGHT, y(value), stroke=_INK, stroke_opacity="0.15")
        yield text(_LEFT - 6.0, y(value) + 4.0, f"{value:g}", anchor="end", fill=_INK)
    yield text(_LEFT - 6.0, _TOP - 10.0, words.temperature_in.symbol, anchor="end", fill=_INK)
    yield line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, stroke=_INK)
    every = -(-len(burns) // _MOST_NAMED)
    for number, one in enumerate(burns):
        if number % every == 0:
            yield text(x(number + 0.5), _BOTTOM + 16.0, one.name, anchor="middle", fill=_INK)
    middle = (_LEFT + _RIGHT) / 2.0
    yield text(
        middle, _BOTTOM + 34.0, "burns, in the order of lighting", anchor="middle", fill=_INK
    )


def _limits(wall: WallLimits, y: Scale, words: Words) -> Iterator[str]:
    for at_c, named, dash in (
        (wall.limit_c, "the maker's limit", ""),
        (wall.alert_c, "alert", "6 4"),
    ):
        at = y(words.temperature_in.outside(at_c))
        yield line(_LEFT, at, _RIGHT, at, stroke=_INK, stroke_width="1.5", stroke_dasharray=dash)
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
