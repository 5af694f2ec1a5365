"""Work for requests: what takes long keeps no page waiting."""

import asyncio
import threading

from logger.web.work import AT_ONCE, aside, far_aside
from tests.support.waiting import patient, within


async def test_a_page_does_not_wait_behind_reports():
    begun, go_on, running = threading.Event(), threading.Event(), []

    def report(number):
        running.append(number)
        begun.set()
        go_on.wait(patient(10.0))

    reports = [asyncio.create_task(far_aside(report, n)) for n in range(AT_ONCE + 1)]
    async with within(5):
        assert await aside(sum, [1, 2]) == 3
    assert await asyncio.to_thread(begun.wait, patient(5.0))
    assert running == [0]  # one at a time: the watch shares its processor with no more
    go_on.set()
    await asyncio.gather(*reports)
    assert running == [*range(AT_ONCE + 1)]
