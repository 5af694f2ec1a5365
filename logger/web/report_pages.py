"""Reports and care cards: looked at in the browser, or downloaded."""

import re
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.errors import DataError
from logger.reports.document_files import FileForm
from logger.reports.document_pdf import PaperSize
from logger.web.api import ALONE, bench_of
from logger.web.record_names import record_in_path
from logger.web.work import far_aside

MOST_TRIALS = 20  # of one series; more make no table (our choice)
_PAPERS = {"": None, "a4": PaperSize.A4, "letter": PaperSize.LETTER}
_TYPES = {FileForm.HTML: "text/html; charset=utf-8", FileForm.PDF: "application/pdf"}


async def report(request: Request) -> Response:
    """GET /trials/{name}/report.html or .pdf?paper=&with=: of several trials a series."""
    names = [request.path_params["name"], *request.query_params.getlist("with")]
    if len(names) > MOST_TRIALS:
        raise DataError(f"with: a series has at most {MOST_TRIALS} trials")
    form = _form(request)
    content = await far_aside(bench_of(request).report, names, form, _paper(request))
    return _file(content, form, f"report-{names[0]}")


async def care_card(request: Request) -> Response:
    """GET /trials/{name}/care-card.html or .pdf?paper=: for the candle's buyer."""
    name, form = request.path_params["name"], _form(request)
    content = await far_aside(bench_of(request).care_card, name, form, _paper(request))
    return _file(content, form, f"care-card-{name}")


def _form(request: Request) -> FileForm:
    return FileForm(request.url.path.rpartition(".")[2])


def _paper(request: Request) -> PaperSize | None:
    asked = request.query_params.get("paper", "")
    if asked not in _PAPERS:
        raise DataError("paper: must be a4 or letter")
    return _PAPERS[asked]


def _file(content: bytes, form: FileForm, name: str) -> Response:
    plain = re.sub(r"[^A-Za-z0-9 ._-]", "_", name)[:100]
    shown = f"inline; filename=\"{plain}.{form}\"; filename*=UTF-8''{quote(name, safe='')}.{form}"
    headers = {**ALONE, "content-disposition": shown, "cache-control": "no-cache"}
    return Response(content, media_type=_TYPES[form], headers=headers)


_TRIAL = f"/trials/{record_in_path('name')}"

ROUTES = tuple(
    Route(f"{_TRIAL}/{what}.{form}", route)
    for what, route in (("report", report), ("care-card", care_card))
    for form in FileForm
)
