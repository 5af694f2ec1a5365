"""Who may speak to the bench: pages and programs of its own address, beyond loopback by a token.

A page of another site that the maker has open could otherwise post to the bench (cross-site
request), or read it through a name that suddenly points here (DNS rebinding). Nobody comes
through a proxy: it would hide who asks.
"""

import socket
from collections.abc import Collection
from ipaddress import IPv6Address, ip_address
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from logger.web.locked_page import ENTRANCE, locked_page
from logger.web.problem_documents import document, problem
from logger.web.tokens import Token

FORWARDING_HEADERS = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")

_COOKIE_S = 180 * 86_400  # half a year: a phone on the wall is not asked again each month

_NEEDS_LINK = "open the link that `wickbench run` shows at its start, or scan its code"
_WRONG = f"that key is not, or no longer, the one of this bench: {_NEEDS_LINK}"

Own = tuple[str, int]  # host and port


class Access:
    """Answers only requests to the bench's own `names` at this very port, from no other origin.

    With a `token` only who shows it: as a cookie that the entrance sets, or as a bearer token
    (RFC 6750).
    """

    def __init__(
        self, app: ASGIApp, *, token: Token | None = None, names: Collection[str] = ()
    ) -> None:
        self._app = app
        self._token = token
        own = [*LOOPBACK_NAMES, *names, *([] if token is None else _own_names())]
        self._names = frozenset(_plain(name) for name in own)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI entry."""
        refusal = self._refusal(Request(scope)) if scope["type"] == "http" else None
        await (refusal or self._app)(scope, receive, send)

    def _refusal(self, request: Request) -> Response | None:
        """What to answer instead of the bench; None where it may answer itself."""
        foreign = self._foreign(request)
        if foreign is not None:
            return _refused(request, 403, foreign)
        return None if self._token is None else self._locked(request, self._token)

    def _foreign(self, request: Request) -> str | None:
        headers = request.headers
        if any(name in headers for name in FORWARDING_HEADERS):
            return "the bench answers no forwarded request: open its own address"
        asked = _parsed(f"http://{headers.get('host', '')}")
        if asked is None or not self._is_own(asked, request.scope["server"]):
            return "the bench answers only to its own address, the one `wickbench run` printed"
        origin = headers.get("origin")
        if origin is not None and _parsed(origin) != asked:
            return "the bench accepts nothing from pages of another origin"
        # A link in a mail or chat may lead to the entrance: the token in it is what counts.
        entering = self._token is not None and request.url.path == ENTRANCE
        if headers.get("sec-fetch-site") == "cross-site" and not entering:
            return "the bench accepts nothing from pages of another site"
        return None

    def _is_own(self, asked: Own, server: Own) -> bool:
        host, port = asked
        return port == server[1] and (host in self._names or host == _plain(server[0]))

    def _locked(self, request: Request, token: Token) -> Response | None:
        entering = request.url.path == ENTRANCE
        cookie = f"wickbench-{request.scope['server'][1]}"  # benches of one host share its cookies
        given = _given(request, cookie, entering=entering)
        if given is None:
            return _refused(request, 401, _NEEDS_LINK)
        if not token.fits(given):
            return _refused(request, 401, _WRONG)
        return _let_in(cookie, token) if entering else None


def _let_in(cookie: str, token: Token) -> Response:
    """To the page, so that the token stays in no address bar, history or bookmark."""
    headers = {"referrer-policy": "no-referrer", "cache-control": "no-store"}
    answer = RedirectResponse("/", status_code=303, headers=headers)
    answer.set_cookie(
        cookie, token.reveal(), max_age=_COOKIE_S, path="/", httponly=True, samesite="strict"
    )
    return answer


def _given(request: Request, cookie: str, *, entering: bool) -> str | None:
    if entering and "token" in request.query_params:
        return request.query_params["token"].strip()  # it may have been pasted
    scheme, _, credentials = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        return credentials.strip()
    return request.cookies.get(cookie)


def _refused(request: Request, status: int, detail: str) -> Response:
    headers = {"cache-control": "no-store"}
    if status == 401:
        headers["www-authenticate"] = 'Bearer realm="wickbench"'  # RFC 9110 section 11.6.1
    if "text/html" in request.headers.get("accept", ""):
        answer: Response = locked_page(status, detail)
    else:
        answer = document(problem(status, detail))
    answer.headers.update(headers)
    return answer


def _parsed(url: str) -> Own | None:
    """Host and port of an origin (RFC 6454 section 6.2); None where it is none or not http."""
    try:
        parts = urlsplit(url)
        port = 80 if parts.port is None else parts.port
    except ValueError:
        return None
    plain = parts.scheme == "http" and "@" not in parts.netloc
    if not plain or parts.hostname is None or parts.path or parts.query or parts.fragment:
        return None
    return _plain(parts.hostname), port


def _plain(host: str) -> str:
    """A host as it is compared: an address without its zone and in one spelling, a name lower."""
    try:
        address = ip_address(host.partition("%")[0])
    except ValueError:
        return host.lower().removesuffix(".")
    mapped = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    return str(mapped or address)


def _own_names() -> list[str]:
    """What this machine is called on a network; its addresses are known by the connection."""
    name = socket.gethostname()
    short = name.partition(".")[0]
    return [name, short, f"{short}.local"]  # .local: multicast DNS (RFC 6762)
