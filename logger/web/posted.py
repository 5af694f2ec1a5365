"""The body of a request, read no further than anybody types."""

from typing import TypeVar

from starlette.requests import Request

from logger.errors import DataError
from logger.intake import kinds
from logger.intake.bodies import Body

LONGEST_BODY = 64 * 1024  # bytes; what a person types is far shorter

B = TypeVar("B", bound=Body)


async def read(request: Request, kind: type[B]) -> B:
    """The request's JSON as a `kind`. Raises DataError that names every field to fix."""
    return kinds.parse(kind, await raw(request))


async def raw(request: Request) -> bytes:
    """The body as it came. Raises DataError where it is longer than anybody types."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > LONGEST_BODY:
            raise DataError(f"the body is longer than {LONGEST_BODY} bytes: shorten the text")
    return body
