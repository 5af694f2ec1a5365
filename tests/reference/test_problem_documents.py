"""Errors of the JSON side against RFC 9457 (Problem Details for HTTP APIs)."""

import json

import pytest
from starlette.exceptions import HTTPException
from starlette.requests import Request

from logger.errors import DataError, Doubted, Refused, StoreError, UsageError
from logger.web import error_pages
from logger.web.problem_documents import document, problem_of

# Section 3.1: members and their JSON types. `question` is an extension (3.2).
MEMBERS = {"type": str, "status": int, "title": str, "detail": str, "instance": str}
MEMBERS |= {"question": str}


PHRASES = {  # RFC 9110, sections 15.5.5, 15.5.6, 15.5.10, 15.5.14, 15.5.21, 15.6.1, 15.6.4
    404: "Not Found",
    405: "Method Not Allowed",
    409: "Conflict",
    413: "Content Too Large",
    422: "Unprocessable Content",
    500: "Internal Server Error",
    503: "Service Unavailable",
}


@pytest.mark.parametrize(
    ("fault", "status"),
    [
        (DataError('clock: "13" is none'), 422),
        (UsageError("a burn also needs --trial NAME"), 422),
        (Refused("jar-a is already lit"), 409),
        (Doubted("did you mean 98.7 °F?"), 409),
        (StoreError("taken, but not saved"), 503),
        (HTTPException(404, "there is no such burn"), 404),
        (HTTPException(405, headers={"allow": "POST"}), 405),
        (HTTPException(413, "longer than 1 MB"), 413),
        (RuntimeError("a path /home/ines and a password"), 500),
    ],
)
def test_a_problem_document_of_the_standard(fault, status):
    answer = document(problem_of(fault))
    found = json.loads(answer.body)
    assert answer.headers["content-type"] == "application/problem+json"  # section 3
    assert found["status"] == answer.status_code == status  # section 3.1.2: must be the same
    for name, value in found.items():
        assert isinstance(value, MEMBERS[name])
    # Section 3.1.1: left out, `type` means about:blank. Section 4.2.1: then the title should be the
    # recommended phrase of the status.
    assert "type" not in found
    assert found["title"] == PHRASES[status]
    assert found["detail"]


def test_detail_is_for_the_one_who_asked_and_betrays_nothing_of_the_inside():
    """Sections 3.1.4 and 5: it helps to correct the problem, and is no debugging aid."""
    inside = document(problem_of(RuntimeError("a path /home/ines and a password")))
    assert b"ines" not in inside.body
    said = problem_of(DataError('clock: "13" is none; 1 to 12'))
    assert said["detail"] == 'clock: "13" is none; 1 to 12'


async def test_a_method_that_is_not_allowed_says_which_are():
    """RFC 9110, section 15.5.6."""
    request = Request({"type": "http", "headers": []})
    answer = await error_pages.answer(request, HTTPException(405, headers={"allow": "POST"}))
    assert answer.headers["allow"] == "POST"
