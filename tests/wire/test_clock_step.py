"""Somebody, or the network, sets the system's clock while the service runs."""

import logging

from web_bench import START_S, serving


async def test_a_clock_that_is_set_is_told_once_and_moves_no_burn(tmp_path, caplog, monkeypatch):
    async with serving(tmp_path) as bench:
        await bench.light()
        with caplog.at_level(logging.WARNING, logger="logger.service.run"):
            await bench.seconds(3)
            assert caplog.messages == []
            monkeypatch.setattr(bench.clock, "wall_step_s", lambda: 3600.0)
            await bench.seconds(3)
        (told,) = caplog.messages
        assert "now differs by +3600 s" in told
        (station,) = (await bench.now())["stations"]
        assert station["elapsed_s"] == bench.clock.now_s() - START_S == 6.0
