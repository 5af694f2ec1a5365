"""A bare server: the same bytes through the same parts, with no bench behind them.

The page when it is asked for, and to each page every second as much stream as the bench sends.
"""

import asyncio
import sys
from collections.abc import AsyncIterator
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response, StreamingResponse
from starlette.routing import Route

RECORDED_S = 20.0  # as bench_page
# One stream that writes a number, and nothing else.
NUMBER = """<!doctype html><meta name="viewport" content="width=device-width"><p id="at"></p>
<script>
const stream = new EventSource("/api/live");
stream.addEventListener("shown", (event) => {
  document.getElementById("at").textContent = JSON.parse(event.data).as_of_s;
  document.dispatchEvent(new CustomEvent("news", { detail: { kind: "shown" } }));
});
</script>"""


def app(folder: Path) -> Starlette:
    """Serves the files `page` and `stream` of `folder`, the latter RECORDED_S long."""
    page, stream = ((folder / name).read_bytes() for name in ("page", "stream"))
    event = stream[: int(len(stream) / RECORDED_S)]

    async def seconds() -> AsyncIterator[bytes]:
        while True:
            yield event
            await asyncio.sleep(1.0)

    async def show(_: Request) -> Response:
        return HTMLResponse(page)

    async def live(_: Request) -> Response:
        return StreamingResponse(seconds(), media_type="text/event-stream")

    async def number(_: Request) -> Response:
        return HTMLResponse(NUMBER)

    small = Middleware(GZipMiddleware, minimum_size=800)
    return Starlette(
        routes=[
            Route("/", show, middleware=[small]),
            Route("/api/live", live),
            Route("/number", number),
        ]
    )


if __name__ == "__main__":
    uvicorn.run(app(Path(sys.argv[1])), port=int(sys.argv[2]), log_level="error")
