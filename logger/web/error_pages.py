"""Errors as a page where a browser asks for one, else as a problem document."""

import json

from starlette.requests import Request
from starlette.responses import Response

from logger.web import problem_documents
from logger.web.api import bench_of
from logger.web.pages import page

_FOR_PROGRAMS = ("/api/", "/metrics", "/static/")


async def answer(request: Request, exc: Exception) -> Response:
    """What a route raised: for a person a page with a way back, for a program the document."""
    document = await problem_documents.answer(request, exc)
    asks_for_html = "text/html" in request.headers.get("accept", "")
    if not asks_for_html or request.url.path.startswith(_FOR_PROGRAMS):
        return document
    told: problem_documents.ProblemMessage = json.loads(bytes(document.body))
    shown = page(
        bench_of(request),
        "error.html",
        status=document.status_code,
        code=document.status_code,
        detail="" if told["detail"] == told["title"] else told["detail"],
    )
    if "allow" in document.headers:
        shown.headers["allow"] = document.headers["allow"]
    return shown
