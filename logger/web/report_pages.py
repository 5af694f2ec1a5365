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
from logger.web.compare_pages import trials_in
from logger.web.work import far_aside

_PAPERS = {"": None, "a4": PaperSize.A4, "letter": PaperSize.LETTER}
_TYPES = {FileForm.HTML: "text/html; charset=utf-8", FileForm.PDF: "application/pdf"}


async def report(request: Request) -> Response:
    """GET /report.html or .pdf?trial=&paper=: of a trial, or of several as a series."""
    names, form = trials_in(request), _form(request)
    if not names:
        raise DataError("trial: name one, or several for a series")
    content = await far_aside(bench_of(request).report, names, form, _paper(request))
    return _file(content, form, f"report {names[0]}")


async def care_card(request: Request) -> Response:
    """GET /care-card.html or .pdf?trial=&paper=: for the candle's buyer."""
    names, form = trials_in(request), _form(request)
    if len(names) != 1:
        raise DataError("trial: a card is of one trial; name it")
    content = await far_aside(bench_of(request).care_card, names[0], form, _paper(request))
    return _file(content, form, f"care card {names[0]}")


def _form(request: Request) -> FileForm:
    return FileForm(request.url.path.rpartition(".")[2])


def _paper(request: Request) -> PaperSize | None:
    asked = request.query_params.get("paper", "")
    if asked not in _PAPERS:
        raise DataError("paper: must be a4 or letter")
    return _PAPERS[asked]


def _file(content: bytes, form: FileForm, name: str) -> Response:
    plain = re.sub(r"[^A-Za-z0-9 ._-]", "_", name)[:100]
    way = "attachment" if form is FileForm.PDF else "inline"
    shown = f"{way}; filename=\"{plain}.{form}\"; filename*=UTF-8''{quote(name, safe='')}.{form}"
    headers = {**ALONE, "content-disposition": shown, "cache-control": "no-cache"}
    return Response(content, media_type=_TYPES[form], headers=headers)


ROUTES = tuple(
    Route(f"/{what}.{form}", route)
    for what, route in (("report", report), ("care-card", care_card))
    for form in FileForm
)
