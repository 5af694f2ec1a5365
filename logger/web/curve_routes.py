"""What charts in the browser are drawn from, as JSON; and the server's own drawing of any burn."""

from typing import cast

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from logger.errors import DataError
from logger.reports.curve_series import CurveSubject, Span
from logger.timestamps import parse_instant
from logger.web.api import bench_of, whole
from logger.web.curves import Curves
from logger.web.openapi_answers import MOST_POINTS
from logger.web.pages import HEADERS, SMALL
from logger.web.work import aside


def subject_of(request: Request) -> CurveSubject:
    """What is asked for by `burn`, `trial` or `station`, the first two more than once."""
    asked = request.query_params
    return CurveSubject(
        burns=tuple(asked.getlist("burn")),
        trials=tuple(asked.getlist("trial")),
        station=asked.get("station", ""),
    )


async def curves(request: Request) -> Response:
    """GET /api/curves: burns, trials or a station as a chart shows them, all but the series."""
    bench, subject = bench_of(request), subject_of(request)
    if len(subject.burns) == 1 and not subject.trials:
        name, latest = subject.burns[0], bench.hub.burns.values()
        if burn := next((one for one in latest if name in (one.id, one.short_id)), None):
            kept = cast("Curves", request.app.state.curves)
            return Response(await kept.message(burn), media_type="application/json")
    return JSONResponse(await aside(bench.curve_message, subject))


async def series(request: Request) -> Response:
    """GET /api/curves/series: places of a burn or a station, min and max a bucket, gaps null."""
    bench, asked = bench_of(request), request.query_params
    points = whole(asked.get("points", "600"), "points", 1, MOST_POINTS)
    span_s = _span_s(request)
    channels = asked.getlist("channel")
    found = await aside(bench.curve_series, subject_of(request), channels, span_s, points)
    return JSONResponse(found)


async def readings(request: Request) -> Response:
    """GET /api/curves/readings: single readings of places, and which of them were rejected."""
    bench, channels = bench_of(request), request.query_params.getlist("channel")
    span_s = _span_s(request)
    return JSONResponse(await aside(bench.curve_readings, subject_of(request), channels, span_s))


async def drawing(request: Request) -> Response:
    """GET /api/burns/{id}/curve: the curve of a burn, as SVG."""
    width = whole(request.query_params.get("width", "960"), "width", 280, 1200)
    svg = await aside(bench_of(request).curve_svg, request.path_params["id"], float(width))
    return Response(svg, media_type="image/svg+xml", headers=HEADERS)


def _span_s(request: Request) -> Span:
    """`from` and `to`. Raises DataError where one is missing, or they are the wrong way round."""
    asked = request.query_params
    for name in ("from", "to"):
        if name not in asked:
            raise DataError(f"{name}: say when, in Unix seconds or RFC 3339")
    from_s, to_s = (parse_instant(asked[name]) for name in ("from", "to"))
    if from_s >= to_s:
        raise DataError("from: must lie before to")
    return from_s, to_s


ROUTES = (
    Route("/api/curves", curves, middleware=[SMALL]),
    Route("/api/curves/series", series, middleware=[SMALL]),
    Route("/api/curves/readings", readings, middleware=[SMALL]),
    Route("/api/burns/{id}/curve", drawing, middleware=[SMALL]),
)
