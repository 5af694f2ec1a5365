"""Style sheets, scripts and the icon of the pages, read once and compared by their digest."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

_TYPES: Mapping[str, str] = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}
_SHARED = (("record", "curve.css"),)  # drawn alike on the page and in the record
_CHART = ("uPlot.js", "uPlot.css")  # of dashboards/chart, which the build fetches
NO_CHART = (
    "this program was built without its chart library: pages show the bench's own drawing of a "
    "curve, without zoom. Install it anew where npm, or its registry, can be reached"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticFile:
    """A file of the pages as it is sent."""

    content: bytes
    media_type: str
    etag: str


async def static(request: Request) -> Response:
    """GET /static/{name}: one of our files."""
    found = known_files().get(request.path_params["name"])
    if found is None:
        raise HTTPException(404, "the page has no such file")
    return answered(request, found)


def answered(request: Request, found: StaticFile) -> Response:
    """The file; 304 where the browser has it already."""
    # Without a version in their names a browser must ask: an update must reach an open tab.
    headers = {"etag": found.etag, "cache-control": "no-cache"}
    if found.etag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(found.content, media_type=found.media_type, headers=headers)


@cache
def known_files() -> dict[str, StaticFile]:
    """Every file that may be asked for, by name: nothing else on the disk can be reached."""
    dashboards = files("dashboards")
    entries = [*(dashboards / "bench" / "static").iterdir()]
    entries += [dashboards / folder / name for folder, name in _SHARED]
    entries += [dashboards / "chart" / name for name in _CHART if has_chart()]
    found: dict[str, StaticFile] = {}
    for entry in entries:
        media_type = _TYPES.get("." + entry.name.rpartition(".")[2])
        if media_type is not None:
            found[entry.name] = file_of(entry.read_bytes(), media_type)
    return found


def file_of(content: bytes, media_type: str) -> StaticFile:
    """The file of this content."""
    etag = f'"{hashlib.sha256(content).hexdigest()[:16]}"'
    return StaticFile(content=content, media_type=media_type, etag=etag)


def has_chart() -> bool:
    """Whether the chart library was there when the program was built."""
    return all((files("dashboards") / "chart" / name).is_file() for name in _CHART)
