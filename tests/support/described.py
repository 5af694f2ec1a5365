"""What the bench says, held against its own description (JSON Schema 2020-12, of OpenAPI 3.1)."""

import json
from functools import cache

import jsonschema_rs

from logger.web import (
    api,
    burn_pages,
    compare_pages,
    curve_routes,
    openapi,
    pages,
    photo_routes,
    plan_pages,
    shelf_routes,
)

ROUTES = (
    *photo_routes.ROUTES,
    *pages.ROUTES,
    *burn_pages.ROUTES,
    *curve_routes.ROUTES,
    *compare_pages.ROUTES,
    *api.ROUTES,
    *shelf_routes.ROUTES,
    *plan_pages.ROUTES,
)


@cache
def _description():
    return openapi.document(ROUTES, secured=False)


def as_described(message, name: str) -> None:
    """Raise where `message`, as it goes over the wire, is not what the schema `name` says."""
    _validator(name).validate(json.loads(json.dumps(message)))


@cache
def _validator(name: str):
    schema = {"$ref": f"#/components/schemas/{name}", "components": _description()["components"]}
    return jsonschema_rs.validator_for(schema)
