"""Several burns in one drawing: the hottest place of each over time since lighting, as an SVG."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.burn.evidence import Gap
from logger.burn.limits import WallLimits
from logger.reports import curve_frame, curve_places
from logger.reports.curve import Curve
from logger.reports.curve_frame import Frame
from logger.reports.curve_places import Pen
from logger.reports.place_line import PlaceLine
from logger.reports.scale import Scale, round_step
from logger.reports.svg import picture
from logger.words import Words

_SHORTEST_S = 300.0  # a burn just lit gets an axis too
_UNDER_ALERT_K = 30.0  # the axis reaches at least so far down (our choice)
_OVER_LIMIT_K = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TogetherLine:
    """One burn: its times are of being lit, its values in the room that all are referred to."""

    label: str
    line: PlaceLine
    wall: WallLimits

    @classmethod
    def of(
        cls, drawn: Curve, channel: str, *, label: str, letter: str, warmer_k: float
    ) -> "TogetherLine | None":
        """A place of a burn up to its end, moved by what the room is warmer; None without it."""
        place = next((one for one in drawn.lines if one.channel.name == channel), None)
        if place is None:
            return None
        to_s = drawn.to_s if drawn.out_s is None else drawn.out_s
        shown = place.within(drawn.lit_s, to_s)
        return cls(
            label=label,
            wall=drawn.wall,
            line=replace(
                place,
                letter=letter,
                gaps=tuple(
                    Gap(from_s=gap.from_s - drawn.lit_s, to_s=gap.to_s - drawn.lit_s)
                    for gap in place.gaps
                ),
                at_s=place.at_s[shown] - drawn.lit_s,
                value=place.value[shown] + warmer_k,
                expanded=place.expanded[shown],
                good=place.good[shown],
                doubtful=place.doubtful[shown],
            ),
        )


def draw_together(
    burns: Sequence[TogetherLine], words: Words, *, width: float = 960.0, name: str = "together"
) -> str:
    """The drawing, `width` CSS pixels wide; its names below. The lowest of the limits is drawn.

    `name` begins the ids inside and must differ between two drawings on one page.
    """
    narrow = width < 600.0
    wall = min((one.wall for one in burns), key=lambda wall: wall.limit_c)
    frame, step = _frame(burns, wall, words, width, narrow=narrow)
    drawn = [
        (replace(curve_places.pen(number, one.line, hottest=False), label=one.label), one.line)
        for number, one in enumerate(burns)
    ]
    below = frame.bottom + 38.0
    return picture(
        width,
        below + curve_places.legend_px(frame, len(drawn)),
        *curve_frame.axes(frame, step, zone=None, narrow=narrow),
        *curve_frame.limits(frame, wall),
        *(piece for pen, one in drawn for piece in curve_places.place(frame, pen, one)),
        *curve_places.letters(frame, drawn),
        *curve_places.labels(
            frame, [(pen, one) for pen, one in drawn if not one.by_hand], short=True
        ),
        *curve_places.legend(frame, drawn, below),
        name=name,
        title="Burns over the time since lighting",
        description=_described(drawn, wall, words),
    )


def _frame(
    burns: Sequence[TogetherLine], wall: WallLimits, words: Words, width: float, *, narrow: bool
) -> tuple[Frame, float]:
    values = [
        float(edge)
        for one in burns
        if one.line.believed.any()
        for edge in (
            one.line.value[one.line.believed].min(),
            one.line.value[one.line.believed].max(),
        )
    ]
    shown = words.temperature_in
    low = shown.outside(min([*values, wall.alert_c - _UNDER_ALERT_K]))
    high = shown.outside(max([*values, wall.limit_c + _OVER_LIMIT_K]))
    step = round_step(high - low, 6)
    half = step / 2.0
    longest_s = max((float(one.line.at_s[-1]) for one in burns if len(one.line.at_s)), default=0.0)
    left, right = (40.0, width - 25.0) if narrow else (52.0, width - 40.0)
    top = 34.0
    bottom = top + width * (0.8 if narrow else 0.42)
    frame = Frame(
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        x=Scale(low=0.0, high=max(longest_s, _SHORTEST_S), start=left, end=right),
        y=Scale(low=low // half * half, high=-(-high // half) * half, start=bottom, end=top),
        words=words,
    )
    return frame, step


def _described(drawn: Sequence[tuple[Pen, PlaceLine]], wall: WallLimits, words: Words) -> str:
    """For those who do not see it."""
    named = "; ".join(f"{pen.letter}: {pen.label}" for pen, _ in drawn)
    return f"{named}. The maker's limit is {words.temperature(wall.limit_c)}."
