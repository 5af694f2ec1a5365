"""Pages that ask for the shelf at once wait for one reading of it."""

import asyncio

from logger.web import known_records
from logger.web.known_records import KnownRecords, ShelfReading


async def test_who_is_woken_last_does_not_take_the_next_reading(monkeypatch):
    answers = []

    async def aside(_read, _bench):
        answers.append(asyncio.get_running_loop().create_future())
        return await answers[-1]

    monkeypatch.setattr(known_records, "aside", aside)
    shelf = ShelfReading(None)

    async def twice():
        return [await shelf.records(), await shelf.records()]

    async with asyncio.timeout(10), asyncio.TaskGroup() as pages:
        first, second = pages.create_task(twice()), pages.create_task(shelf.records())
        for number, testers in enumerate((("A1",), ("A1", "A2"))):
            while len(answers) == number:
                await asyncio.sleep(0)
            answers[number].set_result(KnownRecords(testers=testers))
    assert [one.testers for one in (*first.result(), second.result())] == [
        ("A1",),
        ("A1", "A2"),
        ("A1",),
    ]
