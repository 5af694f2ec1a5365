"""The maker's own program and the service manager: what is told when nothing else gets out."""

import asyncio
import json
import socket
import sys

import pytest

from logger.alarms.lifecycle import (
    Alarm,
    AlarmEvent,
    AlarmEventKind,
    AlarmState,
    Finding,
    Priority,
    Signal,
)
from logger.announcements import Announcer
from logger.quantities import Health, Part, Rule
from logger.service.alarm_program import MOST_WAITING, AlarmProgram, trial
from logger.service.manager import ServiceManager
from logger.words import Words
from tests.support.waiting import within


def raised(count=1, priority=Priority.WARNING):
    finding = Finding(
        rule=Rule.WALL_LIMIT,
        subject="jar-a-wall-3",
        station="jar-a",
        signal=Signal.ON,
        priority=priority,
        text='hot; $(touch /tmp/never) "quoted"',
    )
    alarm = Alarm(finding=finding, state=AlarmState.UNACKNOWLEDGED, count=count)
    return AlarmEvent(id=f"x/{count}", time_s=1e9, what=AlarmEventKind.RAISED, alarm=alarm)


def announced(*events):
    return Announcer(Words(), lambda: (), lambda: ()).announce(events)


def broken(ok=False):
    return Health(part=Part.DELIVERY, name="mqtt", ok=ok, reason="gone", at_s=1e9)


async def told(resort, file, count=1):
    """Run until the program has written `count` lines."""
    task = asyncio.create_task(resort.run())
    try:
        async with within(15):
            while not file.exists() or len(file.read_text().splitlines()) < count:
                await asyncio.sleep(0.02)
    finally:
        task.cancel()
        await asyncio.wait([task])
    return [json.loads(line) for line in file.read_text().splitlines()]


def writes_to(file, then=""):
    code = f"import sys; open({str(file)!r}, 'a').write(sys.stdin.read()); {then}"
    return [sys.executable, "-c", code]


async def test_while_the_broker_is_gone_each_alarm_starts_the_program_with_its_json(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"))
    resort.take(broken())
    resort.announce(announced(raised(1)))
    resort.announce(announced(raised(2)))
    lines = await told(resort, tmp_path / "told", count=2)
    lines = sorted(lines, key=lambda line: line["id"])  # the programs run side by side
    assert [line["id"] for line in lines] == ["x/1", "x/2"]
    assert lines[0]["text"] == 'hot; $(touch /tmp/never) "quoted"'


async def test_with_a_working_broker_nothing_is_started(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"))
    resort.announce(announced(raised(1)))
    resort.note_confirmed("x/1")
    resort.take(broken())
    resort.take(broken(ok=True))
    resort.announce(announced(raised(2)))
    resort.note_confirmed("x/2")
    resort.take(broken())
    resort.announce(announced(raised(3)))
    assert [line["id"] for line in await told(resort, tmp_path / "told")] == ["x/3"]


async def test_without_any_broker_it_is_the_only_way_out(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"), alone=True)
    resort.announce(announced(raised(1)))
    assert [line["id"] for line in await told(resort, tmp_path / "told")] == ["x/1"]


async def test_a_program_that_hangs_is_ended_and_the_next_alarm_is_told(tmp_path, caplog):
    resort = AlarmProgram(
        writes_to(tmp_path / "told", "__import__('time').sleep(60)"), patience_s=0.5
    )
    resort.take(broken())
    resort.announce(announced(raised(1)))
    resort.announce(announced(raised(2)))
    # its output is written before it hangs, as soon as the file is closed
    with caplog.at_level("ERROR"):
        task = asyncio.create_task(resort.run())
        async with within(15):
            while caplog.text.count("took over") < 2:
                await asyncio.sleep(0.02)
        task.cancel()
        await asyncio.wait([task])


@pytest.mark.parametrize("command", [["/no/such/program"], [sys.executable, "-c", "exit(3)"]])
async def test_a_program_that_cannot_do_it_is_logged(command, caplog):
    resort = AlarmProgram(command)
    resort.take(broken())
    resort.announce(announced(raised(1)))
    task = asyncio.create_task(resort.run())
    async with within(15):
        while "[alarms] run" not in caplog.text:
            await asyncio.sleep(0.02)
    task.cancel()
    await asyncio.wait([task])


async def test_what_waits_is_bounded_and_the_newest_is_kept(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"))
    resort.take(broken())
    for number in range(MOST_WAITING + 5):
        resort.announce(announced(raised(number)))
    lines = await told(resort, tmp_path / "told", count=MOST_WAITING)
    assert {line["id"] for line in lines} == {f"x/{n}" for n in range(5, MOST_WAITING + 5)}


async def test_the_gravest_is_told_first_and_never_dropped(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"))
    resort.take(broken())
    resort.announce(announced(raised(0, Priority.DANGER)))
    for number in range(1, MOST_WAITING + 5):
        resort.announce(announced(raised(number, Priority.CAUTION)))
    lines = await told(resort, tmp_path / "told", count=MOST_WAITING)
    assert "x/0" in {line["id"] for line in lines}


async def test_a_line_that_no_broker_confirms_is_told_though_nobody_missed_the_broker(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"), unconfirmed_s=0.3)
    resort.announce(announced(raised(1)))
    resort.announce(announced(raised(2)))
    resort.note_confirmed("x/1")
    assert [line["id"] for line in await told(resort, tmp_path / "told")] == ["x/2"]


async def test_what_was_unconfirmed_when_the_broker_went_is_told_at_once(tmp_path):
    resort = AlarmProgram(writes_to(tmp_path / "told"), unconfirmed_s=3600.0)
    resort.announce(announced(raised(1)))
    resort.take(broken())
    assert [line["id"] for line in await told(resort, tmp_path / "told")] == ["x/1"]


async def test_one_that_hangs_does_not_keep_the_next_back(tmp_path):
    file = tmp_path / "told"
    code = (
        "import sys, time; line = sys.stdin.read();"
        f"f = open({str(file)!r}, 'a'); f.write(line); f.close(); time.sleep(60)"
    )
    resort = AlarmProgram([sys.executable, "-c", code])
    resort.take(broken())
    resort.announce(announced(raised(1)))
    resort.announce(announced(raised(2)))
    async with within(10):
        assert len(await told(resort, file, count=2)) == 2


@pytest.mark.parametrize(
    ("command", "says"),
    [
        ([sys.executable, "-c", "pass"], None),
        ([sys.executable, "-c", "exit(3)"], "ended with 3"),
        (["/no/such/program"], "cannot be started: No such file"),
    ],
)
async def test_check_tries_it_once_and_says_what_came_of_it(command, says):
    trouble = await trial(command, 1e9)
    assert trouble is None if says is None else says in trouble


def test_the_service_manager_hears_ready_alive_and_stopping(tmp_path):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(tmp_path / "notify"))
        heard.settimeout(5)
        manager = ServiceManager(str(tmp_path / "notify"))
        manager.ready("http://127.0.0.1:1")
        manager.alive()
        manager.stopping()
        said = [heard.recv(200).decode() for _ in range(3)]
    assert said == ["READY=1\nSTATUS=page at http://127.0.0.1:1", "WATCHDOG=1", "STOPPING=1"]


def test_without_a_service_manager_nothing_happens(tmp_path):
    ServiceManager("").alive()
    ServiceManager(str(tmp_path / "gone")).alive()
