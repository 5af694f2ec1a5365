"""The web application of one bench."""

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.web import api, problems
from logger.web.access import LocalOnly
from logger.web.bench import BenchService


def create(bench: BenchService) -> ASGIApp:
    """Pages and API of `bench`, for this machine only."""
    app = Starlette(
        routes=list(api.ROUTES),
        middleware=[Middleware(LocalOnly)],
        exception_handlers={
            WickbenchError: problems.answer,
            HTTPException: problems.answer,
            Exception: problems.answer,
        },
    )
    app.state.bench = bench
    return app
