"""The description of the JSON side (OpenAPI 3.1.1), made of the routes and bodies it serves."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from logger.intake import bodies
from logger.intake.kinds import KINDS
from logger.web import answers, problem_documents

PREFIX = "/api/"

MOST_POINTS = 4000  # buckets of one series answer; a wide screen has fewer columns

Node = dict[str, Any]

_JSON = "application/json"
_REFERENCE = "#/components/schemas/{model}"

_SECURITY = {
    "bearer": {"type": "http", "scheme": "bearer"},
    "cookie": {"type": "apiKey", "in": "cookie", "name": "wickbench-{port}"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What a route says that answers to a GET."""

    what: type[BaseModel] | None = None
    media_type: str = _JSON
    query: Sequence[Node] = ()
    problems: Sequence[int] = ()


def _query(name: str, schema: Node, words: str, example: object, *, needed: bool = False) -> Node:
    return {
        "name": name,
        "in": "query",
        "required": needed,
        "description": words,
        "schema": schema,
        "example": example,
    }


_INSTANT = {"type": "string"}
_TOLD: Mapping[str, _Told] = {
    "/api/now": _Told(what=answers.Now),
    "/api/series": _Told(
        what=answers.SeriesAnswer,
        query=(
            _query("channel", {"type": "string"}, "its name", "jar-a-wall-3", needed=True),
            _query("from", _INSTANT, "RFC 3339 or Unix seconds; an hour before `to`", "1935651600"),
            _query("to", _INSTANT, "RFC 3339 or Unix seconds; now", "2031-05-04T10:00:00Z"),
            _query(
                "points",
                {"type": "integer", "minimum": 1, "maximum": MOST_POINTS, "default": 600},
                "buckets of time",
                600,
            ),
        ),
        problems=(422, 503),
    ),
    "/api/live": _Told(media_type="text/event-stream"),
    "/api/curve": _Told(
        media_type="image/svg+xml",
        query=(
            _query("station", {"type": "string"}, "its name", "jar-a", needed=True),
            _query(
                "width",
                {"type": "integer", "minimum": 0, "maximum": 99_999, "default": 360},
                "CSS pixels; the nearest width that is drawn",
                360,
            ),
        ),
        problems=(409, 422, 503),
    ),
    "/api/burns/{id}": _Told(what=answers.BurnAnswer, problems=(404, 422, 503)),
    "/api/trials/{id}/verdict": _Told(what=answers.TrialVerdict, problems=(404, 422, 503)),
    "/api/openapi.json": _Told(),
}

_SUBJECTS: Mapping[str, tuple[str, str]] = {
    "burns": ("of a burn", "jar-a-1935651600"),
    "readings": ("of a reading by hand, as it was sent", "0f9b2c71d4e8"),
    "entries": ("of an earlier entry, or as much of it as is unique", "0f9b2c"),
    "alarms": ("of an alarm, its slash written as %2F or as it is", "wall-limit/jar-a-wall-3"),
    "channels": ("the channel's name", "jar-a-wall-3"),
    "trials": ("the trial's name", "cedar-6"),
}

_PROBLEMS: Mapping[int, str] = {
    401: "no token, or not the one in force",
    403: "not asked at the bench's own address, or by a page of another",
    404: "there is no such thing",
    409: "contradicts what the bench knows; nothing was changed",
    422: "cannot be read; the detail says what to mend",
    429: "too many wrong tokens from this address",
    503: "could not be saved, or read from disk",
}


async def description(request: Request) -> Response:
    """GET /api/openapi.json: this description."""
    app = request.app
    if not hasattr(app.state, "description"):  # made once, when somebody asks
        app.state.description = json.dumps(document(app.routes, secured=app.state.secured))
    return Response(app.state.description, media_type=_JSON)


def document(routes: Sequence[BaseRoute], *, secured: bool) -> Node:
    """The description of all `routes` below /api/; `secured`: whether a token is asked for.

    Raises KeyError for a route that nothing is said of.
    """
    described = [one for one in routes if isinstance(one, Route) and one.path.startswith(PREFIX)]
    paths: Node = {}
    for route in described:
        for method in sorted((route.methods or set()) - {"HEAD"}):
            paths.setdefault(_path(route), {})[method.lower()] = _operation(route, method, secured)
    told = {one.what for one in _TOLD.values() if one.what is not None}
    models: list[type[BaseModel]] = [*KINDS.values(), *told]
    models += [answers.EnteredAnswer, answers.EnteredByHand, answers.Problem]
    models.sort(key=lambda model: model.__name__)
    _, schemas = models_json_schema(
        [(model, "validation") for model in models], ref_template=_REFERENCE
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
    return route.path.replace(":path}", "}")


def _operation(route: Route, method: str, secured: bool) -> Node:
    path = _path(route)
    always = (401, 403, 429) if secured else (403,)
    parameters = [_subject(path)] if "{id}" in path else []
    if method == "GET":
        told = _TOLD[path]
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
    kind = KINDS["lit" if path == "/api/burns" else path.rpartition("/")[2]]
    answer = _json(_answer(kind))
    return {
        "operationId": _name(path, "enter"),
        "summary": (kind.__doc__ or "").splitlines()[0].removesuffix("."),
        "parameters": parameters,
        "requestBody": {"required": True, "content": _json(kind)},
        "responses": {
            "201": {"description": "recorded", "content": answer},
            "200": {"description": "was recorded before, by the same id", "content": answer},
            **_problems(*always, 404, 409, 422, 503),
        },
    }


def _answer(kind: type[bodies.Body]) -> type[BaseModel]:
    return answers.EnteredByHand if kind is bodies.ReadingBody else answers.EnteredAnswer


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


def _content(told: _Told) -> Node:
    if told.what is not None:
        return _json(told.what)
    schema = {"type": "object"} if told.media_type == _JSON else {"type": "string"}
    return {told.media_type: {"schema": schema}}


def _json(model: type[BaseModel]) -> Node:
    return {_JSON: {"schema": {"$ref": _REFERENCE.format(model=model.__name__)}}}


def _problems(*statuses: int) -> Node:
    schema = {"$ref": _REFERENCE.format(model=answers.Problem.__name__)}
    return {
        str(status): {
            "description": _PROBLEMS[status],
            "content": {problem_documents.MEDIA_TYPE: {"schema": schema}},
        }
        for status in sorted(statuses)
    }
