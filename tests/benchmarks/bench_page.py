"""What the page costs: kilobytes that a phone loads, and the server's share of a processor.

Run with `python -m tests.benchmarks.bench_page`. Sixteen channels at 1 Hz on a real port, and five
pages that follow the bench as the page's script does: the stream, and the page and the curve again
every 15 s. The burn is 3.7 hours old, when the curve is dearest to draw.

The baseline of the kilobytes was measured with a chart library in the browser: 61 kB. That of the
processor is measured in the same run: a bare server of the same parts (Starlette and uvicorn) that
hands out the same bytes, with no bench behind them; at most twice its share is the aim.
"""

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path

import httpx

from logger import settings
from logger.burn.entries import Lit
from logger.clock import SteppedClock
from logger.quantities import Reading
from logger.service.run import run
from logger.service.running_service import Service
from tests.support.broker import free_port
from tests.support.process_bench import BenchProcess
from tests.support.processes import die_with_parent

PAGES = 5
CHANNELS = 16
OVER_S = 150.0  # ten refreshes of each page; a curve lasts some two minutes
STARTS_S = 5.0  # of the bare server
REFRESH_S = 15.0
PHONE_PX = 358
LASTED_S = 3.7 * 3600.0
BASELINE_KB = 61.0
CURVE = f"/api/curve?station=jar-a&width={PHONE_PX}"

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
    for path in ("/", *files, CURVE):
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
            await client.get(CURVE)
            await asyncio.sleep(REFRESH_S)

    tasks = [asyncio.create_task(stream()), asyncio.create_task(refresh())]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)


async def share(address: str, pid: int, pages: int) -> float:
    """Per cent of one processor that a server takes with so many pages open."""
    async with httpx.AsyncClient(base_url=address) as client:
        followers = [follower(client, number * 0.7) for number in range(pages)]
        for one in followers:
            await one.__aenter__()
        await asyncio.sleep(2.0)
        began_s, began_cpu_s = time.monotonic(), cpu_s(pid)
        await asyncio.sleep(OVER_S)
        used = (cpu_s(pid) - began_cpu_s) / (time.monotonic() - began_s)
        for one in followers:
            await one.__aexit__(None, None, None)
    return 100.0 * used


async def copy(client: httpx.AsyncClient, folder: Path) -> None:
    """What the bench hands out, for the bare server."""
    for name, path in (("page", "/"), ("curve", CURVE)):
        (folder / name).write_bytes((await client.get(path)).content)
    async with client.stream("GET", "/api/live") as answer:
        async for line in answer.aiter_lines():
            if line.startswith("data: ") and "stations" in line:
                (folder / "event").write_text(f"event: shown\n{line}\n\n")
                return


@contextmanager
def bare(folder: Path) -> Iterator[tuple[str, int]]:
    """Address and process of the bare server, up."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.bare_pages", str(folder), str(port)],
        preexec_fn=die_with_parent,  # noqa: PLW1509 - one prctl call, no lock taken
    )
    try:
        yield f"http://127.0.0.1:{port}", process.pid
    finally:
        process.kill()
        process.wait()


async def measure(bench: BenchProcess) -> None:
    """Print everything."""
    async with httpx.AsyncClient(base_url=bench.address) as client:
        weights = await weigh(client)
        await copy(client, bench.folder)
    for what, kilobytes in weights.items():
        tell(f"{what:16} {kilobytes:6.1f} kB")
    total = sum(weights.values())
    tell(f"{'all of it':16} {total:6.1f} kB  ({total / BASELINE_KB:.2f} of {BASELINE_KB:.0f} kB)")
    alone = await share(bench.address, bench.process.pid, 0)
    open_pages = await share(bench.address, bench.process.pid, PAGES)
    with bare(bench.folder) as (address, pid):
        await asyncio.sleep(STARTS_S)
        baseline = await share(address, pid, PAGES)
    tell(f"no page open     {alone:6.2f} % of a processor (readings, estimates, store)")
    tell(f"{PAGES} pages open     {open_pages:6.2f} %")
    tell(f"a bare server    {baseline:6.2f} %")
    pages = open_pages - alone
    tell(f"the pages alone  {pages:6.2f} %  ({pages / baseline:.1f} of the bare server)")


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
