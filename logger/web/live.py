"""Server-sent events: what the pipeline says, as it says it (HTML standard, section 9.2)."""

import asyncio
import json
import time
from collections.abc import Callable, Mapping

from starlette.types import Receive, Scope, Send

from logger import messages
from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import Announcement
from logger.burn.forecast import Forecast
from logger.burn.model import BurnEvent, BurnStatus
from logger.hub import Follower, Hub
from logger.pipeline import Output
from logger.quantities import Channel, Estimate

FIGURES_S = 0.5  # figures and time at most so often: a demonstration lets minutes pass in one
BEAT_S = 2.0  # ... and a beat at least so often: the page tells OFFLINE from calm by it


class LiveEvents:
    """The response to every page that follows the bench: events until either side ends.

    They are estimate, forecast, alarm, burn and status as the pipeline says them; `shown` with the
    figures as the pages write them, once they have changed; and `beat` with the time of the bench,
    which stops where the bench is frozen.
    """

    def __init__(
        self, hub: Hub, channel_of: Callable[[str], Channel], figures: Callable[[], str]
    ) -> None:
        self._hub = hub
        self._channel_of = channel_of
        self._figures = figures
        self._latest: tuple[list[Output | Announcement], str] = [], ""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI entry."""
        headers = [(b"content-type", b"text/event-stream"), (b"cache-control", b"no-store")]
        with self._hub.follow() as follower:
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            gone = asyncio.create_task(_gone(receive, follower))
            try:
                await self._tell(follower, send)
            finally:
                gone.cancel()

    async def _tell(self, follower: Follower, send: Send) -> None:
        text, shown, next_s = "", "", 0.0
        while not follower.closed:
            now_s = time.monotonic()
            if now_s >= next_s:
                next_s = now_s + FIGURES_S
                text = self._beat() + text
                if (latest := self._figures()) != shown:
                    text += f"event: shown\ndata: {latest}\n\n"
                    shown = latest
            body = (text or self._beat()).encode()
            await send({"type": "http.response.body", "body": body, "more_body": True})
            text = self._news(await follower.next(BEAT_S))
        await send({"type": "http.response.body", "body": b"", "more_body": False})

    def _news(self, outputs: list[Output | Announcement]) -> str:
        """The events of `outputs`, written once for all pages that are handed the same."""
        if outputs != self._latest[0]:  # the same objects are equal at a glance
            named = [pair for output in outputs if (pair := self._message(output)) is not None]
            self._latest = outputs, "".join(_event(*pair) for pair in named)
        return self._latest[1]

    def _beat(self) -> str:
        return _event("beat", {"time_s": self._hub.now_s})

    def _message(self, output: Output | Announcement) -> tuple[str, Mapping[str, object]] | None:
        match output:
            case Estimate():
                channel = self._channel_of(output.channel)
                return "estimate", messages.estimate(output, channel)
            case AlarmEvent():
                return "alarm", messages.alarm_event(output)
            case Forecast():
                return "forecast", messages.forecast(output)
            case BurnEvent():
                return "burn", messages.burn_event(output)
            case BurnStatus():
                return "status", messages.burn_status(output)
            case _:
                return None


async def _gone(receive: Receive, follower: Follower) -> None:
    """Wait until the browser has left."""
    while (await receive())["type"] != "http.disconnect":
        pass
    follower.close()


def _event(name: str, content: Mapping[str, object]) -> str:
    """One event of the stream; JSON holds no line end, so one data line is enough."""
    return f"event: {name}\ndata: {json.dumps(content, separators=(',', ':'))}\n\n"
