"""[pure] A document as a value: of the same blocks an HTML file and a PDF are made."""

from dataclasses import dataclass

from logger.decision.criteria import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Begins a part of the document; 1 is a whole trial, 2 a chapter, 3 a part of it."""

    text: str
    level: int = 2
    new_page: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Text, with words before it that stand out."""

    text: str
    big: str = ""  # a figure on a line of its own
    strong: str = ""
    faint: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FactList:
    """What is known, each with its name before it."""

    rows: tuple[tuple[str, str], ...]


EVEN = -1  # no column of a table is wider than it must be


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table; the column `widest` takes what the others leave."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    signs: tuple[str, ...] = ()  # drawings (SVG), one before each row
    widest: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list of lines."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """A drawing (SVG), and another for narrow screens."""

    svg: str
    narrow_svg: str = ""
    described: str  # for those who do not see it
    caption: str = ""
    share: int = 100  # percent of the width that it takes


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A photo (JPEG)."""

    jpeg: bytes
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictBlock:
    """How something was judged, with the reasons a line each."""

    outcome: Outcome
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Lines of a file as they stand there, folded on a screen."""

    title: str
    text: str


Block = Heading | Paragraph | FactList | Grid | Items | Sketch | Snapshot | VerdictBlock | Listing


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """All of it, with what stands above and below."""

    above: str  # what it is
    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    foot: str  # on every page
    card: bool = False  # on paper a quarter of the sheet
    checksum: str = ""  # of the data that it was made of (SHA-256)
    at_s: float  # up to when it knows; the date of the file, since no other may be in it
