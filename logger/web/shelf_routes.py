"""The JSON side of records; each kind has the same routes, made of the table of kinds."""

from collections.abc import Awaitable, Callable, Iterator

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from logger.errors import NotKnown
from logger.intake.shelf_bodies import SHELF, AddBody, RecordBody, RecordKind
from logger.intake.shelf_messages import SheetMessage, ShelfMessage, sheet_message, shelf_message
from logger.store.queries import open_read
from logger.web import posted
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.record_names import record_in_path
from logger.web.work import aside

Endpoint = Callable[[Request], Awaitable[Response]]


def shelf(bench: BenchService, kind: RecordKind) -> ShelfMessage:
    """All records of a kind; blocks."""
    with open_read(bench.data) as reader:
        return shelf_message(kind.name, reader.shelf(kind.name))


def sheet(bench: BenchService, kind: RecordKind, name: str) -> SheetMessage:
    """One record with its versions; blocks. Raises NotKnown where there is none."""
    with open_read(bench.data) as reader:
        versions = reader.record_versions(kind.name, name)
    if not versions:
        raise NotKnown(f"there is no {kind.name} {name} on the shelf")
    return sheet_message(versions, bench.settings.words, bench.now_s())


def _listing(kind: RecordKind) -> Endpoint:
    entering = _entering(kind.add)

    async def route(request: Request) -> Response:
        if request.method == "POST":
            return await entering(request)
        return JSONResponse(await aside(shelf, bench_of(request), kind))

    route.__doc__ = f"GET /api/{kind.plural}: the newest version of every {kind.name}."
    return route


def _showing(kind: RecordKind) -> Endpoint:
    async def route(request: Request) -> Response:
        name = request.path_params["id"]
        return JSONResponse(await aside(sheet, bench_of(request), kind, name))

    route.__doc__ = f"GET /api/{kind.plural}/{{id}}: one {kind.name}, with all its versions."
    return route


def _entering(kind: type[RecordBody]) -> Endpoint:
    async def route(request: Request) -> Response:
        body = await posted.read(request, kind)
        name = body.name if isinstance(body, AddBody) else request.path_params["id"]
        recorded = await bench_of(request).put_record(name, body)
        return JSONResponse(recorded, status_code=201 if recorded["new"] else 200)

    return route


def _routes(kind: RecordKind) -> Iterator[Route]:
    at = f"/api/{kind.plural}"
    named = f"{at}/{record_in_path('id')}"
    yield Route(at, _listing(kind), methods=["GET", "POST"])
    yield Route(named, _showing(kind))
    yield Route(f"{named}/change", _entering(kind.change), methods=["POST"])
    yield Route(f"{named}/withdraw", _entering(kind.withdraw), methods=["POST"])


ROUTES = tuple(route for kind in SHELF.values() for route in _routes(kind))
