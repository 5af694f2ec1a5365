"""Trials compared, and what they cost: as pages, as JSON, and as one page for a client."""

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from logger.errors import DataError
from logger.reports.trial_pairs import pairs
from logger.store.queries import open_read
from logger.web.api import ALONE, bench_of
from logger.web.bench_service import BenchService
from logger.web.pages import HEADERS, SMALL, page
from logger.web.work import aside

NARROWEST_PX, WIDEST_PX = 280, 1200


def trials_in(request: Request) -> list[str]:
    """Those that the address names."""
    return [name for name in request.query_params.getlist("trial") if name.strip()]


async def comparison(request: Request) -> Response:
    """GET /api/comparison: trials side by side, the best first."""
    return JSONResponse(await aside(bench_of(request).comparison, trials_in(request)))


async def costs(request: Request) -> Response:
    """GET /api/costs: what trials cost, one by one and together."""
    return JSONResponse(await aside(bench_of(request).costs, trials_in(request)))


async def drawing(request: Request) -> Response:
    """GET /api/comparison/curve: the hottest place of each trial since lighting, as SVG."""
    width = request.query_params.get("width", "360")
    if not (width.isascii() and width.isdigit() and len(width) < 6):
        raise DataError("width: must be a whole number of pixels")
    fitting = float(max(NARROWEST_PX, min(WIDEST_PX, int(width))))
    svg = await aside(bench_of(request).comparison_svg, trials_in(request), fitting)
    return Response(svg, media_type="image/svg+xml", headers=HEADERS)


async def client_page(request: Request) -> Response:
    """GET /compare/client?trial=&units=: the page to hand over."""
    units = request.query_params.get("units", "")
    html = await aside(bench_of(request).client_page, trials_in(request), units)
    return HTMLResponse(html, headers=ALONE)


async def compare_page(request: Request) -> Response:
    """GET /compare?trial=: trials side by side, and the form that chooses them."""
    bench, asked = bench_of(request), trials_in(request)
    known = await aside(_known, bench)
    found = await aside(bench.comparison, asked) if asked else None
    return page(
        bench,
        "compare.html",
        asked=asked,
        known=known,
        found=found,
        query=urlencode([("trial", name) for name in asked]),
        pairs=pairs(found) if found else [],
        titles={
            judged["criterion"]: judged["title"]
            for one in (found["trials"] if found else ())
            for judged in one["criteria"]
        },
    )


async def costs_page(request: Request) -> Response:
    """GET /costs?trial=: what trials cost, and the form that chooses them."""
    bench, asked = bench_of(request), trials_in(request)
    known = await aside(_known, bench)
    found = await aside(bench.costs, asked) if asked else None
    return page(bench, "costs.html", asked=asked, known=known, found=found)


def _known(bench: BenchService) -> list[str]:
    """All trials that were burned, the latest first."""
    with open_read(bench.data) as reader:
        return [trial.name for trial in reversed(reader.trials())]


ROUTES = (
    Route("/compare", compare_page, middleware=[SMALL]),
    Route("/compare/client", client_page, middleware=[SMALL]),
    Route("/costs", costs_page),
    Route("/api/comparison", comparison),
    Route("/api/comparison/curve", drawing, middleware=[SMALL]),
    Route("/api/costs", costs),
)
