"""What the page costs: kilobytes that a phone loads, and the server's share of a processor.

Run with `python -m tests.benchmarks.bench_page`. Sixteen channels at 1 Hz on a real port, and five
pages that follow the bench as the page's script does: the stream, and the page and the curve again
every 15 s. The burn is 3.7 hours old, when the curve is dearest to draw.

The baselines were measured with a bare server of the same parts (Starlette and uvicorn, one stream
of server-sent events a page, a chart library in the browser) on two cores: 61 kB and 0.4 %.
"""

import asyncio
import os
import sys
import tempfile
import time
from contextlib import asynccontextmanager
from pathlib import Path

import httpx

from logger import settings
from logger.burn.entries import Lit
from logger.clock import SteppedClock
from logger.quantities import Reading
from logger.service.run import run
from logger.service.running_service import Service
from tests.support.process_bench import BenchProcess

PAGES = 5
CHANNELS = 16
OVER_S = 150.0  # ten refreshes of each page; a curve lasts some two minutes
REFRESH_S = 15.0
PHONE_PX = 358
LASTED_S = 3.7 * 3600.0
BASELINE_KB, BASELINE_CPU = 61.0, 0.4

HEAD = """
[bench]
name = "sixteen"
data = "{folder}/data"

[[station]]
name = "jar-a"
material = "glass"

[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"

[web]
listen = "127.0.0.1:0"
"""
CHANNEL = """
[[instrument.channel]]
name = "wall-{number}"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "{height} mm"
clock = {clock}
field = {number}
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"
"""


def configuration() -> str:
    """Sixteen places on one wall."""
    head, web = HEAD.split("[web]")
    channels = "".join(
        CHANNEL.format(number=number, height=20 + 5 * number, clock=1 + number % 12)
        for number in range(CHANNELS)
    )
    return f"{head}{channels}\n[web]{web}"


async def fill(path: Path) -> None:
    """Store a burn that has lasted for LASTED_S, with a line every five seconds."""
    loaded = settings.load(path)
    clock = SteppedClock(float(int(time.time() - LASTED_S)))

    async def body(service: Service) -> None:
        lit_s = clock.now_s()
        stamps = {"at_s": lit_s, "entered_s": lit_s, "id": "bench-lit"}
        await service.enter(Lit(**stamps, station="jar-a", trial="cedar-6"))
        for since_s in range(0, int(LASTED_S), 5):
            for number, channel in enumerate(loaded.channels):
                value = 20.0 + number + 20.0 * since_s / LASTED_S + 0.1 * (since_s // 5 % 3)
                service.engine.put(Reading(channel=channel.name, value=value, at_s=lit_s + since_s))
            await clock.advance(5.0)
        await service.recorder.saved()

    await run(loaded, clock, body)


def cpu_s(pid: int) -> float:
    """Processor time of a process so far (proc(5): utime and stime, fields 14 and 15)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def weigh(client: httpx.AsyncClient) -> dict[str, float]:
    """Kilobytes on the wire of everything that a phone loads once, by what it is."""
    found: dict[str, float] = {}
    scripts = ("page.js", "live.js", "send.js", "share.js", "show.js", "unsent.js", "words.js")
    files = [f"/static/{name}" for name in ("bench.css", "curve.css", "icon.svg", *scripts)]
    curve = f"/api/curve?station=jar-a&width={PHONE_PX}"
    for path in ("/", *files, curve):
        async with client.stream("GET", path) as answer:
            answer.raise_for_status()
            size = sum([len(part) async for part in answer.aiter_raw()])
        kind = "scripts" if path.endswith(".js") else "styles, icon" if path in files else path
        found[kind.partition("?")[0]] = found.get(kind.partition("?")[0], 0.0) + size / 1000.0
    return found


@asynccontextmanager
async def follower(client: httpx.AsyncClient, begins_s: float):
    """A page that is open."""

    async def stream() -> None:
        async with client.stream("GET", "/api/live", timeout=None) as answer:
            async for _ in answer.aiter_raw():
                pass

    async def refresh() -> None:
        await asyncio.sleep(begins_s)
        while True:
            await client.get("/")
            await client.get(f"/api/curve?station=jar-a&width={PHONE_PX}")
            await asyncio.sleep(REFRESH_S)

    tasks = [asyncio.create_task(stream()), asyncio.create_task(refresh())]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)


async def share(bench: BenchProcess, pages: int) -> float:
    """Per cent of one processor that the service takes with so many pages open."""
    async with httpx.AsyncClient(base_url=bench.address) as client:
        followers = [follower(client, number * 0.7) for number in range(pages)]
        for one in followers:
            await one.__aenter__()
        await asyncio.sleep(2.0)
        began_s, began_cpu_s = time.monotonic(), cpu_s(bench.process.pid)
        await asyncio.sleep(OVER_S)
        used = (cpu_s(bench.process.pid) - began_cpu_s) / (time.monotonic() - began_s)
        for one in followers:
            await one.__aexit__(None, None, None)
    return 100.0 * used


async def measure(bench: BenchProcess) -> None:
    """Print everything."""
    async with httpx.AsyncClient(base_url=bench.address) as client:
        weights = await weigh(client)
    for what, kilobytes in weights.items():
        tell(f"{what:16} {kilobytes:6.1f} kB")
    total = sum(weights.values())
    tell(f"{'all of it':16} {total:6.1f} kB  ({total / BASELINE_KB:.2f} of {BASELINE_KB:.0f} kB)")
    alone = await share(bench, 0)
    open_pages = await share(bench, PAGES)
    tell(f"no page open     {alone:6.2f} % of a processor (readings, estimates, store)")
    tell(f"{PAGES} pages open     {open_pages:6.2f} %")
    pages = open_pages - alone
    tell(f"the pages alone  {pages:6.2f} %  ({pages / BASELINE_CPU:.1f} of {BASELINE_CPU} %)")


def tell(line: str) -> None:
    """A line of the result."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    """Start a bench, light a candle, measure."""
    with tempfile.TemporaryDirectory() as name, BenchProcess(Path(name), configuration()) as bench:
        asyncio.run(fill(bench.config))
        bench.start()
        bench.opened()
        temperatures = [40.0 + number for number in range(CHANNELS)]
        bench.write(lambda: temperatures, every_s=1.0)
        time.sleep(20.0)
        asyncio.run(measure(bench))


if __name__ == "__main__":
    main()
