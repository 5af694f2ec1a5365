"""Errors as problem documents (RFC 9457): what is wrong and what to mend."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from logger.errors import DataError, Refused, StoreError, UsageError

MEDIA_TYPE = "application/problem+json"  # RFC 9457 section 3


def problem(status: int, title: str, detail: str, **members: object) -> Response:
    """A problem document; `type` is left out, which means about:blank (RFC 9457 section 4.2.1)."""
    body = {"title": title, "status": status, "detail": detail, **members}
    return JSONResponse(body, status_code=status, media_type=MEDIA_TYPE)


async def answer(_request: Request, exc: Exception) -> Response:
    """The problem document of an exception that a route raised."""
    match exc:
        case DataError() | UsageError():
            return problem(422, "Cannot be read", str(exc))
        case Refused():
            return problem(409, "Contradicts the bench", str(exc))
        case StoreError():
            return problem(503, "Not saved", str(exc))
        case HTTPException():
            found = problem(exc.status_code, "Not possible", str(exc.detail))
            found.headers.update(exc.headers or {})  # which methods are allowed, say
            return found
        case _:
            return problem(
                500, "A fault of this program", "see the service's log; nothing was lost"
            )
