"""What is to be sent: alarms and phone lines first, of everything retained only the newest.

Nothing here waits, and nothing grows with the time that a broker is slow or away. Phone lines are
also handed to a shelf on the disk, from which a restart puts them back.
"""

import asyncio
import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import count, islice
from typing import Protocol

from logger.alarms.lifecycle import Alarm, AlarmEvent
from logger.announcements import Announcement, PhoneLine
from logger.burn.model import BurnStatus
from logger.pipeline import Output
from logger.publish.topics import PHONE_EXPIRY_S, Message, Topics
from logger.quantities import Channel, Estimate, Forwarding

BATCH = 10  # messages under way at once in a lane
MOST_LINES = 100  # phone lines kept while the broker is away; the oldest go first
BURN_EVERY_S = 5.0  # of bench time; a change of phase goes out at once


class LineShelf(Protocol):
    """Where phone lines lie until they are done, for a restart; neither of these waits."""

    def keep_line(self, line: PhoneLine) -> None:
        """Keep one that was just made."""
        ...

    def mark_lines_done(self, ids: Iterable[str]) -> None:
        """These are sent, or will not be."""
        ...


class _NoShelf:
    """For who keeps nothing."""

    def keep_line(self, line: PhoneLine) -> None:
        pass

    def mark_lines_done(self, ids: Iterable[str]) -> None:
        pass


@dataclass(frozen=True, slots=True)
class _Line:
    line: PhoneLine
    ready_s: float  # real time


@dataclass(frozen=True, slots=True, kw_only=True)
class Urgent:
    """Alarm states and phone lines that go out together."""

    messages: Sequence[Message]
    alarms: bool  # whether any of it is an alarm's state
    lines: Sequence[_Line]  # sent by it, or past their hour and only counted
    announced: Sequence[str]  # ids of what its lines announce
    lost: int  # dropped before


class Pending:
    """What a connection still has to send; `urgent` and `bulk` are set when there is more."""

    def __init__(
        self,
        topics: Topics,
        channel_of: Callable[[str], Channel],
        real_s: Callable[[], float] = time.monotonic,
        *,
        now_s: Callable[[], float] = time.time,
        shelf: LineShelf | None = None,
        run: int = 0,
    ) -> None:
        """`now_s` is bench time, `run` the number of the program's run."""
        self.urgent = asyncio.Event()
        self.bulk = asyncio.Event()
        self._topics = topics
        self._channel_of = channel_of
        self._real_s = real_s
        self._now_s = now_s
        self._shelf = shelf or _NoShelf()
        self._line_ids = (f"{run}/{number}" for number in count(1))
        self._alarms: dict[str, dict[str, Alarm]] = {}  # by topic, then by key
        self._alarms_due: dict[str, None] = {}  # topics, first changed first
        self._lines: deque[_Line] = deque()
        self._lines_lost = 0
        self._lines_held = False  # the broker refuses them: tried again later
        self._kept: dict[str, Message] = {}  # newest of each other retained topic
        self._kept_due: dict[str, None] = {}
        self._beat: Message | None = None
        self._statuses: dict[str, BurnStatus] = {}  # as last given out, by station

    def take(self, outputs: Iterable[Output | Forwarding]) -> None:
        """Note what is to be sent of `outputs`."""
        for output in outputs:
            match output:
                case AlarmEvent():
                    self.take_alarm(output.alarm)
                case Estimate():
                    self._keep(self._topics.estimate(output, self._channel_of(output.channel)))
                case BurnStatus():
                    self._take_status(output)
                case Forwarding():
                    self._keep(self._topics.forwarding(output))
                case _:
                    pass

    def announce(self, announcements: Iterable[Announcement]) -> None:
        """Note the lines that are for the phone."""
        for one in announcements:
            if one.phone:
                line = PhoneLine(
                    id=next(self._line_ids),
                    at_s=self._now_s(),
                    text=one.short or one.line,
                    announces=one.id,
                )
                self._take_line(_Line(line, self._real_s()))
                self._shelf.keep_line(line)

    def restore(self, lines: Iterable[PhoneLine]) -> None:
        """Lines that a run before did not get out, ahead of those of this run."""
        newer, self._lines = self._lines, deque()
        for one in lines:
            self._take_line(_Line(one, self._real_s() - max(0.0, self._now_s() - one.at_s)))
        for newer_one in newer:
            self._take_line(newer_one)

    def take_alarm(self, alarm: Alarm) -> None:
        """Note the present state of `alarm`."""
        topic = self._topics.alarm_topic(alarm.finding)
        self._alarms.setdefault(topic, {})[alarm.key] = alarm
        self._alarms_due[topic] = None
        self.urgent.set()

    def empty_station(self, station: str) -> None:
        """Note that nothing is known of `station` any more."""
        self._keep(self._topics.no_burn(station))

    def take_heartbeat(self, at_s: float) -> None:
        """Note that the pipeline is alive at `at_s`."""
        self._beat = self._topics.heartbeat(at_s)
        self.bulk.set()

    def _take_line(self, line: _Line) -> None:
        if len(self._lines) == MOST_LINES:
            self._shelf.mark_lines_done([self._lines.popleft().line.id])
            self._lines_lost += 1
        self._lines.append(line)
        self.urgent.set()

    def _take_status(self, status: BurnStatus) -> None:
        last = self._statuses.get(status.station)
        if (
            last is not None
            and (last.phase, last.burn, last.automatic)
            == (status.phase, status.burn, status.automatic)
            and 0.0 <= status.at_s - last.at_s < BURN_EVERY_S
        ):
            return
        self._statuses[status.station] = status
        self._keep(self._topics.burn(status))

    def _keep(self, message: Message) -> None:
        self._kept[message.topic] = message
        self._kept_due[message.topic] = None
        self.bulk.set()

    # what a connection takes

    def make_due_again(self, topics: Iterable[str]) -> None:
        """What goes to `topics` was refused, and is due again."""
        for topic in topics:
            if topic in self._alarms:
                self._alarms_due[topic] = None
            elif topic in self._kept:
                self._kept_due[topic] = None
        self._lines_held = False
        self.urgent.set()
        self.bulk.set()

    def renew(self) -> None:
        """A new connection: the whole present state is due again, emptied alarms too."""
        self._lines_held = False
        self._alarms_due |= dict.fromkeys(self._alarms)
        self._kept_due |= dict.fromkeys(self._kept)
        self._beat = None  # one from before would say that the pipeline is alive now

    def next_urgent(self) -> Urgent:
        """Alarm states, which count as sent, and lines, which stay until `mark_lines_sent`."""
        topics = list(islice(self._alarms_due, BATCH))
        for topic in topics:
            del self._alarms_due[topic]
        late = sum(self._is_late(line) for line in self._lines)
        lines = [] if self._lines_held else list(islice(self._lines, late + BATCH))
        return self._urgent_of(topics, lines)

    def hold_lines(self) -> None:
        """The broker refuses lines: none is due until `again` or `renew`."""
        self._lines_held = True

    def mark_lines_sent(self, sent: Urgent) -> None:
        """The lines of `sent` were confirmed."""
        self._lines_lost -= sent.lost
        self._shelf.mark_lines_done([line.line.id for line in sent.lines])
        for line in sent.lines:
            if line in self._lines:  # else it was dropped as the oldest meanwhile
                self._lines.remove(line)

    def next_bulk(self) -> list[Message]:
        """The heartbeat and some retained messages; they count as sent."""
        due = list(islice(self._kept_due, BATCH))
        for topic in due:
            del self._kept_due[topic]
        beat, self._beat = self._beat, None
        return [*([beat] if beat else []), *(self._kept[topic] for topic in due)]

    def all_urgent(self) -> Urgent:
        """Every alarm state and phone line that waits, for a stop."""
        return self._urgent_of(list(self._alarms_due), list(self._lines))

    def _is_late(self, line: _Line) -> bool:
        """Whether it is past the hour for which it is good."""
        return self._real_s() - line.ready_s >= PHONE_EXPIRY_S

    def _urgent_of(self, topics: Sequence[str], lines: Sequence[_Line]) -> Urgent:
        now_s = self._real_s()
        messages = [self._topics.alarm(topic, self._alarms[topic].values()) for topic in topics]
        good = [line for line in lines if not self._is_late(line)]
        lost = self._lines_lost if lines else 0
        untold = lost + len(lines) - len(good)
        if untold:
            more = "1 older line was" if untold == 1 else f"{untold} older lines were"
            messages.append(
                self._topics.phone(f"{more} dropped while the broker was away: look at the page")
            )
        messages.extend(
            self._topics.phone(one.line.text, age_s=now_s - one.ready_s) for one in good
        )
        return Urgent(
            messages=messages,
            alarms=bool(topics),
            lines=lines,
            announced=[one.line.announces for one in good if one.line.announces],
            lost=lost,
        )
