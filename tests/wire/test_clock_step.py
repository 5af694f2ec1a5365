"""Somebody, or the network, sets the system's clock while the service runs."""

import logging

from web_bench import serving


async def test_a_clock_that_is_set_is_told_once_and_so_is_its_return(tmp_path, caplog, monkeypatch):
    async with serving(tmp_path) as bench:
        with caplog.at_level(logging.INFO, logger="logger.service.run"):
            for step_s in (0.0, 3600.0, -7200.0, 0.5):
                monkeypatch.setattr(bench.clock, "wall_step_s", lambda step_s=step_s: step_s)
                await bench.seconds(3)
        ahead, behind, again = caplog.messages
        assert "now differs by +3600 s" in ahead
        assert "now differs by -7200 s" in behind
        assert "agrees again" in again
