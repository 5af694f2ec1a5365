"""[pure] A curve as JSON for a chart in a browser: its lines, limits, gaps and what happened.

Temperatures are in degC, times in Unix seconds or, of several burns, in seconds since lighting.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.evidence import Gap
from logger.burn.limits import WallLimits
from logger.messages import rounded
from logger.quantities import Unit
from logger.reports.curve import Curve, pens
from logger.reports.curve_happened import CurveMark, CurveMarkMessage, marks_messages
from logger.reports.curve_places import Pen
from logger.reports.place_line import PlaceLine
from logger.words import Words


class PenMessage(TypedDict):
    """How a line looks; a style sheet has its colours for dark pages by class."""

    css: str
    colour: str
    dash: Annotated[list[float], Doc("lengths of ink and of nothing, CSS pixels; none: solid")]
    width: float


class CurveLineMessage(TypedDict):
    """A place, or of several burns a burn."""

    letter: str
    label: str
    channel: str
    burn: Annotated[str | None, Doc("whose series it is; null where it is a station's")]
    zero_s: Annotated[float, Doc("Unix seconds of the curve's 0; 0 where it has Unix seconds")]
    until_s: Annotated[float | None, Doc("what comes after is no more of its burn; null: all is")]
    by_hand: bool
    hottest: Annotated[bool, Doc("of the burn")]
    pen: PenMessage
    gaps: Annotated[list[tuple[float, float]], Doc("when it was not measured")]
    points: Annotated[
        list[tuple[float, float, float]],
        Doc("of a place read by hand: time, value, expanded uncertainty"),
    ]


class CurveLimitMessage(TypedDict):
    """A horizontal line."""

    value: float
    text: str
    strict: Annotated[bool, Doc("the limit itself, not the alert below it")]


class CurveUnitMessage(TypedDict):
    """The unit of the bench's pages: shown = (value - offset) / factor."""

    symbol: str
    factor: float
    offset: float
    digits: int


class CurveForecastMessage(TypedDict):
    """Where a place is expected to be."""

    channel: str
    from_s: float
    at_s: float
    value: float
    low: float
    high: float


class CurveMessage(TypedDict):
    """What is drawn, all but the series."""

    from_s: float
    to_s: float
    lit_s: Annotated[float | None, Doc("of the one burn that it is of")]
    since_lighting: Annotated[bool, Doc("times are seconds since lighting, not Unix seconds")]
    live: bool
    unit: CurveUnitMessage
    lines: list[CurveLineMessage]
    limits: list[CurveLimitMessage]
    marks: list[CurveMarkMessage]
    forecasts: list[CurveForecastMessage]


def of_burn(
    curve: Curve, marks: Iterable[CurveMark], *, burn: str, now_s: float | None
) -> CurveMessage:
    """The curve of one burn; `now_s` of one that is lit."""
    lines = [
        _line(curve, pen, one, burn=burn, zero_s=0.0)
        for pen, one in zip(pens(curve), curve.lines, strict=True)
    ]
    return {
        "from_s": curve.lit_s,
        "to_s": max(curve.to_s, now_s or 0.0),
        "lit_s": curve.lit_s,
        "since_lighting": False,
        "live": now_s is not None,
        "unit": _unit(curve.words.temperature_in),
        "lines": lines,
        "limits": _limits([curve.wall], curve.words),
        "marks": marks_messages(marks),
        "forecasts": [],
    }


def of_burns(found: Sequence[tuple[Curve, Pen, str]], words: Words) -> CurveMessage:
    """One line of each of several burns: the curve of its one place, its pen and its id."""
    lines = [
        _line(curve, pen, one, burn=burn, zero_s=curve.lit_s)
        for curve, pen, burn in found
        for one in curve.lines
    ]
    walls = list(dict.fromkeys(curve.wall for curve, _, _ in found))
    return {
        "from_s": 0.0,
        "to_s": max((curve.to_s - curve.lit_s for curve, _, _ in found), default=1.0),
        "lit_s": None,
        "since_lighting": True,
        "live": False,
        "unit": _unit(words.temperature_in),
        "lines": lines,
        "limits": _limits(walls, words),
        "marks": [],
        "forecasts": [],
    }


def of_station(
    lines: Sequence[tuple[Pen, PlaceLine]],
    marks: Iterable[CurveMark],
    *,
    span_s: tuple[float, float],
    words: Words,
) -> CurveMessage:
    """Everything that was measured at a station."""
    return {
        "from_s": span_s[0],
        "to_s": span_s[1],
        "lit_s": None,
        "since_lighting": False,
        "live": False,
        "unit": _unit(words.temperature_in),
        "lines": [_line(None, pen, one, burn=None, zero_s=0.0) for pen, one in lines],
        "limits": [],
        "marks": marks_messages(marks),
        "forecasts": [],
    }


def _line(
    curve: Curve | None, pen: Pen, one: PlaceLine, *, burn: str | None, zero_s: float
) -> CurveLineMessage:
    hottest = None if curve is None else curve.hottest
    return {
        "letter": pen.letter,
        "label": pen.label,
        "channel": one.channel.name,
        "burn": burn,
        "zero_s": zero_s,
        "until_s": curve.to_s - zero_s if curve is not None and zero_s else None,
        "by_hand": one.by_hand,
        "hottest": hottest is not None and hottest.channel == one.channel.name,
        "pen": {
            "css": pen.css,
            "colour": pen.colour,
            "dash": [float(length) for length in pen.dash.split()],
            "width": pen.width,
        },
        "gaps": [_shifted(gap, zero_s) for gap in one.gaps],
        "points": _points(one, zero_s),
    }


def _shifted(gap: Gap, zero_s: float) -> tuple[float, float]:
    return gap.from_s - zero_s, gap.to_s - zero_s


def _points(one: PlaceLine, zero_s: float) -> list[tuple[float, float, float]]:
    """Of a place that a person read, what may be believed."""
    if not one.by_hand:
        return []
    columns = (column[one.believed].tolist() for column in (one.at_s, one.value, one.expanded))
    return [
        (at_s - zero_s, rounded(value), rounded(expanded))
        for at_s, value, expanded in zip(*columns, strict=True)
    ]


def _limits(walls: Iterable[WallLimits], words: Words) -> list[CurveLimitMessage]:
    lines: Mapping[tuple[float, bool], str] = {
        key: text
        for wall in walls
        for key, text in (
            ((wall.limit_c, True), f"your limit {words.temperature(wall.limit_c)}"),
            ((wall.alert_c, False), f"alert {words.temperature(wall.alert_c)}"),
        )
    }
    return [
        {"value": value, "text": text, "strict": strict} for (value, strict), text in lines.items()
    ]


def _unit(unit: Unit) -> CurveUnitMessage:
    return {
        "symbol": unit.symbol,
        "factor": unit.factor,
        "offset": unit.offset,
        "digits": unit.digits(1),
    }
