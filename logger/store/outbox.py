"""Events between the pipeline and the way out: on the disk, or in memory while the disk fails."""

import itertools
from collections import deque
from collections.abc import Iterable, Iterator

from logger.pipeline import Event
from logger.store.store import WaitingEvent


class Outbox:
    """What is known of events beside the database; the recorder keeps it in step with that."""

    def __init__(self) -> None:
        self._unsaved: deque[tuple[int, Event]] = deque()  # in the order they came
        self._numbers = itertools.count(-1, -1)  # below zero: no place in the database yet
        self._offered: dict[int, str] = {}  # ids of the events that were handed out, by seq
        self._delivered: set[str] = set()  # ids that the database is still to mark

    def __len__(self) -> int:
        """How many events are not on the disk yet."""
        return len(self._unsaved)

    @property
    def marks(self) -> bool:
        """Whether the database is still to mark something as delivered."""
        return bool(self._delivered)

    def add(self, events: Iterable[Event]) -> None:
        """Events that have just happened."""
        self._unsaved.extend(zip(self._numbers, events, strict=False))

    def offer(
        self, stored: Iterable[WaitingEvent], limit: int, *, unsaved: bool
    ) -> list[WaitingEvent]:
        """The oldest undelivered of `stored`, then if `unsaved` of those in memory, each once."""
        known = set(self._delivered)
        found: list[WaitingEvent] = []
        for event in itertools.chain(stored, self._waiting() if unsaved else ()):
            if len(found) == limit:
                break
            if event.id not in known:
                known.add(event.id)
                found.append(event)
        self._offered.update((event.seq, event.id) for event in found)
        return found

    def mark_delivered(self, seqs: Iterable[int]) -> None:
        """Events that were offered have arrived."""
        self._delivered.update(self._offered.pop(seq) for seq in seqs if seq in self._offered)

    def to_mark(self, saving: int) -> frozenset[str]:
        """Ids to mark when the oldest `saving` of the unsaved events are written."""
        if not self._delivered:
            return frozenset()
        later = {event.id for _, event in itertools.islice(self._unsaved, saving, None)}
        return frozenset(self._delivered - later)

    def mark_saved(self, count: int, marked: frozenset[str]) -> None:
        """The oldest `count` events are on the disk, and these are marked there."""
        for _ in range(count):
            self._unsaved.popleft()
        self._delivered -= marked

    def _waiting(self) -> Iterator[WaitingEvent]:
        for seq, event in self._unsaved:
            yield WaitingEvent(seq=seq, event=event)
