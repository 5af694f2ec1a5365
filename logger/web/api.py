"""The JSON side of HTTP; every route is a few lines between a body and the bench."""

from collections.abc import Callable
from typing import cast

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from logger.errors import DataError, Refused
from logger.intake import bodies
from logger.intake.calibration_bodies import ChannelBody
from logger.intake.entered import Entered
from logger.intake.kinds import KINDS
from logger.quantities import Channel
from logger.store.buckets import Bucket
from logger.store.queries import open_read
from logger.timestamps import parse_instant
from logger.web import openapi, posted, views
from logger.web.bench_service import BenchService
from logger.web.now import now as now_message
from logger.web.openapi_answers import MOST_POINTS
from logger.web.record_names import record_in_path
from logger.web.work import aside


def bench_of(request: Request) -> BenchService:
    """The bench that the application was made for."""
    return cast("BenchService", request.app.state.bench)


async def now(request: Request) -> Response:
    """GET /api/now: the bench as it is now."""
    return JSONResponse(now_message(bench_of(request)))


async def series(request: Request) -> Response:
    """GET /api/series: a channel's estimates as minimum and maximum a bucket, gaps null."""
    bench, asked = bench_of(request), request.query_params
    channel = next((c for c in views.channels(bench) if c.name == asked.get("channel")), None)
    if channel is None:
        known = ", ".join(c.name for c in views.channels(bench))
        raise DataError(f"channel: name one of {known}")
    to_s = parse_instant(asked["to"]) if "to" in asked else bench.now_s()
    from_s = parse_instant(asked["from"]) if "from" in asked else to_s - 3600.0
    points = whole(asked.get("points", "600"), "points", 1, MOST_POINTS)
    if from_s >= to_s:
        raise DataError("from: must lie before to")
    buckets = await aside(_buckets, bench, channel, from_s, to_s, points)
    return JSONResponse(views.series(channel, from_s, to_s, buckets))


async def live(request: Request) -> Response:
    """GET /api/live: server-sent events estimate, forecast, alarm, burn, status, shown, beat."""
    return cast("Response", request.app.state.live)  # the one for all pages


async def light(request: Request) -> Response:
    """POST /api/burns: a candle was lit."""
    bench = bench_of(request)
    body = await posted.read(request, bodies.LitBody)
    entry = body.entry(bench.now_s())
    return answer(await bench.enter(entry, sure=body.sure))


def posting(kind: type[bodies.SubjectBody]) -> Callable[..., object]:
    """The route that posts a `kind` to what it concerns."""

    async def route(request: Request) -> Response:
        bench, subject = bench_of(request), request.path_params["id"]
        body = await posted.read(request, kind)
        if issubclass(kind, bodies.BurnBody):
            status = views.status_of(bench, subject)
            if status is None:
                raise Refused(
                    f"burn {subject} is not the latest burn of any station: reload and look again"
                )
            subject = status.station
        entry = body.entry(bench.now_s(), subject)
        return answer(await bench.enter(entry, sure=body.sure))

    return route


async def burn(request: Request) -> Response:
    """GET /api/burns/{id}: the burn as it is stored."""
    found = await aside(bench_of(request).burn_message, request.path_params["id"])
    return JSONResponse(found)


async def wall(request: Request) -> Response:
    """GET /api/burns/{id}/wall: which parts of the wall were measured, as SVG."""
    svg = await aside(bench_of(request).wall_svg, request.path_params["id"])
    return Response(svg, media_type="image/svg+xml", headers={"cache-control": "no-cache"})


async def record(request: Request) -> Response:
    """GET /burns/{id}/record: the record as one page."""
    html = await aside(bench_of(request).record_html, request.path_params["id"])
    return HTMLResponse(html, headers=ALONE)


ALONE = {  # headers of a page that is handed over
    # The record is one file with its styles within; nothing else may load, run or be sent.
    "content-security-policy": (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )
}


async def verdict(request: Request) -> Response:
    """GET /api/trials/{id}/verdict: the verdict on all burns of a trial so far."""
    found = await aside(bench_of(request).verdict, request.path_params["id"])
    return JSONResponse(found)


async def health(request: Request) -> Response:
    """GET /healthz: 200 while the pipeline ticks, 503 when it is stuck."""
    bench = bench_of(request)
    ticked_s = bench.hub.now_s
    age_s = None if ticked_s is None else bench.now_s() - ticked_s
    ok = age_s is not None and age_s < 5.0
    return JSONResponse({"ok": ok, "pipeline_age_s": age_s}, status_code=200 if ok else 503)


def _buckets(
    bench: BenchService, channel: Channel, from_s: float, to_s: float, points: int
) -> list[Bucket]:
    with open_read(bench.data) as reader:
        every_s = channel.averaging.every_s
        return reader.series(channel.name, from_s, to_s, points, every_s=every_s)


def answer(entered: Entered) -> Response:
    """The answer to whoever entered it."""
    return JSONResponse(entered.message, status_code=201 if entered.new else 200)


def whole(text: str, name: str, low: int, high: int) -> int:
    """A whole number of a query. Raises DataError for anything else."""
    fits = len(text) <= len(str(high)) and text.isascii() and text.isdigit()
    if not (fits and low <= int(text) <= high):
        raise DataError(f"{name}: must be a whole number from {low} to {high}")
    return int(text)


_POSTED: tuple[tuple[str, type[bodies.SubjectBody]], ...] = (
    ("/api/burns/{id}", bodies.BurnBody),
    ("/api/readings/{id}", bodies.HandBody),
    ("/api/entries/{id}", bodies.EntryBody),
    ("/api/alarms/{id:path}", bodies.AlarmBody),
    ("/api/channels/{id}", ChannelBody),
)
"""What each kind of body is posted below, by what it concerns."""

ROUTES = (
    Route("/api/now", now),
    Route("/api/series", series),
    Route("/api/live", live),
    Route("/api/burns/{id}", burn),
    Route("/api/burns/{id}/wall", wall),
    *(
        Route(f"{path}/{what}", posting(kind), methods=["POST"])
        for path, concerns in _POSTED
        for what, kind in KINDS.items()
        if issubclass(kind, concerns)
    ),
    Route(f"/api/trials/{record_in_path('id')}/verdict", verdict),
    Route("/api/openapi.json", openapi.description),
    Route("/burns/{id}/record", record),
    Route("/healthz", health),
)
