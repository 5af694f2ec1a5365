"""What is marked on the curve: alarms, times not measured, the highest, and out."""

from collections.abc import Iterator, Sequence

from logger.alarms.lifecycle import Priority
from logger.burn.evidence import Gap, merged
from logger.burn.model import Hottest
from logger.reports.burn_history import AlarmStory
from logger.reports.curve_frame import Frame
from logger.reports.place_line import PlaceLine
from logger.reports.svg import coordinate, line, points_of, tag, text

_RADIUS = 7.0
_APART_PX = 60.0  # alarms closer than this share a sign and say "2-6"
_LEAST_GAP_PX = 3.0  # a gap of seconds must still be seen
_LETTER_PX = 6.5  # width of a letter of the labels, roughly
_BESIDE_PX = 14.0  # right of the plot there is at least so much paper

# Each priority has its own shape: a circle for a notice, more corners of alarm upwards.
_SHAPES = {
    Priority.CAUTION: ((0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)),
    Priority.WARNING: ((0.0, -1.1), (1.2, 0.95), (-1.2, 0.95)),
    Priority.DANGER: ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
}


def alarms(frame: Frame, stories: Sequence[AlarmStory]) -> Iterator[str]:
    """Above the plot, each raising's sign with its number, and a line down into the plot."""
    shown = sorted(
        (story for story in stories if frame.shows(story.raised_s)), key=lambda s: s.raised_s
    )
    y = frame.top - _RADIUS - 6.0
    group: list[AlarmStory] = []
    lined = frame.left - 1.0  # where the latest line is: alarms of the same pixel share one
    for story in [*shown, None]:
        here = None if story is None else frame.x(story.raised_s)
        if group and (here is None or here - frame.x(group[0].raised_s) > _APART_PX):
            yield _group(group, frame.x(group[0].raised_s), y, frame.right + _BESIDE_PX)
            group = []
        if story is not None and here is not None:
            group.append(story)
            if here - lined < 1.0:
                continue
            lined = here
            yield line(
                here,
                y + _RADIUS,
                here,
                frame.bottom,
                stroke="currentColor",
                stroke_opacity="0.45",
                stroke_dasharray="1 3",
            )


def sign(priority: Priority, *, x: float, y: float) -> str:
    """The shape of a priority, centred on (x, y); that of danger is filled."""
    ink = {"stroke": "currentColor", "stroke_width": "1.5"}
    if priority is not Priority.DANGER:
        ink |= {"fill": "#fff", "class_": "curve-paper"}
    if priority not in _SHAPES:
        return tag("circle", cx=coordinate(x), cy=coordinate(y), r=coordinate(_RADIUS), **ink)
    corners = ((x + dx * _RADIUS, y + dy * _RADIUS) for dx, dy in _SHAPES[priority])
    return tag("polygon", points=points_of(corners), stroke_linejoin="round", **ink)


def gaps(frame: Frame, lines: Sequence[PlaceLine], name: str) -> Iterator[str]:
    """Hatching where a place on the vessel was not measured, with the letters of those places."""
    watched = [one for one in lines if one.channel.on_vessel and not one.by_hand]
    free = frame.left  # up to where a label may begin
    for span in merged(gap for one in watched for gap in one.gaps):
        start, end = frame.x(span.from_s), frame.x(span.to_s)
        middle = (start + end) / 2.0
        wide = max(end - start, _LEAST_GAP_PX)
        yield tag(
            "rect",
            x=coordinate(middle - wide / 2.0),
            y=coordinate(frame.top),
            width=coordinate(wide),
            height=coordinate(frame.bottom - frame.top),
            fill=f"url(#{name}-hatch)",
            class_="curve-gap",
        )
        gone = [one.letter for one in watched if any(_overlap(gap, span) for gap in one.gaps)]
        words = "no reading" if len(gone) == len(watched) else f"no {', '.join(gone)}"
        half = _LETTER_PX * len(words) / 2.0
        middle = min(max(middle, frame.left + half), frame.right - half)
        if middle - half >= free:
            yield text(
                middle,
                frame.bottom - 8.0,
                words,
                anchor="middle",
                font_size="11",
                class_="curve-halo",
            )
            free = middle + half


def hatching(name: str) -> str:
    """The pattern that `gaps` refers to."""
    stripe = line(0.0, 0.0, 0.0, 7.0, stroke="currentColor", stroke_opacity="0.4")
    pattern = tag(
        "pattern",
        stripe,
        id=f"{name}-hatch",
        width="5",
        height="7",
        patternUnits="userSpaceOnUse",
        patternTransform="rotate(45)",
    )
    return tag("defs", pattern)


def out(frame: Frame, out_s: float | None) -> Iterator[str]:
    """When it was recorded out."""
    if out_s is not None and frame.shows(out_s):
        x = frame.x(out_s)
        yield line(x, frame.top, x, frame.bottom, stroke="currentColor", stroke_width="1.2")
        yield text(x + 4.0, frame.top + 13.0, "out", class_="curve-halo")


def ring(frame: Frame, hottest: Hottest | None) -> Iterator[str]:
    """Around the highest estimate of the hottest measured place."""
    if hottest is not None and frame.shows(hottest.at_s):
        yield tag(
            "circle",
            cx=coordinate(frame.x(hottest.at_s)),
            cy=coordinate(frame.y_of(hottest.value_c)),
            r="5",
            fill="none",
            stroke="currentColor",
            stroke_width="1.8",
            class_="curve-hottest",
        )


def _group(group: Sequence[AlarmStory], x: float, y: float, most_x: float) -> str:
    """Alarms that lie close: the gravest one's sign and their numbers, above it at the very end."""
    gravest = max((story.priority for story in group), key=lambda priority: priority.rank)
    numbers = [story.number for story in group]
    words = f"{min(numbers)}" if len(numbers) == 1 else f"{min(numbers)}-{max(numbers)}"
    beside = x + _RADIUS + 5.0
    if beside + _LETTER_PX * len(words) <= most_x:
        numbered = text(beside, y + 4.0, words, font_weight="600")
    else:
        numbered = text(most_x, y - _RADIUS - 3.0, words, anchor="end", font_weight="600")
    return tag("g", sign(gravest, x=x, y=y), numbered, class_="curve-mark")


def _overlap(a: Gap, b: Gap) -> bool:
    return a.from_s < b.to_s and b.from_s < a.to_s
