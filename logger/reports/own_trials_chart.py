"""All own trials in one drawing: heat and consumption over the vessel's width, with their ±."""

from collections.abc import Callable, Iterator, Sequence

from logger.decision.own_trials import OwnTrial
from logger.decision.same_room import ComparedFigure
from logger.quantities import Unit
from logger.reports.scale import Scale, round_step, ticks
from logger.reports.svg import line, tag, text
from logger.words import Words

_WIDE_PX, _PANEL_PX, _GAP_PX = 360.0, 170.0, 34.0
_LEFT, _RIGHT, _TOP = 40.0, 346.0, 18.0
_SIDE_MM = 4.0  # beside the narrowest and the widest vessel

Figure = Callable[[OwnTrial], ComparedFigure | None]


def own_trials_chart(found: Sequence[OwnTrial], words: Words) -> str:
    """As SVG, each trial by its number in the list; readable without colours."""
    high = 2.0 * (_PANEL_PX + _GAP_PX) + 16.0
    degree, gram, length = words.temperature_in, words.mass_in, words.length_in
    panels = (
        (f"Above the room, {degree.symbol}", degree.scale, lambda one: one.rise_k),
        (f"Wax an hour, {gram.symbol}", gram.scale, lambda one: one.rate_g_per_h),
    )
    drawn: list[str] = []
    for number, (title, unit, figure) in enumerate(panels):
        top = _TOP + number * (_PANEL_PX + _GAP_PX)
        drawn += _panel(found, figure, unit, (title, top), length)
    drawn.append(
        text(
            _RIGHT,
            high - 6.0,
            f"Inner diameter, {length.symbol}",
            anchor="end",
            fill="currentColor",
        )
    )
    return tag(
        "svg",
        *drawn,
        class_="curve",
        viewBox=f"0 0 {_WIDE_PX:.0f} {high:.0f}",
        width=f"{_WIDE_PX:.0f}",
        height=f"{high:.0f}",
        font_size="12",
        role="img",
        aria_label="Heat above the room and wax an hour of all own trials over inner diameter; "
        "the list has the figures",
    )


def _panel(
    found: Sequence[OwnTrial], figure: Figure, unit: Unit, titled: tuple[str, float], length: Unit
) -> Iterator[str]:
    """One figure of all trials, with a bar of its expanded uncertainty."""
    title, top = titled
    yield text(_LEFT, top - 5.0, title, fill="currentColor")
    known = [(number, one, at) for number, one in enumerate(found, 1) if (at := figure(one))]
    if not known:
        yield text(_LEFT, top + 20.0, "not measured yet", fill="currentColor")
        return
    widths_mm = [one.inner_diameter_mm for one in found]
    x = Scale(
        low=min(widths_mm) - _SIDE_MM, high=max(widths_mm) + _SIDE_MM, start=_LEFT, end=_RIGHT
    )
    ends = [unit.outside(at.value + way * at.expanded) for _, _, at in known for way in (-1, 1)]
    low, high = min(ends), max(ends) + 1e-6
    y = Scale(low=low, high=high, start=top + _PANEL_PX - 22.0, end=top + 8.0)
    for mark in ticks(low, high, round_step(high - low, 4)):
        yield line(_LEFT, y(mark), _RIGHT, y(mark), stroke="currentColor", stroke_opacity=".18")
        yield text(_LEFT - 5.0, y(mark) + 4.0, f"{mark:g}", anchor="end", fill="currentColor")
    for width_mm in dict.fromkeys(widths_mm):
        words = f"{float(length.figure(width_mm, 1)):g}"
        yield text(x(width_mm), top + _PANEL_PX - 4.0, words, anchor="middle", fill="currentColor")
    for number, one, at in known:
        at_x = x(one.inner_diameter_mm) + 9.0 * (number % 3 - 1)  # trials of one vessel lie apart
        lower, upper = (y(unit.outside(at.value + way * at.expanded)) for way in (-1, 1))
        yield line(at_x, lower, at_x, upper, stroke="currentColor", stroke_width="1.5")
        at_y = y(unit.outside(at.value))
        yield line(at_x - 4.0, at_y, at_x + 4.0, at_y, stroke="currentColor", stroke_width="2.5")
        yield text(at_x + 5.0, at_y - 3.0, str(number), fill="currentColor")
