"""`program`: one fault of this program must not end the watch, and must not be silent either.

Here, and nowhere else in the core, any error is caught. The part that failed is left out and named
by an alarm; what is judged beside it goes on.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from types import TracebackType

from logger.alarms.lifecycle import Alarm, Finding, Priority, Signal
from logger.errors import Refused
from logger.quantities import Channel, Rule

QUIET_S = 120.0  # without a failure: twice as long as from one forecast to the next (our choice)
REPORT_AGAIN_S = 600.0  # the same error of the same part: it may come with each reading (ours)

Report = Callable[[str, Exception], None]
"""Hears of a part that failed, for the log; not of each repetition."""


class Guard:
    """Runs the parts of the watch; `alarms` are those from before a restart, `now_s` its time."""

    def __init__(self, report: Report, alarms: Iterable[Alarm], now_s: float) -> None:
        self._report = report
        self._failed = {
            alarm.finding.subject: (alarm.finding, now_s)
            for alarm in alarms
            if alarm.active and alarm.finding.rule == Rule.PROGRAM
        }
        self._reported: dict[tuple[str, type[BaseException]], float] = {}

    def over(
        self, part: str, now_s: float, *, channel: Channel | None = None, station: str | None = None
    ) -> "_Attempt":
        """A context in which `part` may fail; what follows it is reached all the same."""
        return _Attempt(self, part, now_s, channel, station)

    def findings(self, now_s: float, is_lit: Callable[[str | None], bool]) -> list[Finding]:
        """What is said of every part that failed, until it has worked for a while."""
        found = []
        for subject, (finding, failed_s) in list(self._failed.items()):
            over = now_s - failed_s >= QUIET_S
            if over:
                del self._failed[subject]
            found.append(
                replace(
                    finding,
                    signal=Signal.OFF if over else Signal.ON,
                    priority=Priority.WARNING if is_lit(finding.station) else Priority.CAUTION,
                )
            )
        return found

    def note_failure(
        self,
        part: str,
        now_s: float,
        exc: Exception,
        channel: Channel | None,
        station: str | None,
    ) -> None:
        """Note that `part` failed with `exc`."""
        seen = part, type(exc)
        if now_s - self._reported.get(seen, -REPORT_AGAIN_S) >= REPORT_AGAIN_S:
            self._reported[seen] = now_s
            self._report(part, exc)
        why = f"the program failed here ({type(exc).__name__}, see the log)"
        if channel is not None:
            where = f"{channel.station}: {channel.place}" if channel.station else channel.place
            act = "Look at the candle, and read this place by hand"
            text = f"{where}: not being watched, {why}. {act}"
        else:
            text = f"{part}: {why}; the rest is watched. Look at the candle"
        finding = Finding(
            rule=Rule.PROGRAM,
            subject=part,
            station=station if channel is None else channel.station,
            channel=None if channel is None else channel.name,
            signal=Signal.ON,
            priority=Priority.CAUTION,
            text=text,
        )
        self._failed[part] = finding, now_s


class _Attempt:
    """One run of one part."""

    __slots__ = ("_channel", "_guard", "_now_s", "_part", "_station")

    def __init__(
        self, guard: Guard, part: str, now_s: float, channel: Channel | None, station: str | None
    ) -> None:
        self._guard = guard
        self._part = part
        self._now_s = now_s
        self._channel = channel
        self._station = station

    def __enter__(self) -> None:
        pass

    def __exit__(
        self,
        kind: type[BaseException] | None,
        exc: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        # What a person may not do is an answer. Without memory nothing here can be relied on.
        if not isinstance(exc, Exception) or isinstance(exc, Refused | MemoryError):
            return False
        self._guard.note_failure(self._part, self._now_s, exc, self._channel, self._station)
        return True
