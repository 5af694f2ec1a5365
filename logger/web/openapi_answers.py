"""What each route below /api/ answers to a GET, and what may be asked of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from logger.intake.shelf_bodies import SHELF
from logger.intake.shelf_messages import SheetMessage, ShelfMessage
from logger.reports.bench_check_messages import BenchCheckMessage
from logger.reports.burn_list import NAMED, BurnListMessage
from logger.reports.change_messages import LotsMessage
from logger.reports.comparison_messages import ComparisonMessage
from logger.reports.cost_messages import SeriesCostsMessage
from logger.reports.curve_messages import CurveMessage
from logger.reports.curve_series import CurveSeriesMessage, SingleReadingsMessage
from logger.reports.own_trials_messages import OwnTrialsMessage
from logger.reports.plan_messages import PlanMessage
from logger.reports.record_messages import BurnMessage
from logger.reports.verdict_messages import TrialMessage
from logger.web import views
from logger.web.now import NowMessage

MOST_POINTS = 4000  # buckets of one series answer; a wide screen has fewer columns

Node = dict[str, Any]

JSON = "application/json"


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteAnswer:
    """What a route says that answers to a GET."""

    what: type | None = None
    media_type: str = JSON
    query: Sequence[Node] = ()
    problems: Sequence[int] = ()


def _query(name: str, schema: Node, words: str, example: object, *, needed: bool = False) -> Node:
    return {
        "name": name,
        "in": "query",
        "required": needed,
        "description": words,
        "schema": schema,
        "example": example,
    }


def _width(
    least: int, most: int, default: int, words: str = "CSS pixels", example: int | None = None
) -> Node:
    schema = {"type": "integer", "minimum": least, "maximum": most, "default": default}
    return _query("width", schema, words, example or default)


_TEXT = {"type": "string"}
_NAMES = {"type": "array", "items": _TEXT}
_INSTANT = "RFC 3339 or Unix seconds"
_FROM, _TO = "1935651600", "2031-05-04T10:00:00Z"
_READ = (404, 422, 503)  # problems: it may not be there
_OF_CURVE = (
    _query("burn", _NAMES, "the number or id of each", ["12"]),
    _query("trial", _NAMES, "all burns of each", ["cedar-6"]),
    _query("station", _TEXT, "all that was measured there", "jar-a"),
)
_SPAN = (
    _query("from", _TEXT, _INSTANT, _FROM, needed=True),
    _query("to", _TEXT, _INSTANT, _TO, needed=True),
)
_TRIALS = _query("trial", _NAMES, "the name of each", ["cedar-6", "cedar-8"], needed=True)
_POINTS = _query(
    "points",
    {"type": "integer", "minimum": 1, "maximum": MOST_POINTS, "default": 600},
    "buckets of time",
    600,
)
ANSWERS: Mapping[str, RouteAnswer] = {
    "/api/now": RouteAnswer(what=NowMessage),
    "/api/series": RouteAnswer(
        what=views.SeriesMessage,
        query=(
            _query("channel", _TEXT, "its name", "jar-a-wall-3", needed=True),
            _query("from", _TEXT, f"{_INSTANT}; an hour before `to`", _FROM),
            _query("to", _TEXT, f"{_INSTANT}; now", _TO),
            _POINTS,
        ),
        problems=(422, 503),
    ),
    "/api/live": RouteAnswer(media_type="text/event-stream"),
    "/api/curve": RouteAnswer(
        media_type="image/svg+xml",
        query=(
            _query("station", _TEXT, "its name", "jar-a", needed=True),
            _width(0, 99_999, 360, "CSS pixels; the nearest width that is drawn"),
        ),
        problems=(409, 422, 503),
    ),
    "/api/curves": RouteAnswer(what=CurveMessage, query=_OF_CURVE, problems=_READ),
    "/api/curves/series": RouteAnswer(
        what=CurveSeriesMessage,
        query=(
            *_OF_CURVE,
            _query("channel", _NAMES, "of these places alone", ["jar-a-wall-3"]),
            *_SPAN,
            _POINTS,
        ),
        problems=_READ,
    ),
    "/api/curves/readings": RouteAnswer(
        what=SingleReadingsMessage,
        query=(
            *_OF_CURVE,
            _query("channel", _NAMES, "of these places", ["jar-a-wall-3"], needed=True),
            *_SPAN,
        ),
        problems=_READ,
    ),
    "/api/burns/{id}/curve": RouteAnswer(
        media_type="image/svg+xml",
        query=(_width(280, 1200, 960),),
        problems=_READ,
    ),
    "/api/burns": RouteAnswer(
        what=BurnListMessage,
        query=(
            *(_query(name, _TEXT, f"of this {name}", "cedar-6") for name in NAMED),
            _query("from", _TEXT, "lit since then: a day, or a time", "2031-05-04"),
            _query("to", _TEXT, "lit until then; a day is included", "2031-05-31"),
        ),
        problems=(422, 503),
    ),
    "/api/burns/{id}": RouteAnswer(what=BurnMessage, problems=_READ),
    "/api/burns/{id}/wall": RouteAnswer(media_type="image/svg+xml", problems=_READ),
    "/api/trials/{id}/verdict": RouteAnswer(what=TrialMessage, problems=_READ),
    "/api/plan": RouteAnswer(what=PlanMessage, problems=(422, 503)),
    "/api/change": RouteAnswer(what=LotsMessage, problems=(422, 503)),
    "/api/own-trials": RouteAnswer(what=OwnTrialsMessage, problems=(422, 503)),
    "/api/bench-check": RouteAnswer(what=BenchCheckMessage, problems=(422, 503)),
    "/api/comparison": RouteAnswer(what=ComparisonMessage, query=(_TRIALS,), problems=_READ),
    "/api/comparison/curve": RouteAnswer(
        media_type="image/svg+xml",
        query=(_TRIALS, _width(0, 99_999, 360, example=960)),
        problems=_READ,
    ),
    "/api/costs": RouteAnswer(what=SeriesCostsMessage, query=(_TRIALS,), problems=_READ),
    "/api/openapi.json": RouteAnswer(),
    **{
        f"/api/{kind.plural}": RouteAnswer(what=ShelfMessage, problems=(503,))
        for kind in SHELF.values()
    },
    **{
        f"/api/{kind.plural}/{{id}}": RouteAnswer(what=SheetMessage, problems=_READ)
        for kind in SHELF.values()
    },
}
