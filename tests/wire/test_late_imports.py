"""Nothing is imported once the bench runs: later there may be no descriptor left for it."""

import subprocess
import sys
from pathlib import Path

from tests.support.waiting import patient

EVENING = """
import asyncio, pathlib, sys
from tests.support.waiting import eventually
from tests.support.web_bench import ONE_STATION, serving

async def evening():
    async with serving(pathlib.Path({folder!r})) as bench:
        begun = {{one.get_name() for one in asyncio.all_tasks()}}
        assert "warm-up" in begun  # right after the start, on a thread
        await eventually(
            lambda: "warm-up" not in {{one.get_name() for one in asyncio.all_tasks()}}
        )
        ready = set(sys.modules)
        burn = await bench.light()
        for step in range(270):
            await bench.seconds(10, wall=30.0 + 20.0 * (1.0 - 2.7 ** (-step / 150)), room=22.0)
        assert (await bench.now())["channels"][0]["forecast"]
        for path in (
            "/", "/stations/jar-a", "/static/page.js", f"/burns/{{burn}}/record", "/nothing",
            f"/api/burns/{{burn}}", "/api/trials/cedar-6/verdict", "/api/curve?station=jar-a",
            "/api/series?channel=room", "/api/openapi.json", "/report.html?trial=cedar-6",
        ):
            assert (await bench.client.get(path)).status_code in (200, 404), path
        await bench.post(f"/api/burns/{{burn}}/weigh-ins", mass="1 stone")
        await bench.post(f"/api/burns/{{burn}}/out")
        print(*sorted(set(sys.modules) - ready))

asyncio.run(evening())
"""


def test_a_burn_its_forecast_its_pages_and_its_record_import_nothing(tmp_path):
    script = EVENING.format(folder=str(tmp_path))
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        timeout=patient(120),
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []
