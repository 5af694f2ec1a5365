"""Burns of before: the list that finds them, and the page of each."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from logger.burn.model import Burn
from logger.errors import DataError
from logger.quantities import Position
from logger.reports.burn_list import NAMED, burn_filter, burn_list, wanted_burns
from logger.store.queries import open_read
from logger.timestamps import parse_instant
from logger.web.api import bench_of, light
from logger.web.bench_service import BenchService
from logger.web.entry_views import entries
from logger.web.pages import page
from logger.web.work import aside

MOST = 200  # on one page; who looks for more asks more narrowly (our choice)


def _found(bench: BenchService, asked: dict[str, str]) -> list[Burn]:
    looked_for = burn_filter(asked, bench.now_s())
    with open_read(bench.data) as reader:
        return wanted_burns(reader.burns(), looked_for)


def _asked(request: Request) -> dict[str, str]:
    """What is looked for. Raises DataError for a name that stands twice."""
    items = request.query_params.multi_items()
    asked = dict(items)
    if len(asked) < len(items):
        raise DataError("a name stands twice in the address: ask for one of each")
    return asked


async def burns(request: Request) -> Response:
    """GET /api/burns: burns by trial, vessel, wick, tester and time, the latest first."""
    if request.method == "POST":
        return await light(request)
    found = await aside(_found, bench_of(request), _asked(request))
    return JSONResponse(burn_list(found))


async def list_page(request: Request) -> Response:
    """GET /burns?trial=&vessel=&wick=&tester=&from=&to=: the burns that were found."""
    bench, asked = bench_of(request), _asked(request)
    found = await aside(_found, bench, asked)
    shown, left_out = found[:MOST], len(found[MOST:])
    return page(bench, "burns.html", burns=shown, left_out=left_out, asked=asked, named=NAMED)


async def burn_page(request: Request) -> Response:
    """GET /burns/{id}: one burn, what was entered at it, and its record."""
    bench = bench_of(request)
    found = await aside(bench.burn_message, request.path_params["id"])
    times = {key: parse_instant(at) for key in ("lit", "out") if (at := found[key])}
    latest = any(one.burn == found["burn"] for one in bench.hub.statuses.values())
    wall = None
    if found["wall_coverage"] is not None:
        wall = found["wall_coverage"]["never"]
    return page(
        bench,
        "burn.html",
        burn=found,
        name=found["number"] or found["burn"],
        times=times,
        latest=latest,
        wall=wall,
        entered=[(one, parse_instant(one["at"])) for one in found["entries"]],
        entries=entries(
            bench, bench.entered_at(found["station"], found["burn"]), bench.settings.words
        ),
        positions=[one.value for one in Position],
    )


ROUTES = (
    Route("/api/burns", burns, methods=["GET", "POST"]),
    Route("/burns", list_page),
    Route("/burns/{id}", burn_page),
)
