"""The web application of one bench."""

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.web import api, pages, problems
from logger.web.access import LocalOnly
from logger.web.bench import BenchService
from logger.web.curves import Curves


def create(bench: BenchService) -> ASGIApp:
    """Pages and API of `bench`, for this machine only."""
    app = Starlette(
        routes=[*pages.ROUTES, *api.ROUTES],
        middleware=[Middleware(LocalOnly)],
        exception_handlers={
            WickbenchError: problems.answer,
            HTTPException: problems.answer,
            Exception: problems.answer,
        },
    )
    app.state.bench = bench
    app.state.curves = Curves(bench)
    return app
