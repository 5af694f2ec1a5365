"""Who may speak to the bench: this machine's own browser and programs, nobody through a proxy.

A page of another site that the maker has open could otherwise post to the bench (cross-site
request), or read it through a name that suddenly points here (DNS rebinding).
"""

from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from logger.web.problems import problem

FORWARDING_HEADERS = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")


class LocalOnly:
    """Answers only requests addressed to `names` at this very port, from no other origin."""

    def __init__(self, app: ASGIApp, names: Collection[str] = LOOPBACK_NAMES) -> None:
        self._app = app
        self._names = frozenset(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI entry."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(Headers(scope=scope), scope["server"][1])
        if refusal is not None:
            await problem(403, "Not from here", refusal)(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _refusal(self, headers: Headers, port: int) -> str | None:
        if any(name in headers for name in FORWARDING_HEADERS):
            return "the bench answers no forwarded request: open its own address on this machine"
        if not self._is_own(f"http://{headers.get('host', '')}", port):
            return "the bench answers only to its own address, the one `wickbench run` printed"
        origin = headers.get("origin")
        if origin is not None and not self._is_own(origin, port):
            return "the bench takes nothing from pages of another origin"
        if headers.get("sec-fetch-site") == "cross-site":
            return "the bench takes nothing from pages of another site"
        return None

    def _is_own(self, url: str, port: int) -> bool:
        parts = urlsplit(url)
        try:
            asked = 80 if parts.port is None else parts.port
        except ValueError:
            return False
        return parts.scheme == "http" and parts.hostname in self._names and asked == port
