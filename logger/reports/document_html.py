"""A document as one self-contained HTML file: nothing outside of it is asked for."""

from importlib.resources import files

from markupsafe import Markup

from logger.reports.blocks import Document
from logger.reports.templates import page, style


def document_html(document: Document) -> str:
    """The whole file; everything that people wrote is escaped."""
    own = (files("dashboards") / "record" / "document.css").read_text("utf-8")
    return page("document.html", document=document, style=Markup(style() + own))  # noqa: S704 - our own files
