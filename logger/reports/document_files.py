"""A document as the bytes of a file."""

from enum import StrEnum

from logger.reports.blocks import Document
from logger.reports.document_html import document_html
from logger.reports.document_pdf import PaperSize, document_pdf
from logger.words import Words


class FileForm(StrEnum):
    """By the ending of its name."""

    HTML = "html"
    PDF = "pdf"


def document_file(document: Document, form: FileForm, paper: PaperSize) -> bytes:
    """The file, self-contained. Raises WickbenchError where it cannot be made."""
    if form is FileForm.PDF:
        return document_pdf(document, paper)
    return document_html(document).encode()


def usual_paper(words: Words) -> PaperSize:
    """Where lengths are read in inches, Letter."""
    return PaperSize.LETTER if words.length_in.name == "in" else PaperSize.A4
