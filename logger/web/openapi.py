"""The description of the JSON side (OpenAPI 3.1.1), made of the routes and bodies it serves."""

import json
import re
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import get_args, get_type_hints

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core.core_schema import TypedDictSchema
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route
from typing_extensions import Doc

from logger.intake import bodies
from logger.intake.entered import EnteredByHandMessage, EnteredMessage
from logger.intake.kinds import KINDS
from logger.intake.photo_bodies import PhotoBody
from logger.intake.shelf_bodies import SHELF, RecordBody
from logger.intake.shelf_messages import RecordedMessage
from logger.web import problem_documents
from logger.web.openapi_answers import ANSWERS, JSON, Node, RouteAnswer
from logger.web.problem_documents import ProblemMessage

PREFIX = "/api/"

_REFERENCE = "#/components/schemas/{model}"

_SECURITY = {
    "bearer": {"type": "http", "scheme": "bearer"},
    "cookie": {"type": "apiKey", "in": "cookie", "name": "wickbench-{port}"},
}

_SUBJECTS: Mapping[str, tuple[str, str]] = {
    "burns": ("of a burn, or the number that people type for it", "12"),
    "readings": ("of a reading by hand, as it was sent", "0f9b2c71d4e8"),
    "entries": ("of an earlier entry, or as much of it as is unique", "0f9b2c"),
    "alarms": ("of an alarm, its slash written as %2F or as it is", "wall-limit/jar-a-wall-3"),
    "channels": ("the channel's name", "jar-a-wall-3"),
    **{kind.plural: (f"the {kind.name}'s name", "cedar-6") for kind in SHELF.values()},
}

_PROBLEMS: Mapping[int, str] = {
    401: "no token, or not the one in force",
    403: "not asked at the bench's own address, or by a page of another",
    404: "there is no such thing",
    409: "contradicts what the bench knows; nothing was changed",
    422: "cannot be read; the detail says what to fix",
    503: "could not be saved, or read from disk",
}


class _Messages(GenerateJsonSchema):
    """Of messages: nothing is said but what is described, in the words beside each member."""

    def typed_dict_schema(self, schema: TypedDictSchema) -> JsonSchemaValue:
        """Of one message."""
        found = super().typed_dict_schema(schema)
        for name, hint in get_type_hints(schema["cls"], include_extras=True).items():
            for doc in (one for one in get_args(hint)[1:] if isinstance(one, Doc)):
                found["properties"][name]["description"] = doc.documentation
        return {**found, "additionalProperties": False}


async def description(request: Request) -> Response:
    """GET /api/openapi.json: this description."""
    app = request.app
    if not hasattr(app.state, "description"):  # made once, when somebody asks
        app.state.description = json.dumps(document(app.routes, secured=app.state.secured))
    return Response(app.state.description, media_type=JSON)


def document(routes: Sequence[BaseRoute], *, secured: bool) -> Node:
    """The description of all `routes` below /api/; `secured`: whether a token is asked for.

    Raises KeyError for a route that nothing is said of.
    """
    described = [one for one in routes if isinstance(one, Route) and one.path.startswith(PREFIX)]
    paths: Node = {}
    for route in described:
        for method in sorted((route.methods or set()) - {"HEAD"}):
            paths.setdefault(_path(route), {})[method.lower()] = _operation(route, method, secured)
    told = {one.what for one in ANSWERS.values() if one.what is not None}
    kept = (body for kind in SHELF.values() for body in (kind.add, kind.change, kind.withdraw))
    answers = {EnteredMessage, EnteredByHandMessage, RecordedMessage, ProblemMessage}
    shapes = {*KINDS.values(), PhotoBody, *kept, *told, *answers}
    _, schemas = TypeAdapter.json_schemas(
        [
            (shape, "validation", TypeAdapter(shape))
            for shape in sorted(shapes, key=lambda shape: shape.__name__)
        ],
        ref_template=_REFERENCE,
        schema_generator=_Messages,
    )
    return {
        "openapi": "3.1.1",
        "info": {
            "title": "wickbench",
            "version": version("wickbench"),
            "description": "One bench: what it measures, and what people enter. Times are RFC 3339 "
            'in UTC; quantities are text with their unit ("60 mm"); a number that is not finite '
            "is refused.",
        },
        "paths": paths,
        "components": {
            "schemas": schemas["$defs"],
            **({"securitySchemes": _SECURITY} if secured else {}),
        },
        **({"security": [{name: []} for name in _SECURITY]} if secured else {}),
    }


def _path(route: Route) -> str:
    return re.sub(r":\w+}", "}", route.path)


def _operation(route: Route, method: str, secured: bool) -> Node:
    path = _path(route)
    always = (401, 403) if secured else (403,)
    parameters = [_subject(path)] if "{id}" in path else []
    if method == "GET":
        told = ANSWERS[path]
        words = (route.endpoint.__doc__ or "").splitlines()[0].partition(": ")[2]
        return {
            "operationId": _name(path, "get"),
            "summary": words[:1].upper() + words[1:].removesuffix("."),
            "parameters": [*parameters, *told.query],
            "responses": {
                "200": {"description": "so it is", "content": _content(told)},
                **_problems(*always, *told.problems),
            },
        }
    kind = _body(path)
    answer = _json(_answer(kind))
    return {
        "operationId": _name(path, "enter"),
        "summary": (kind.__doc__ or "").splitlines()[0].removesuffix("."),
        "parameters": parameters,
        "requestBody": {"required": True, "content": _sent(kind)},
        "responses": {
            "201": {"description": "recorded", "content": answer},
            "200": {"description": "was recorded before, by the same id", "content": answer},
            **_problems(*always, 404, 409, 422, 503),
        },
    }


def _sent(kind: type[bodies.Body] | type[RecordBody]) -> Node:
    if not issubclass(kind, PhotoBody):
        return _json(kind)
    picture = {"type": "object", "properties": {"photo": {"type": "string", "format": "binary"}}}
    fields = _json(kind)[JSON]["schema"]
    return {"multipart/form-data": {"schema": {"allOf": [fields, picture]}}}


def _body(path: str) -> type[bodies.Body] | type[RecordBody]:
    steps = path.removeprefix(PREFIX).split("/")
    first, last = steps[0], steps[-1]
    record = next((one for one in SHELF.values() if one.plural == first), None)
    if record is not None:
        return {"change": record.change, "withdraw": record.withdraw}.get(last, record.add)
    if last == "photos":
        return PhotoBody
    return KINDS["lit" if path == "/api/burns" else last]


def _answer(kind: type[bodies.Body] | type[RecordBody]) -> type:
    if issubclass(kind, RecordBody):
        return RecordedMessage
    return EnteredByHandMessage if kind is bodies.ReadingBody else EnteredMessage


def _name(path: str, verb: str) -> str:
    steps = path.removeprefix(PREFIX).replace("{id}", "one").replace(".", "-").split("/")
    return "-".join((verb, *steps))


def _subject(path: str) -> Node:
    words, example = _SUBJECTS[path.split("/")[2]]
    return {
        "name": "id",
        "in": "path",
        "required": True,
        "description": words,
        "schema": {"type": "string", "minLength": 1},
        "example": example,
    }


def _content(told: RouteAnswer) -> Node:
    if told.what is not None:
        return _json(told.what)
    schema = {"type": "object"} if told.media_type == JSON else {"type": "string"}
    return {told.media_type: {"schema": schema}}


def _json(model: type) -> Node:
    return {JSON: {"schema": {"$ref": _REFERENCE.format(model=model.__name__)}}}


def _problems(*statuses: int) -> Node:
    schema = {"$ref": _REFERENCE.format(model=ProblemMessage.__name__)}
    return {
        str(status): {
            "description": _PROBLEMS[status],
            "content": {problem_documents.MEDIA_TYPE: {"schema": schema}},
        }
        for status in sorted(statuses)
    }
