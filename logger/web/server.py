"""uvicorn inside the service's own task group: it takes no signals and stops with open streams."""

import socket
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from starlette.types import ASGIApp

from logger.errors import WickbenchError
from logger.settings import WebSettings

STOP_S = 2  # open streams get so long to end

DEFAULT = WebSettings(host="127.0.0.1", port=0)  # commands need a way in, also without a page


class _Server(uvicorn.Server):
    """Leaves the process's signals to the service, whose own stop writes the record to its end."""

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
    try:
        bound.bind((settings.host, settings.port))
    except OSError as exc:
        bound.close()
        raise WickbenchError(
            f"[web] listen: {settings.host}:{settings.port} cannot be taken ({exc.strerror}): "
            "stop what uses it or choose another port"
        ) from exc
    return bound


def url_of(bound: socket.socket) -> str:
    """The page's address."""
    host, port = bound.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def server(app: ASGIApp, *, access_log: bool = False) -> uvicorn.Server:
    """A server for `app`; `serve(sockets=[...])` runs it until `should_exit`."""
    config = uvicorn.Config(
        app,
        lifespan="off",
        log_config=None,
        access_log=access_log,
        timeout_graceful_shutdown=STOP_S,
        server_header=False,
        proxy_headers=False,
    )
    return _Server(config)
