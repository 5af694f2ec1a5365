"""The web application of one bench."""

import logging

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.web import (
    api,
    bench_pages,
    burn_pages,
    compare_pages,
    curve_pages,
    curve_routes,
    error_pages,
    instrument_pages,
    lighting_pages,
    manual_pages,
    metrics,
    pages,
    photo_routes,
    plan_pages,
    report_pages,
    round_pages,
    shelf_pages,
    shelf_routes,
    trial_pages,
)
from logger.web.access import Access
from logger.web.after_out import AfterOut
from logger.web.bench_service import BenchService
from logger.web.curves import Curves
from logger.web.figures import Figures
from logger.web.headers import StrictHeaders
from logger.web.known_records import ShelfReading
from logger.web.live import LiveEvents
from logger.web.static import NO_CHART, has_chart
from logger.web.tokens import Token

log = logging.getLogger(__name__)


def create(bench: BenchService, token: Token | None = None) -> ASGIApp:
    """Pages and API of `bench`: for this machine only, or for who shows the `token`."""
    if not has_chart():
        log.warning("%s", NO_CHART)
    web = bench.settings.web
    app = Starlette(
        routes=[
            *photo_routes.ROUTES,  # before the forms of a station, whose address they share
            *pages.ROUTES,
            *bench_pages.ROUTES,
            *burn_pages.ROUTES,
            *curve_pages.ROUTES,
            *curve_routes.ROUTES,
            *compare_pages.ROUTES,
            *instrument_pages.ROUTES,
            *round_pages.ROUTES,
            *lighting_pages.ROUTES,
            *api.ROUTES,
            *metrics.ROUTES,
            *shelf_routes.ROUTES,
            *shelf_pages.ROUTES,
            *plan_pages.ROUTES,
            *manual_pages.ROUTES,
            *report_pages.ROUTES,
            *trial_pages.ROUTES,
        ],
        middleware=[Middleware(Access, token=token, names=[web.host] if web else [])],
        exception_handlers={
            WickbenchError: error_pages.answer,
            HTTPException: error_pages.answer,
            Exception: error_pages.answer,
        },
    )
    app.state.bench = bench
    app.state.secured = token is not None
    app.state.curves = Curves(bench)
    app.state.live = LiveEvents(bench.hub, bench.channel, Figures(bench).json)
    app.state.after_out = AfterOut(bench)
    app.state.shelf = ShelfReading(bench)
    return StrictHeaders(app)
