"""A document as one self-contained HTML file: nothing outside of it is asked for."""

from logger.reports.blocks import Document
from logger.reports.burn_document import burn_document
from logger.reports.document import BurnRecord
from logger.reports.templates import page, style


def document_html(document: Document) -> str:
    """The whole file; everything that people wrote is escaped."""
    return page("document.html", document=document, style=style("document.css"))


def record_html(record: BurnRecord) -> str:
    """The record of one burn."""
    return document_html(burn_document(record))
