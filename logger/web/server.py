"""uvicorn inside the service's own task group: it takes no signals and stops with open streams."""

import asyncio
import socket
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import partial
from ipaddress import IPv6Address, ip_address
from typing import cast

import uvicorn
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.settings import WebSettings
from logger.web.connections import BACKLOG, MOST_AT_ONCE, Connection, WaitingRoom

STOP_S = 2  # open streams get so long to end
DATE_S = 1.0  # how often the date in the answers' headers is made: it has seconds

DEFAULT = WebSettings(listen="127.0.0.1:0")  # commands need a way in, also without a page


class Server(uvicorn.Server):
    """Leaves the process's signals to the service, whose own stop writes the record to its end."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self._stopping = asyncio.Event()

    def stop(self) -> None:
        """Have `serve` end."""
        self.should_exit = True
        self._stopping.set()

    async def main_loop(self) -> None:
        """Wait for `stop`: uvicorn would wake an idle bench ten times a second to look."""
        while not await self.on_tick(0):
            with suppress(TimeoutError):
                async with asyncio.timeout(DATE_S):
                    await self._stopping.wait()

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Do nothing: uvicorn would raise the signal again after its stop and end the process."""
        yield


def listen(settings: WebSettings) -> socket.socket:
    """A bound socket, so that the address is known and taken before anything burns.

    Raises WickbenchError where the address cannot be taken.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if family is socket.AF_INET6:
        bound.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)  # [::] is IPv4's any as well
    try:
        bound.bind((settings.host, settings.port))
    except (OSError, TypeError) as exc:  # TypeError: a name that cannot be put into IDNA
        bound.close()
        why = exc.strerror if isinstance(exc, OSError) else "no host name"
        raise WickbenchError(
            f"[web] listen: {settings.host}:{settings.port} cannot be taken ({why}): "
            "stop what uses it or choose another port or address"
        ) from exc
    return bound


def is_local(bound: socket.socket) -> bool:
    """Whether only programs of this machine reach it; whoever else may needs a token."""
    address = ip_address(bound.getsockname()[0].partition("%")[0])
    mapped = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    return (mapped or address).is_loopback


def url_of(bound: socket.socket) -> str:
    """The address at which this machine reaches it."""
    host, port = bound.getsockname()[:2]
    return _url({"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host), port)  # noqa: S104 - compared


def url_for_others(bound: socket.socket) -> str:
    """The address at which others of its network reach it, as far as it is known."""
    host, port = bound.getsockname()[:2]
    if ip_address(host.partition("%")[0]).is_unspecified:
        host = _outward() or socket.gethostname()
    return _url(host, port)


def _outward() -> str | None:
    """This machine's address towards others; None where it has no network."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # for documentation (RFC 5737): UDP, nothing is sent
        except OSError:
            return None
        host: str = probe.getsockname()[0]
        return host


def _url(host: str, port: int) -> str:
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def server(app: ASGIApp) -> Server:
    """A server for `app`; `serve(sockets=[...])` runs it until `stop`."""
    config = uvicorn.Config(
        app,
        http=cast("type[asyncio.Protocol]", partial(Connection, room=WaitingRoom())),
        limit_concurrency=MOST_AT_ONCE,
        backlog=BACKLOG,
        lifespan="off",
        log_config=None,
        log_level="warning",  # that it starts and stops is said in words of ours
        ws="none",  # there are none, and a refused one would be logged with the token in its query
        access_log=False,
        timeout_graceful_shutdown=STOP_S,
        server_header=False,
        proxy_headers=False,
    )
    return Server(config)
