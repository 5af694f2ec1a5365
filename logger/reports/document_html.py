"""A document as one self-contained HTML file: nothing outside of it is asked for."""

from base64 import b64encode
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from logger.messages import one_line
from logger.reports.blocks import Document
from logger.reports.html import style


def document_html(document: Document) -> str:
    """The whole file; everything that people wrote is escaped."""
    own = (files("dashboards") / "record" / "document.css").read_text("utf-8")
    return (
        _environment()
        .get_template("document.html")
        .render(document=document, style=Markup(style() + own))  # noqa: S704 - our own files
    )


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("dashboards", "record"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        line=one_line,
        svg=lambda svg: Markup(one_line(svg)),  # noqa: S704 - our own drawing: it escapes
        picture=lambda jpeg: f"data:image/jpeg;base64,{b64encode(jpeg).decode()}",  # RFC 2397
        kind=lambda block: type(block).__name__,
    )
    return environment
