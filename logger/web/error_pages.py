"""Errors as a page where a browser asks for one, else as a problem document."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from logger.web import problem_documents
from logger.web.api import bench_of
from logger.web.pages import page

_FOR_PROGRAMS = ("/api/", "/metrics", "/static/")


async def answer(request: Request, exc: Exception) -> Response:
    """What a route raised: for a person a page with a way back, for a program the document."""
    told = problem_documents.problem_of(exc)
    asks_for_html = "text/html" in request.headers.get("accept", "")
    if asks_for_html and not request.url.path.startswith(_FOR_PROGRAMS):
        shown = page(
            bench_of(request),
            "error.html",
            status=told["status"],
            code=told["status"],
            detail="" if told["detail"] == told["title"] else told["detail"],
        )
    else:
        shown = problem_documents.document(told)
    if isinstance(exc, HTTPException):
        shown.headers.update(exc.headers or {})  # which methods are allowed, say
    return shown
