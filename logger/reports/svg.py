"""Elements of an SVG drawing as text; whatever is written in them is escaped."""

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

from logger.messages import one_line

_OPEN = frozenset({"svg", "g", "defs", "pattern"})  # hold elements, all others text


def tag(element: str, *content: str, **attributes: str) -> str:
    """An element. Attributes: `class_` is class, `stroke_width` stroke-width.

    An empty attribute is left out. `content` of a group is elements, of anything else text, which
    is escaped.
    """
    words = "".join(
        f" {_NAMES.get(name, name.replace('_', '-'))}={quoteattr(one_line(value))}"
        for name, value in attributes.items()
        if value
    )
    if not content:
        return f"<{element}{words}/>"
    inside = "".join(content)
    return f"<{element}{words}>{inside if element in _OPEN else written(inside)}</{element}>"


_NAMES = {
    "class_": "class",
    "viewBox": "viewBox",
    "patternUnits": "patternUnits",
    "patternTransform": "patternTransform",
}


def picture(
    width: float, height: float, *content: str, name: str, title: str, description: str
) -> str:
    """A whole drawing of elements; its ids begin with `name`."""
    return tag(
        "svg",
        tag("title", title, id=f"{name}-title"),
        tag("desc", description, id=f"{name}-desc"),
        *content,
        xmlns="http://www.w3.org/2000/svg",
        class_="curve",
        viewBox=f"0 0 {coordinate(width)} {coordinate(height)}",
        width=coordinate(width),
        height=coordinate(height),
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family="sans-serif",
        font_size="12",
        fill="currentColor",
    )


def written(words: str) -> str:
    """What a person wrote, for a drawing: nothing in it is an element or turns the line around."""
    return escape(one_line(words))


def text(
    x: float, y: float, words: str, *, anchor: str = "start", raw: bool = False, **attributes: str
) -> str:
    """Words at a place; `raw` for elements (tspan) that are already escaped."""
    where = f'x="{coordinate(x)}" y="{coordinate(y)}" text-anchor="{anchor}"'
    others = tag("x", **attributes)[2:-2]
    return f"<text {where}{others}>{words if raw else written(words)}</text>"


def line(x1: float, y1: float, x2: float, y2: float, **attributes: str) -> str:
    """A straight line."""
    ends = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
    return tag("line", **{name: coordinate(at) for name, at in ends.items()}, **attributes)


def path(points: Sequence[tuple[float, float]]) -> str:
    """The d of a path through `points`, in steps of a tenth: a third of the length of absolutes.

    The steps are between rounded points, so that rounding does not add up. One point is a dot.
    """
    tenths = [(round(x * 10.0), round(y * 10.0)) for x, y in points]
    (x, y), *others = tenths
    written = [f"M{_tenth(x)} {_tenth(y)}l" if others else f"M{_tenth(x)} {_tenth(y)}h0"]
    for to_x, to_y in others:
        written.append(f"{_tenth(to_x - x)} {_tenth(to_y - y)}")
        x, y = to_x, to_y
    return " ".join(written)


def points_of(points: Iterable[tuple[float, float]]) -> str:
    """The points of a polygon."""
    return " ".join(f"{coordinate(x)},{coordinate(y)}" for x, y in points)


def coordinate(at: float) -> str:
    """To a tenth."""
    return _tenth(round(at * 10.0))


def _tenth(tenths: int) -> str:
    whole, part = divmod(abs(tenths), 10)
    sign = "-" if tenths < 0 else ""
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"
