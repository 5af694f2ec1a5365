"""The check candle's chart of one place, drawn: each burn, the weighted average and its limits."""

from collections.abc import Iterator

from logger.decision.check_candle import CheckChart
from logger.reports.scale import Scale, round_step, ticks
from logger.reports.svg import coordinate, line, path, points_of, tag, text
from logger.words import Words

_WIDE_PX, _HIGH_PX = 360.0, 190.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 40.0, 350.0, 12.0, 160.0
_LEAST_K = 1.0  # of the axis: less would make noise look like a drift (our choice)


def ewma_chart(chart: CheckChart, words: Words) -> str:
    """As SVG; readable without colours."""
    unit = words.temperature_in
    values = [peak.rise_k for peak in chart.peaks]
    averages = [at for point in chart.points for at in (point.average, point.lower, point.upper)]
    low = min(*values, *averages, chart.target_k - 0.5 * _LEAST_K)
    high = max(*values, *averages, chart.target_k + 0.5 * _LEAST_K)
    y = Scale(low=low, high=high, start=_BOTTOM, end=_TOP)
    x = Scale(low=0.0, high=max(len(values) - 1.0, 1.0), start=_LEFT + 10.0, end=_RIGHT - 10.0)
    return tag(
        "svg",
        *_axis(low, high, y, words),
        *_average(chart, x, y),
        *(
            tag(
                "circle",
                cx=coordinate(x(number)),
                cy=coordinate(y(value)),
                r="3",
                fill="none",
                stroke="currentColor",
                stroke_width="1.5",
            )
            for number, value in enumerate(values)
        ),
        text(_LEFT, _HIGH_PX - 8.0, "first burn", fill="currentColor"),
        text(_RIGHT, _HIGH_PX - 8.0, "latest", anchor="end", fill="currentColor"),
        class_="curve",
        viewBox=f"0 0 {_WIDE_PX:.0f} {_HIGH_PX:.0f}",
        width=f"{_WIDE_PX:.0f}",
        height=f"{_HIGH_PX:.0f}",
        font_size="12",
        role="img",
        aria_label=(
            f"Peaks of the check candle above the room at {chart.channel}, in {unit.symbol}: "
            f"{len(values)} burns, {'outside' if chart.out else 'not outside'} the limits"
        ),
    )


def _axis(low: float, high: float, y: Scale, words: Words) -> Iterator[str]:
    scale = words.temperature_in.scale
    outside_low, outside_high = scale.outside(low), scale.outside(high)
    step = round_step(outside_high - outside_low, 5)
    for at in ticks(outside_low, outside_high, step):
        at_y = y(scale.inside(at))
        yield line(_LEFT, at_y, _RIGHT, at_y, stroke="currentColor", stroke_opacity=".18")
        yield text(_LEFT - 5.0, at_y + 4.0, f"{at:g}", anchor="end", fill="currentColor")


def _average(chart: CheckChart, x: Scale, y: Scale) -> Iterator[str]:
    """The band of its limits, the target, the average, and a cross where it is out."""
    target_y = y(chart.target_k)
    yield line(_LEFT, target_y, _RIGHT, target_y, stroke="currentColor", stroke_dasharray="5 4")
    if not chart.points:
        return
    first = len(chart.peaks) - len(chart.points)
    at_x = [x(first + number) for number in range(len(chart.points))]
    upper = [(at, y(point.upper)) for at, point in zip(at_x, chart.points, strict=True)]
    lower = [(at, y(point.lower)) for at, point in zip(at_x, chart.points, strict=True)]
    band = points_of([*upper, *reversed(lower)])
    yield tag("polygon", points=band, fill="currentColor", fill_opacity=".1")
    average = [(at, y(point.average)) for at, point in zip(at_x, chart.points, strict=True)]
    yield tag("path", d=path(average), fill="none", stroke="currentColor", stroke_width="2.5")
    for (at, at_y), point in zip(average, chart.points, strict=True):
        if point.out:
            for way in (1.0, -1.0):
                yield line(
                    at - 5.0, at_y - 5.0 * way, at + 5.0, at_y + 5.0 * way,
                    stroke="currentColor", stroke_width="3",
                )  # fmt: skip
