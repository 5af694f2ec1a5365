"""The curve of a burn as a static SVG: each place over time, the limits, alarms and gaps.

Nothing is told by colour alone: each place has its own dash and carries its letter at its line's
end. Colours are attributes that a style sheet may override by class (dashboards/record/curve.css),
and ink is `currentColor`, so the same drawing serves paper, a light page and a dark one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo

from logger.burn.limits import WallLimits
from logger.burn.model import Burn, Hottest
from logger.reports import curve_frame, curve_marks, curve_places
from logger.reports.burn_history import AlarmStory
from logger.reports.curve_frame import Frame
from logger.reports.curve_places import Pen
from logger.reports.place_line import PlaceLine
from logger.reports.scale import Scale, round_step
from logger.reports.svg import picture
from logger.words import Words

NARROW_PX = 600.0  # under it the names stand below the plot

_LEAST_SPAN_S = 300.0  # a burn just lit gets an axis too
_UNDER_ALERT_K = 30.0  # the axis reaches at least so far down: a room is below (our choice)
_OVER_LIMIT_K = 2.0  # and so far up


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What is drawn."""

    lines: Sequence[PlaceLine]
    lit_s: float
    to_s: float
    out_s: float | None
    wall: WallLimits
    words: Words
    zone: tzinfo  # in which the times of day are written
    alarms: Sequence[AlarmStory] = ()
    hottest: Hottest | None = None  # its place gets the band of uncertainty, itself a ring


def of(
    burn: Burn,
    lines: Sequence[PlaceLine],
    *,
    until_s: float,
    wall: WallLimits,
    words: Words,
    zone: tzinfo,
    alarms: Sequence[AlarmStory],
) -> Curve:
    """The burn, from lighting to `until_s`, and after it as far as the estimates go."""
    last_s = max((float(one.at_s[-1]) for one in lines if len(one.at_s)), default=until_s)
    return Curve(
        lines=lines,
        lit_s=burn.lit_s,
        to_s=max(until_s, last_s),
        out_s=burn.out_s,
        wall=wall,
        words=words,
        zone=zone,
        alarms=alarms,
        hottest=burn.hottest,
    )


def draw(curve: Curve, *, width: float = 960.0, name: str = "curve") -> str:
    """The curve as an SVG element, `width` wide in its own units (CSS pixels at its full size).

    The places' names stand beside their lines, or below where it is under 600 or they are too many.
    `name` begins the ids inside and must differ between two drawings on one page. Times without a
    good estimate are hatched and no line crosses them; doubtful estimates are dots.
    """
    narrow = width < NARROW_PX
    frame, step = _frame(curve, width, narrow=narrow)
    drawn = list(zip(pens(curve), curve.lines, strict=True))
    beside = not narrow and curve_places.fit_beside(frame, drawn)
    below = frame.bottom + 52.0
    height = below + (0.0 if beside else curve_places.legend_px(frame, len(drawn)))
    hottest = curve.hottest
    return picture(
        width,
        height,
        curve_marks.hatching(name),
        *curve_frame.axes(frame, step, zone=curve.zone, narrow=narrow),
        *curve_marks.gaps(frame, curve.lines, name),
        *curve_frame.limits(frame, curve.wall),
        *curve_marks.out(frame, curve.out_s),
        *(
            piece
            for pen, place_line in drawn
            if hottest is not None and hottest.channel == place_line.channel.name
            for piece in curve_places.band(frame, pen, place_line)
        ),
        *(piece for pen, one in drawn for piece in curve_places.place(frame, pen, one)),
        *curve_places.letters(frame, drawn),
        *curve_marks.ring(frame, hottest),
        *curve_marks.alarms(frame, curve.alarms),
        *curve_places.labels(frame, drawn, short=not beside),
        *(() if beside else curve_places.legend(frame, drawn, below)),
        name=name,
        title="Temperatures over the burn",
        description=_description(curve),
    )


def pens(curve: Curve) -> list[Pen]:
    """How each place's line looks, in the order of the lines."""
    hottest = None if curve.hottest is None else curve.hottest.channel
    return [
        curve_places.pen(number, place_line, hottest=place_line.channel.name == hottest)
        for number, place_line in enumerate(curve.lines)
    ]


def _frame(curve: Curve, width: float, *, narrow: bool) -> tuple[Frame, float]:
    """Where everything is, and the step of the temperature axis."""
    letters = max((len(place_line.letter) for place_line in curve.lines), default=1)
    left, right = (40.0, width - 14.0 - 11.0 * letters) if narrow else (52.0, width - 196.0)
    top = 34.0
    bottom = top + (width * 0.8 if narrow else width * 0.42)
    low, high, step = _range(curve)
    to_s = max(curve.to_s, curve.lit_s + _LEAST_SPAN_S)
    frame = Frame(
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        x=Scale(low=curve.lit_s, high=to_s, start=left, end=right),
        y=Scale(low=low, high=high, start=bottom, end=top),
        words=curve.words,
    )
    return frame, step


def _range(curve: Curve) -> tuple[float, float, float]:
    """Lowest and highest of the temperature axis and its step, in the display unit."""
    values: list[float] = []
    for one in curve.lines:
        found = one.value[one.believed & one.within(curve.lit_s, curve.to_s)]
        values += (float(found.min()), float(found.max())) if len(found) else ()
    highest = [] if curve.hottest is None else [curve.hottest.upper_c]
    low = curve.words.temperature_in.outside(min([*values, curve.wall.alert_c - _UNDER_ALERT_K]))
    high = curve.words.temperature_in.outside(
        max([*values, *highest, curve.wall.limit_c + _OVER_LIMIT_K])
    )
    step = round_step(high - low, 6)
    half = step / 2.0
    return low // half * half, -(-high // half) * half, step


def _description(curve: Curve) -> str:
    """For those who do not see it."""
    places = "; ".join(f"{one.letter}: {one.place}" for one in curve.lines) or "none"
    lines = (
        f"Places: {places}. The maker's limit is {curve.words.temperature(curve.wall.limit_c)}, "
        f"the alert {curve.words.temperature(curve.wall.alert_c)}."
    )
    hottest = curve.hottest
    if hottest is None:
        return lines
    since = curve_frame.hours(hottest.at_s - curve.lit_s)
    return (
        f"{lines} The hottest measured place was {hottest.place}, "
        f"{curve.words.temperature(hottest.value_c)}, {since} (h:min) after lighting."
    )
