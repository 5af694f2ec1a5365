"""A form that waited for its connection counts from when it was tapped."""

import pytest

from logger.timestamps import parse_rfc3339
from tests.support.web_bench import ONE_STATION, START_S, serving


@pytest.mark.parametrize(
    ("at", "ago_s"), [("now", 90.5), ("5 min ago", 390.5), ("", 90.5)], ids=["now", "ago", "none"]
)
async def test_it_happened_when_it_was_tapped_and_came_now(tmp_path, at, ago_s):
    async with serving(tmp_path, ONE_STATION) as bench:
        burn = await bench.light(at="20 min ago")
        form = {"id": "tapped-0001", "burn": burn, "text": "calm", "waited_s": "90.5"}
        sent = await bench.client.post(
            "/stations/jar-a/observations", data={**form, **({"at": at} if at else {})}
        )
        assert sent.status_code == 303
        found = (await bench.client.get(f"/api/burns/{burn}")).json()["entries"][-1]
        assert parse_rfc3339(found["at"]) == START_S - ago_s
        assert parse_rfc3339(found["entered"]) == START_S


@pytest.mark.parametrize("waited", ["-1", "1e9", "soon"])
async def test_no_page_waits_so_long(tmp_path, waited):
    async with serving(tmp_path, ONE_STATION) as bench:
        burn = await bench.light()
        form = {"id": "tapped-0001", "burn": burn, "text": "calm", "waited_s": waited}
        sent = await bench.client.post("/stations/jar-a/observations", data=form)
        assert sent.status_code == 422
        assert "Nothing was recorded" in sent.text
