"""Photos: taken over from a form or a program, and shown."""

from collections.abc import AsyncGenerator
from dataclasses import replace

from pydantic import ValidationError
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from logger.errors import DataError, Refused, WickbenchError
from logger.intake.entered import Entered
from logger.intake.photo_bodies import MOST_BYTES, PhotoBody, re_encoded, taken_s
from logger.intake.refusals import refusal
from logger.store import photos
from logger.store.opening import FILE_NAME
from logger.web import form_bodies, views
from logger.web.api import answer, bench_of
from logger.web.pages import HEADERS, path_of, problem_page
from logger.web.work import aside

_MOST_SENT = MOST_BYTES + 2**20  # with the fields beside it


class _InMemory(MultiPartParser):
    spool_max_size = _MOST_SENT  # a photo with its place in it is never written as it came


async def photo(request: Request) -> Response:
    """GET /photos/{name}: a photo as it is kept."""
    jpeg = await aside(photos.load, bench_of(request).data / FILE_NAME, request.path_params["name"])
    headers = {"cache-control": "private, max-age=31536000, immutable"}  # its name is its content
    return Response(jpeg, media_type="image/jpeg", headers=HEADERS | headers)


async def add_photo(request: Request) -> Response:
    """POST /api/burns/{id}/photos: a photo was taken."""
    return answer(await _entered(request, request.path_params["id"]))


async def add_photo_at_station(request: Request) -> Response:
    """POST /stations/{station}/photos: a form; back to the page once it is recorded."""
    bench, name = bench_of(request), request.path_params["station"]
    try:
        status = bench.hub.statuses.get(name)
        if status is None or status.burn is None:
            raise Refused(f"{name} has no burn yet: record the lighting first")
        await _entered(request, status.burn)
    except WickbenchError as exc:
        return problem_page(bench, exc)
    return RedirectResponse(path_of(bench, name), status_code=303, headers=HEADERS)


async def _entered(request: Request, burn: str) -> Entered:
    bench = bench_of(request)
    raw, fields = await _posted(request)
    status = views.status_of(bench, burn)
    if status is None or fields.pop("burn", burn) != burn:
        raise Refused(f"{burn} is not the latest burn of any station: reload and look again")
    now_s = bench.now_s()
    tapped_s = form_bodies.tapped_s(fields, now_s)
    try:
        body = PhotoBody.model_validate(fields)
    except ValidationError as exc:
        raise refusal(exc) from None
    jpeg = await aside(re_encoded, raw)
    name = await aside(photos.keep, bench.data, jpeg)
    entry = body.of(name, tapped_s, status.station, await aside(taken_s, raw))
    return await bench.enter(replace(entry, entered_s=now_s))


async def _posted(request: Request) -> tuple[bytes, dict[str, str]]:
    """The picture and the fields beside it. Raises DataError."""
    if not request.headers.get("content-type", "").startswith("multipart/form-data"):
        raise DataError("photo: send the picture as a file, in multipart/form-data")
    try:
        parser = _InMemory(request.headers, _bounded(request), max_files=1, max_fields=10)
        form = await parser.parse()
    except (MultiPartException, KeyError) as exc:
        raise DataError(f"the form cannot be read: {exc}") from None
    try:
        file = form.get("photo")
        if not isinstance(file, UploadFile) or not file.size:
            raise DataError("photo: choose a picture, or take one")
        fields = {k: str(v) for k, v in form.items() if k != "photo" and str(v).strip()}
        return await file.read(), fields
    finally:
        await form.close()


async def _bounded(request: Request) -> AsyncGenerator[bytes, None]:
    came = 0
    async for chunk in request.stream():
        came += len(chunk)
        if came > _MOST_SENT:
            raise DataError(f"photo: larger than {MOST_BYTES // 2**20} MB; send a smaller one")
        yield chunk


ROUTES = (
    Route("/photos/{name}", photo),
    Route("/api/burns/{id}/photos", add_photo, methods=["POST"]),
    Route("/stations/{station}/photos", add_photo_at_station, methods=["POST"]),
)
