"""The web application of one bench."""

import logging

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.web import (
    api,
    burn_pages,
    curve_pages,
    curve_routes,
    lighting_pages,
    manual_pages,
    metrics,
    pages,
    photo_routes,
    problem_documents,
    round_pages,
    shelf_pages,
    shelf_routes,
)
from logger.web.access import Access
from logger.web.after_out import AfterOut
from logger.web.bench_service import BenchService
from logger.web.curves import Curves
from logger.web.figures import Figures
from logger.web.headers import StrictHeaders
from logger.web.known_testers import KnownTesters
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
            *burn_pages.ROUTES,
            *curve_pages.ROUTES,
            *curve_routes.ROUTES,
            *round_pages.ROUTES,
            *lighting_pages.ROUTES,
            *api.ROUTES,
            *metrics.ROUTES,
            *shelf_routes.ROUTES,
            *shelf_pages.ROUTES,
            *manual_pages.ROUTES,
        ],
        middleware=[Middleware(Access, token=token, names=[web.host] if web else [])],
        exception_handlers={
            WickbenchError: problem_documents.answer,
            HTTPException: problem_documents.answer,
            Exception: problem_documents.answer,
        },
    )
    app.state.bench = bench
    app.state.secured = token is not None
    app.state.curves = Curves(bench)
    app.state.live = LiveEvents(bench.hub, bench.channel, Figures(bench).json)
    app.state.after_out = AfterOut(bench)
    app.state.known_testers = KnownTesters(bench)
    return StrictHeaders(app)
