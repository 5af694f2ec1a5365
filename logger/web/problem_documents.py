"""Errors as problem documents (RFC 9457): what is wrong and what to fix."""

from http import HTTPStatus
from typing import Annotated, NotRequired

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from typing_extensions import Doc, TypedDict

from logger.errors import (
    HOW_TO_KEEP_IT,
    DataError,
    Doubted,
    NotKnown,
    Refused,
    StoreError,
    UsageError,
)

MEDIA_TYPE = "application/problem+json"  # RFC 9457 section 3


_TITLES = {413: "Content Too Large", 422: "Unprocessable Content"}
"""Where Python before 3.13 has older ones. Source: RFC 9110, 15.5.14 and 15.5.21."""


class ProblemMessage(TypedDict):
    """What is wrong and what to fix (RFC 9457); `type` is left out, for about:blank."""

    title: Annotated[str, Doc("the status in words")]
    status: int
    detail: Annotated[str, Doc("one line for the person who asked")]
    question: Annotated[
        NotRequired[str], Doc("where the entry is only improbable: its yes is `sure`")
    ]


def problem(status: int, detail: str, question: str = "") -> ProblemMessage:
    """A problem without `type`: about:blank, whose title is that of the status.

    Source: RFC 9457, sections 3.1.1 and 4.2.1.
    """
    title = _TITLES.get(status) or HTTPStatus(status).phrase
    message: ProblemMessage = {"title": title, "status": status, "detail": detail}
    if question:
        message["question"] = question
    return message


def problem_of(exc: Exception) -> ProblemMessage:
    """What an exception that a route raised means for the one who asked."""
    match exc:
        case NotKnown():
            return problem(404, str(exc))
        case DataError() | UsageError():
            return problem(422, str(exc))
        case Doubted():
            return problem(409, f"{exc} {HOW_TO_KEEP_IT}", question=str(exc))
        case Refused():
            return problem(409, str(exc))
        case StoreError():
            return problem(503, str(exc))
        case HTTPException():
            return problem(exc.status_code, str(exc.detail))
        case _:
            return problem(500, "a fault of this program: see the service's log")


def document(told: ProblemMessage) -> Response:
    """The problem as JSON."""
    return JSONResponse(told, status_code=told["status"], media_type=MEDIA_TYPE)
