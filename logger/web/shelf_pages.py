"""The shelf for people: a list, a sheet and a form of each kind, usable without scripts."""

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from logger.errors import NotKnown, WickbenchError
from logger.intake.refusals import refusal
from logger.intake.shelf_bodies import SHELF, AddBody, RecordBody, RecordKind, kind_of, record_of
from logger.intake.shelf_messages import again
from logger.sheet_fields import FieldForm, SheetField
from logger.shelf.versions import ShelfVersion, Written, unchanged_since
from logger.store.queries import open_read
from logger.web import form_bodies, posted
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.pages import HEADERS, page, problem_page
from logger.web.sheet_forms import FieldView, unit_of_field, written
from logger.web.work import aside
from logger.words import Words


async def shelf_page(request: Request) -> Response:
    """GET /shelf: the kinds, and how many of each there are."""
    bench = bench_of(request)
    found = await aside(_counts, bench)
    return page(bench, "shelf.html", kinds=found)


async def list_page(request: Request) -> Response:
    """GET /shelf/{plural}?again=&name=: all of a kind, and the form for one more.

    It may be filled from another, or begun with a name.
    """
    bench, kind = bench_of(request), _kind(request)
    name = request.query_params.get("again", "")
    records = await aside(_latest, bench, kind.name)
    like = next((one for one in records if one.name == name), None)
    fields = {} if like is None else again(like.fields, kind.name)
    form = await aside(_form, bench, kind, fields)
    return page(
        bench,
        "shelf_list.html",
        kind=kind,
        records=records,
        form=form,
        like=like,
        begun=request.query_params.get("name", "")[:100],
    )


async def sheet_page(request: Request) -> Response:
    """GET /shelf/{plural}/{name}: one record, its versions, and what can be done with it."""
    bench, kind, name = bench_of(request), _kind(request), request.path_params["name"]
    versions = await aside(_versions, bench, kind.name, name)
    if not versions:
        raise HTTPException(404, f"there is no {kind.name} {name} on the shelf")
    now = versions[-1]
    shown = [
        (
            one,
            now.fields[one.key],
            unchanged_since(versions, one.key) if one.form is FieldForm.CHECK else None,
        )
        for one in kind.fields
        if one.key in now.fields
    ]
    notes = [*record_of(now).notes(bench.settings.words, bench.now_s())]
    form = await aside(_form, bench, kind, now.fields)
    return page(
        bench,
        "shelf_sheet.html",
        kind=kind,
        record=now,
        versions=versions,
        shown=shown,
        notes=notes,
        form=form,
    )


async def add_record(request: Request) -> Response:
    """POST /shelf/{plural}: the form for one more."""
    return await _enter(request, _kind(request).add)


async def change_record(request: Request) -> Response:
    """POST /shelf/{plural}/{name}/change: what is empty now is cleared."""
    return await _enter(request, _kind(request).change)


async def withdraw_record(request: Request) -> Response:
    """POST /shelf/{plural}/{name}/withdraw."""
    return await _enter(request, _kind(request).withdraw)


async def _enter(request: Request, body: type[RecordBody]) -> Response:
    bench, kind = bench_of(request), _kind(request)
    try:
        pairs = form_bodies.pairs(await posted.raw(request))
        checked = _checked(body, _written(kind, pairs, bench.settings.words, body))
        name = checked.name if isinstance(checked, AddBody) else request.path_params["name"]
        recorded = await bench.put_record(name, checked)
    except WickbenchError as exc:
        return problem_page(bench, exc)
    where = f"/shelf/{kind.plural}/{quote(recorded['name'], safe='')}"
    return RedirectResponse(where, status_code=303, headers=HEADERS)


def _checked(kind: type[RecordBody], found: Mapping[str, Any]) -> RecordBody:
    try:
        return kind.model_validate(found)
    except ValidationError as exc:
        raise refusal(exc) from None


def _written(
    kind: RecordKind, pairs: Sequence[form_bodies.Pair], words: Words, body: type[RecordBody]
) -> dict[str, Any]:
    """The form as its body: a bare number gets the bench's unit, an empty field is cleared."""
    fields = {one.key for one in kind.fields}
    found: dict[str, Any] = {n: value.strip() for n, value in pairs if n not in fields}
    found |= (given := written(pairs, kind.fields, words))
    found.pop("waited_s", None)  # a record counts from when it is saved
    if "clear" in body.model_fields:
        found["clear"] = [one.key for one in kind.fields if one.key not in given]
    return found


def _form(bench: BenchService, kind: RecordKind, fields: Mapping[str, Written]) -> list[FieldView]:
    return [
        FieldView(
            field=one,
            unit=unit_of_field(one, bench.settings.words),
            values=(
                str(fields.get(one.key, "")).removesuffix(
                    f" {unit_of_field(one, bench.settings.words)}"
                ),
            ),
            options=one.choices or _names(bench, one, str(fields.get(one.key, ""))),
        )
        for one in kind.fields
    ]


def _names(bench: BenchService, one: SheetField, present: str) -> list[str]:
    """The records that a field may name: those on the shelf, and the one that it names."""
    if not one.refers_to:
        return []
    living = (other.name for other in _latest(bench, one.refers_to) if not other.withdrawn)
    return sorted({*living, *([present] if present else [])})


def _kind(request: Request) -> RecordKind:
    try:
        return kind_of(request.path_params["plural"])
    except NotKnown as exc:
        raise HTTPException(404, str(exc)) from None


def _latest(bench: BenchService, kind: str) -> list[ShelfVersion]:
    with open_read(bench.data) as reader:
        found = reader.shelf(kind)
    return sorted(found, key=lambda one: (one.withdrawn, one.name.casefold()))


def _versions(bench: BenchService, kind: str, name: str) -> list[ShelfVersion]:
    with open_read(bench.data) as reader:
        return reader.record_versions(kind, name)


def _counts(bench: BenchService) -> list[tuple[RecordKind, int]]:
    found = ((kind, _latest(bench, kind.name)) for kind in SHELF.values())
    return [(kind, sum(not one.withdrawn for one in records)) for kind, records in found]


ROUTES = (
    Route("/shelf", shelf_page),
    Route("/shelf/{plural}", list_page),
    Route("/shelf/{plural}", add_record, methods=["POST"]),
    Route("/shelf/{plural}/{name}", sheet_page),
    Route("/shelf/{plural}/{name}/change", change_record, methods=["POST"]),
    Route("/shelf/{plural}/{name}/withdraw", withdraw_record, methods=["POST"]),
)
