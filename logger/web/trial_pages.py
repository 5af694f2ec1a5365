"""The page of a trial: its verdict, why, what is missing, and what to try next."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.web.api import bench_of
from logger.web.pages import page
from logger.web.record_names import record_in_path
from logger.web.work import aside


async def trial_page(request: Request) -> Response:
    """GET /trials/{name}: the verdict on all its burns so far."""
    bench = bench_of(request)
    found = await aside(bench.verdict, request.path_params["name"])
    missing = [gap for gap in found["missing"] if gap["decides"]]
    worth = dict.fromkeys(gap["text"] for gap in found["missing"] if not gap["decides"])
    criteria = sorted(found["criteria"], key=lambda one: one["outcome"] != found["outcome"])
    return page(
        bench, "trial.html", trial=found, criteria=criteria, missing=missing, worth=[*worth]
    )


ROUTES = (Route(f"/trials/{record_in_path('name')}", trial_page),)
