"""The curve's plot: where it lies, its axes and the two limit lines."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from logger.burn.limits import WallLimits
from logger.reports.scale import Scale, ticks, time_step_s
from logger.reports.svg import coordinate, line, tag, text
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Edges of the plot and its two scales."""

    left: float
    right: float
    top: float
    bottom: float
    x: Scale  # of Unix seconds; begins at lighting
    y: Scale  # of temperatures in the display unit
    words: Words

    def y_of(self, value_c: float) -> float:
        """Height of a temperature."""
        return self.y(self.words.temperature_in.outside(value_c))

    def shows(self, at_s: float) -> bool:
        """Whether that time is drawn."""
        return self.x.low <= at_s <= self.x.high


def axes(frame: Frame, step: float, *, zone: tzinfo | None, narrow: bool) -> Iterator[str]:
    """Temperatures at the left; below, hours since lighting and, in a zone, the time of day."""
    faint = {"stroke": "currentColor", "stroke_opacity": "0.15", "class_": "curve-grid"}
    for value in ticks(frame.y.low, frame.y.high, step):
        y = frame.y(value)
        yield line(frame.left, y, frame.right, y, **faint)
        yield text(frame.left - 6.0, y + 4.0, f"{value:g}", anchor="end")
    symbol = frame.words.temperature_in.symbol
    yield text(frame.left - 6.0, frame.top - 8.0, symbol, anchor="end")
    span_s = frame.x.high - frame.x.low
    base = frame.bottom
    for since_s in ticks(0.0, span_s, time_step_s(span_s, 5 if narrow else 9)):
        at_s = frame.x.low + since_s
        x = frame.x(at_s)
        yield line(x, frame.top, x, base + 4.0, **faint)
        yield text(x, base + 17.0, hours(since_s), anchor="middle")
        if zone is not None:
            clock = datetime.fromtimestamp(at_s, UTC).astimezone(zone).strftime("%H:%M")
            yield text(x, base + 32.0, clock, anchor="middle", fill_opacity="0.65")
    yield line(frame.left, base, frame.right, base, stroke="currentColor")
    yield text(
        (frame.left + frame.right) / 2.0,
        base + 47.0 if zone else base + 32.0,
        "h:min since lighting" + ("; below it the time of day" if zone else ""),
        anchor="middle",
        font_size="11",
        fill_opacity="0.65",
    )


def limits(frame: Frame, wall: WallLimits) -> Iterator[str]:
    """The limit drawn through, the alert below it dashed; what lies above the limit is tinted."""
    limit, alert = frame.y_of(wall.limit_c), frame.y_of(wall.alert_c)
    yield tag(
        "rect",
        x=coordinate(frame.left),
        y=coordinate(frame.top),
        width=coordinate(frame.right - frame.left),
        height=coordinate(limit - frame.top),
        fill_opacity="0.06",
        class_="curve-over",
    )
    ink = {"stroke": "currentColor", "class_": "curve-limit"}
    yield line(frame.left, limit, frame.right, limit, stroke_width="2", **ink)
    yield line(frame.left, alert, frame.right, alert, stroke_dasharray="6 4", **ink)
    for y, words in (
        (limit - 5.0, f"the maker's limit {frame.words.temperature(wall.limit_c)}"),
        (alert + 13.0, f"alert {frame.words.temperature(wall.alert_c)}"),
    ):
        yield text(frame.left + 6.0, y, words, font_weight="600", class_="curve-halo")


def hours(since_s: float) -> str:
    """Hours and minutes."""
    minutes = round(since_s / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"
