"""Headers that every answer carries unless its route says something stricter or fitting."""

from collections.abc import Mapping

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

STRICT: Mapping[str, str] = {
    "content-security-policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class StrictHeaders:
    """Wraps the whole application: answers to its own faults come from outside its middleware."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI entry."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(raw=list(message["headers"]))
                for name, value in STRICT.items():
                    headers.setdefault(name, value)
                message = {**message, "headers": headers.raw}
            await send(message)

        await self._app(scope, receive, send_with_headers)
