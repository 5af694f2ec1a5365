"""A whole service with its page on a free port; bench time stands where the test puts it."""

import asyncio
import json
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import httpx
import numpy  # noqa: F401 - else pytest.approx meets one that the bench is half way into

from logger import settings
from logger.clock import RealClock, SteppedClock
from logger.quantities import Reading
from logger.service.run import run
from tests.support.settings_text import TWO_CHANNELS
from tests.support.waiting import patient, within

START_S = 1_935_651_600.0  # 2031-05-04T09:00:00Z

ONE_STATION = (
    """
[bench]
name = "test-bench"
data = "{folder}/data"

[limits.glass]
wall_alert = "55 degC"
wall_limit = "60 degC"

[[station]]
name = "jar-a"
material = "glass"

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/not-plugged-in"
"""
    + TWO_CHANNELS
)
WALL = "jar-a-wall-3"

SIXTY_FOUR = ONE_STATION.replace(  # channels: 62 more places on the one jar
    "\n[web]",
    "".join(
        f"""
[[instrument.channel]]
name = "jar-a-wall-{n}-mm"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "{n} mm"
field = {n}
unit = "degC"
kind = "contact"
"""
        for n in range(62, 124)
    )
    + "\n[web]",
)


LIT = {
    "station": "jar-a",
    "trial": "cedar-6",
    "checks": ["tray", "clear", "vessel", "room", "lid", "watcher"],
}


def client_of(url: str) -> httpx.AsyncClient:
    """A client of the page. It is http: reading the world's certificates would cost 35 ms."""
    return httpx.AsyncClient(base_url=url, timeout=patient(10), verify=False)


class WebBench:
    """The service, a client that speaks to it, and its clock."""

    def __init__(self, service, clock: SteppedClock, client: httpx.AsyncClient) -> None:
        self.service = service
        self.clock = clock
        self.client = client
        self._ids = 0

    @property
    def port(self) -> int:
        return int(self.service.url.rpartition(":")[2])

    async def seconds(
        self, count: int, wall: float | None = None, room: float | None = None
    ) -> None:
        """Let seconds pass, with readings in each of what has a value."""
        for _ in range(count):
            now_s = self.clock.now_s()
            for channel, value in ((WALL, wall), ("room", room)):
                if value is not None:
                    self.service.engine.put(Reading(channel=channel, value=value, at_s=now_s))
            await self.clock.advance(1.0)

    async def post(self, path: str, **body):
        self._ids += 1
        return await self.client.post(path, json={"id": f"test-{self._ids:08d}", **body})

    async def light(self, **body) -> str:
        """The id of a burn just lit."""
        answer = await self.post("/api/burns", **(LIT | body))
        assert answer.status_code == 201, answer.text
        return answer.json()["burn"]

    async def now(self):
        return (await self.client.get("/api/now")).json()


class Board:
    """A system clock that can be set; time itself goes on evenly."""

    def __init__(self, start_s: float = START_S) -> None:
        self.wall_ns = int(start_s * 1e9)
        self.steady_ns = 0

    def suspend(self, length_s: float) -> None:
        """Time passes and nothing runs."""
        self.wall_ns += int(length_s * 1e9)
        self.steady_ns += int(length_s * 1e9)

    def clock(self) -> RealClock:
        clock = RealClock(wall_ns=lambda: self.wall_ns, steady_ns=lambda: self.steady_ns)

        async def advance(dt_s: float) -> None:
            for _ in range(int(dt_s)):
                self.wall_ns += 10**9
                self.steady_ns += 10**9
                await asyncio.sleep(0.03)

        clock.advance = advance
        return clock


@asynccontextmanager
async def serving(folder: Path, configuration: str = ONE_STATION, clock=None):
    """A bench whose time begins at START_S and stands still, or with a clock of the test's own."""
    path = folder / "bench.toml"
    path.write_text(configuration.replace("{folder}", str(folder)))
    clock = clock or SteppedClock(START_S)
    ready, over = asyncio.get_running_loop().create_future(), asyncio.Event()

    async def body(service) -> None:
        ready.set_result(service)
        await over.wait()

    task = asyncio.create_task(run(settings.load(path), clock, body))
    try:
        await asyncio.wait({task, ready}, return_when=asyncio.FIRST_COMPLETED, timeout=patient(10))
        if task.done():
            task.result()
        service = await ready
        async with client_of(service.url) as client:
            yield WebBench(service, clock, client)
    finally:
        over.set()
        await asyncio.wait({task}, timeout=patient(10))
        if not ready.done():
            ready.cancel()
        task.result()


class Stream:
    """Events of /api/live as they come."""

    def __init__(self, response: httpx.Response) -> None:
        self._lines = response.aiter_lines()
        self.ended = False

    async def next(self):
        """The next event's name and content; None when the stream has ended."""
        name = None
        async with within(10):
            with suppress(StopAsyncIteration):
                while True:
                    line = await anext(self._lines)
                    if line.startswith("event: "):
                        name = line[7:]
                    elif line.startswith("data: "):
                        return name, json.loads(line[6:])
        self.ended = True
        return None

    async def until(self, name: str, **members):
        """The content of the next event of that name with these members."""
        while (event := await self.next()) is not None:
            if event[0] == name and members.items() <= event[1].items():
                return event[1]
        raise AssertionError(f"the stream ended before {name} {members}")


@asynccontextmanager
async def listening(bench: WebBench):
    """The live stream, open."""
    async with bench.client.stream("GET", "/api/live") as response:
        assert response.headers["content-type"] == "text/event-stream"
        yield Stream(response)
