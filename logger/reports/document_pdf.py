"""A document as PDF, set by typst: the template is fixed, what people wrote is data to it."""

import json
from base64 import b64encode
from dataclasses import asdict
from datetime import UTC, datetime
from enum import StrEnum
from importlib.resources import files
from io import BytesIO
from typing import Any

from logger.errors import WickbenchError
from logger.messages import one_line
from logger.reports.blocks import Block, Document, Grid, Listing, Sketch, Snapshot


class PaperSize(StrEnum):
    """Of the sheets, as typst calls them."""

    A4 = "a4"
    LETTER = "us-letter"


_INK = "#1d1b18"  # that of the template
_HALO = (  # what the page's style sheet does: letters stay readable on lines
    "<style>.curve-halo{paint-order:stroke;stroke:#fff;stroke-width:3px;stroke-linejoin:round}"
    "</style>"
)


def document_pdf(document: Document, paper: PaperSize = PaperSize.A4) -> bytes:
    """The file; the same bytes for the same document, on every machine.

    Pictures go beside the text as files in memory: nothing is read from the disk, and only the
    fonts that typst brings are used. Raises WickbenchError where it cannot be set.
    """
    import typst

    template = (files("dashboards") / "record" / "document.typ").read_bytes()
    pictures: dict[str, bytes] = {}
    blocks = [_plain(block, pictures) for block in document.blocks]
    shown = {
        "above": one_line(document.above),
        "title": one_line(document.title),
        "subtitle": one_line(document.subtitle),
        "foot": one_line(document.foot),
        "card": document.card,
        "blocks": blocks,
    }
    try:
        pdf = typst.compile(  # type: ignore[call-overload]  # files by name, as its manual says
            {"main.typ": template, **pictures},
            format="pdf",
            sys_inputs={"document": json.dumps(shown), "paper": paper.value},
            ignore_system_fonts=True,
            timestamp=datetime.fromtimestamp(int(document.at_s), UTC),  # a PDF's date has no parts
        )
    except RuntimeError as exc:  # typst's own errors are of this class, and its others too
        raise WickbenchError(f"the PDF cannot be set: {exc}; write it as HTML") from exc
    assert isinstance(pdf, bytes)
    return pdf


def _plain(block: Block, pictures: dict[str, bytes]) -> dict[str, Any]:
    """The block as JSON has it, a picture by its name in `pictures`."""
    match block:
        case Sketch():
            name = f"{len(pictures)}.svg"
            pictures[name] = _with_halo(one_line(block.svg)).encode()
            found = {
                "picture": name,
                "described": block.described,
                "caption": block.caption,
                "share": block.share,
            }
        case Snapshot():
            name = f"{len(pictures)}.svg"
            pictures[name] = _photo(block.jpeg).encode()
            found = {"picture": name, "described": block.caption, "caption": block.caption}
        case Grid():
            found = asdict(block) | {"signs": [_sign(one, pictures) for one in block.signs]}
        case Listing():
            found = {"title": block.title, "lines": block.text.splitlines()}
        case _:
            found = asdict(block)
    return {"kind": type(block).__name__, **{key: _lines(value) for key, value in found.items()}}


def _sign(svg: str, pictures: dict[str, bytes]) -> str:
    """Its name; the same sign stands in many rows."""
    content = svg.replace("currentColor", _INK).encode()
    same = next((name for name, one in pictures.items() if one == content), None)
    name = same or f"{len(pictures)}.svg"
    pictures[name] = content
    return name


def _lines(value: Any) -> Any:
    """`value` with each text on one line: no control characters, which no font has."""
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, list | tuple):
        return [_lines(one) for one in value]
    return value


def _photo(jpeg: bytes) -> str:
    """The photo within a drawing: typst takes only text as a file in memory."""
    from PIL import Image

    with Image.open(BytesIO(jpeg)) as image:
        width, height = image.size
    size = f'width="{width}" height="{height}"'
    data = b64encode(jpeg).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" {size}>'
        f'<image {size} href="data:image/jpeg;base64,{data}"/></svg>'
    )


def _with_halo(svg: str) -> str:
    head, sign, rest = svg.partition(">")
    return f"{head}{sign}{_HALO}{rest}"
