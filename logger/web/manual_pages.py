"""The manual on the page: its Markdown as HTML, so that it is read where the question comes up."""

import re
from functools import cache

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.reports.manual_texts import manual, manual_page
from logger.web.api import bench_of
from logger.web.pages import SMALL, page

# Pages link to each other and to files of the repository, as they lie there.
_PAGE = re.compile(r'href="([a-z]+)\.md(#[a-z-]+)?"')
_FILE = re.compile(r'<a href="\.\./\.\./[^"]*">(.*?)</a>')


async def manual_contents(request: Request) -> Response:
    """GET /manual: the pages there are."""
    return page(bench_of(request), "manual.html", pages=manual(), text=None, title="Manual")


async def manual_chapter(request: Request) -> Response:
    """GET /manual/{name}: one of them."""
    found = manual_page(request.path_params["name"])
    text = _as_html(found.name)
    return page(bench_of(request), "manual.html", pages=manual(), text=text, title=found.title)


@cache
def _as_html(name: str) -> Markup:
    from markdown_it import MarkdownIt

    # HTML within the Markdown is shown, not taken; the text is the program's own.
    html = MarkdownIt("commonmark", {"html": False}).enable("table").render(manual_page(name).text)
    html = _FILE.sub(r"\1", _PAGE.sub(r'href="/manual/\1\2"', html))
    html = html.replace("<table>", '<div class="wide"><table>').replace(
        "</table>", "</table></div>"
    )
    return Markup(html)  # noqa: S704  # of the program's own files, rendered without their HTML


ROUTES = (
    Route("/manual", manual_contents, middleware=[SMALL]),
    Route("/manual/{name}", manual_chapter, middleware=[SMALL]),
)
