"""An engine that refuses or is slow: what it does not take is set aside, and the rest goes on.

Statuses as the v2 write API describes them (from memory: 400 a malformed point, 401 no valid token,
413 a request too large, 503 busy).
"""

import asyncio
import time

import pytest

from logger.publish.influx import AT_ONCE
from logger.store.store import Store
from tests.support.forwarding_bench import BENCH, ForwardingBench


@pytest.fixture
async def bench(tmp_path):
    at_s = float(int(time.time()) - 100_000)
    store = await Store.open(tmp_path)
    await store.begin_run(settings_text="", bench=BENCH, started_s=at_s, version="0")
    yield ForwardingBench(tmp_path, store, at_s)
    await store.close()


def answers(status):
    """That status to requests that hold one reading of the wall, or one of the room."""

    def is_bad(line):
        return line.startswith("reading") and ("value=77.25 " in line or "value=133.5 " in line)

    return lambda lines: status if any(map(is_bad, lines)) else 204


@pytest.mark.faults
@pytest.mark.parametrize("status", [400, 422])
async def test_a_bad_point_is_found_set_aside_counted_and_named(
    bench, refusing, status, caplog, fault_row
):
    refusing.answer = answers(status)
    await bench.add(1000)
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there()
        await bench.until(lambda state: state.set_aside == 2, "they are counted")
        await bench.until(lambda state: not state.trouble, "the rest is well")
        state = bench.forwarder.state
    assert len(refusing.of("reading")) == 2000 - 2
    assert len(refusing.of("estimate")) == 2000
    assert "of room: field type conflict" in state.refused
    assert "reading 155 of jar-a-wall-3: field type conflict" in caplog.text
    assert not bench.news[-1].ok
    assert "set aside, as reading" in bench.news[-1].reason
    found = sum(answer == status for _, answer in refusing.requests)
    assert found <= 2 * 12  # each found by halving a batch of 2000
    fault_row(
        f"engine refuses a point ({status})",
        tried=2,
        reached="the other 4098 of 4100 arrived; both named",
        bar="the rest goes on",
    )


async def test_what_was_set_aside_is_tried_again_at_the_next_start(bench, refusing):
    refusing.answer = answers(400)
    await bench.add(200)
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: state.set_aside == 2, "they are counted")
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: not state.trouble, "it has the rest")
        assert bench.forwarder.state.set_aside == 2
    refusing.answer = lambda lines: 204
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: not state.trouble, "it has all")
        assert bench.forwarder.state.set_aside == 0
    assert len(refusing.of("reading")) == 400
    assert bench.news[-1].ok


@pytest.mark.parametrize("status", [400, 413, 422])
async def test_an_engine_that_refuses_everything_costs_no_point(bench, refusing, status):
    refusing.answer = lambda lines: status
    await bench.add(100)
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: "takes no point of ours" in state.trouble, "it is said")
        assert bench.forwarder.state.set_aside == 0
        assert not bench.news[-1].ok
        refusing.answer = lambda lines: 204
        await bench.until_all_is_there()
    assert len(refusing.of("reading")) == 200


@pytest.mark.faults
async def test_batches_become_as_small_as_the_engine_takes(bench, refusing, fault_row):
    refusing.answer = lambda lines: 413 if len(lines) > 300 else 204
    await bench.add(1500)
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there()
    assert len(refusing.of("reading")) == 3000
    assert max(lines for lines, status in refusing.requests if status == 204) <= 300
    refused = sum(status == 413 for _, status in refusing.requests)
    assert refused <= 8  # 2000, 1000, 500, and 500 of what was cut already
    fault_row("engine takes 300 lines at most (413)", tried=1, reached="0 lost", bar="0 lost")


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (401, "does not know our token"),
        (403, "may not write into wickbench"),
        (404, "has no bucket wickbench"),
        (200, "does not speak the InfluxDB v2 write protocol"),
        (302, "does not speak the InfluxDB v2 write protocol"),
    ],
)
async def test_what_only_a_person_can_change_is_told_at_once_and_waited_for(
    bench, refusing, status, words
):
    refusing.answer = lambda lines: status
    await bench.add(20)
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: words in state.trouble, "it is said in words")
        assert not bench.news[-1].ok  # not only when it is behind for long
        assert words in bench.news[-1].reason
        refusing.answer = lambda lines: 204
        await bench.until_all_is_there()
        await bench.until(lambda state: not state.trouble, "it is well")
    assert bench.news[-1].ok
    assert len(refusing.of("reading")) == 40


@pytest.mark.parametrize(("status", "words"), [(503, "busy"), (429, "busy"), (500, "fault of its")])
async def test_a_busy_or_broken_engine_is_tried_again(bench, refusing, status, words):
    refusing.answer = lambda lines: status
    await bench.add(20)
    async with bench.forwarding(refusing.url):
        await bench.until(lambda state: words in state.trouble, "it is said in words")
        refusing.answer = lambda lines: 204
        await bench.until_all_is_there()
    assert len(refusing.of("reading")) == 40
    assert all(one.ok for one in bench.news)  # it passed before it was worth an alarm


async def test_the_token_is_read_anew_from_its_file_and_sent(bench, refusing, tmp_path):
    file = tmp_path / "token"
    file.write_text("wrong\n")
    file.chmod(0o600)

    def answer(_lines):
        return 204 if refusing.headers[-1].get("authorization") == "Token right" else 401

    refusing.answer = answer
    await bench.add(5)
    settings = {"token_file": str(file), "org": "workshop", "bucket": "b"}
    async with bench.forwarding(refusing.url, settings=settings):
        await bench.until(lambda state: "token" in state.trouble, "it is refused")
        file.write_text("right\n")
        await bench.until(lambda state: not state.trouble, "it is let in")
        file.unlink()
    assert len(refusing.of("reading")) == 10


@pytest.mark.faults
async def test_a_slow_engine_is_given_less_at_a_time_and_catches_up(bench, refusing, fault_row):
    async def time_it():
        longest_s = 0.0
        while True:
            began_s = time.monotonic()
            await asyncio.sleep(0.005)
            longest_s = max(longest_s, time.monotonic() - began_s)
            late.append(longest_s)

    late: list[float] = []
    # a batch of more than 400 lines takes longer than it is waited for
    refusing.wait_of = lambda lines: 0.8 if len(lines) > 400 else 0.02
    await bench.add(800)
    watch = asyncio.create_task(time_it())
    async with bench.forwarding(refusing.url):
        await bench.until_all_is_there(within_s=30.0)
    watch.cancel()
    await asyncio.wait({watch})
    assert len(refusing.of("reading")) == 1600
    fault_row(
        "engine too slow for a whole batch",
        tried=1,
        reached=f"0 lost; the loop waited {max(late):.2f} s at most",
        bar="0 lost",
    )


async def test_a_stop_does_not_wait_for_an_engine_that_hangs(bench, refusing):
    refusing.wait_of = lambda lines: 60.0
    await bench.add(AT_ONCE)
    began_s = time.monotonic()
    async with bench.forwarding(refusing.url):
        await asyncio.sleep(0.2)
    assert time.monotonic() - began_s < 2.0
