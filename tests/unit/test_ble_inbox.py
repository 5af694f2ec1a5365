"""From a callback to a driver: in order, bounded, and a lost link last."""

import asyncio

import pytest

from logger.errors import InstrumentUnavailable
from logger.instruments.ble_inbox import Inbox
from logger.instruments.instrument_link import InstrumentLink


@pytest.fixture
def link():
    return InstrumentLink("probe-b", lambda: 0.0)


async def taken(inbox):
    found = []
    while True:
        try:
            found.append(await inbox.get())
        except InstrumentUnavailable as error:
            return found, error.reason


async def test_what_came_before_the_link_was_lost_comes_first(link):
    inbox = Inbox[int](link)
    for number in range(5):
        inbox.put(number)
    inbox.lose("the link broke")
    inbox.lose("the driver stopped")
    assert await taken(inbox) == (list(range(5)), "the link broke")
    assert link.dropped == 0


async def test_too_much_is_dropped_the_oldest_first_and_counted(link):
    inbox = Inbox[int](link)
    for number in range(100):
        inbox.put(number)
    inbox.lose("over")
    found, _ = await taken(inbox)
    assert found == list(range(100 - len(found), 100))
    assert link.dropped == 100 - len(found) > 0
    assert inbox.came == 100


async def test_it_waits_for_what_comes_later(link):
    inbox = Inbox[int](link)
    waiting = asyncio.create_task(inbox.get())
    await asyncio.sleep(0)
    inbox.put(7)
    assert await waiting == 7
