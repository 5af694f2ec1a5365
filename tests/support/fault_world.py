"""A whole bench that lives through many faults: eight numbered instruments, a candle, a broker."""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from logger.alarms.lifecycle import AlarmEvent
from logger.store.queries import open_read
from tests.support.broker import Broker, EventRecord
from tests.support.mixed_bench import MixedBench, number_of
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import until

STATION = TWO_PROBES[TWO_PROBES.index("[[station]]") : TWO_PROBES.index("[web]")]
MQTT = '\n[mqtt]\nhost = "127.0.0.1"\nport = {port}\n'
HEARD_S = 40.0  # the longest wait of the publisher's own retries, and then some
COMMITTED_S = 1.5  # a commit begins each half second
KEY = "emergency/jar-a"
CRACK = {"emergency": "crack"}


class World:
    """The service with all it is connected to, and what has been done to it."""

    def __init__(self, mixed: MixedBench, service: BenchProcess, record: EventRecord) -> None:
        self.mixed = mixed
        self.service = service
        self.record = record
        self.burns: list[str] = []
        self._out_s = 0.0

    def start(self) -> float:
        """Start the service; seconds until every instrument is read."""
        began_s = time.monotonic()
        self.service.start()
        self.until_all_are_read()
        return time.monotonic() - began_s

    def until_all_are_read(self) -> None:
        """Wait until each instrument has given a reading from now on."""
        before = {one["name"]: one["readings"] for one in self.service.now()["instruments"]}

        def read(one):
            return one["state"] == "up" and one["readings"] > before[one["name"]]

        until(lambda: all(map(read, self.service.now()["instruments"])), "all are read")

    @contextmanager
    def trouble(self) -> Iterator[None]:
        """What is sent meanwhile may be lost: nobody is there to take it."""
        from_s = time.time()
        yield
        for source in self.mixed.sources:
            source.troubles.append((from_s, time.time() + 0.3))

    def light(self) -> str:
        """A new burn, whatever the disk says."""
        time.sleep(max(0.0, self._out_s + 1.1 - time.time()))  # ids of burns have whole seconds
        number = len(self.burns) + 1
        body = {"station": "jar-a", "trial": f"cedar-{number}", "sure": True}
        status, answer = self.service.post("/api/burns", **body)
        assert status == 201 or "counts already" in answer["detail"], answer
        burn = self.service.now()["stations"][0]["burn"]
        assert burn not in self.burns
        self.burns.append(burn)
        return burn

    def in_danger(self) -> float:
        """A burn with an emergency; seconds until the page has the alarm. Then it is put out."""
        burn = self.light()
        path = f"/api/burns/{burn}/observations"
        posting = threading.Thread(target=self.service.post, args=(path,), kwargs=CRACK)
        began_s = time.monotonic()
        posting.start()
        until(self._rings, "the emergency is on the page", deadline_s=10.0)
        took_s = time.monotonic() - began_s
        posting.join()
        self.over(burn)
        return took_s

    def _rings(self) -> bool:
        alarm = self.service.alarm(KEY)
        return alarm is not None and alarm["state"] == "unacknowledged"

    def over(self, burn: str) -> None:
        """Acknowledged, and the candle out."""
        self.service.post(f"/api/alarms/{KEY}/acknowledge", by="Ines")
        self.service.post(f"/api/burns/{burn}/out", by="Ines")
        until(lambda: self.service.alarm(KEY) is None, "the emergency is over")
        self._out_s = time.time()

    def judged(self) -> dict[str, int]:
        """Readings lost, alarms missed and events doubled, of everything so far.

        By what is stored, and by what the broker was given: all that is stored must be there.
        """
        judged_s = time.time()
        time.sleep(COMMITTED_S)
        with open_read(self.service.data) as reader:
            readings = list(reader.readings())
            events = [one.event for one in reader.events()]
        ids = {event.id for event in events}
        until(lambda: ids <= self.record.texts.keys(), "the broker has all events", HEARD_S)
        raised = [
            event for event in events if isinstance(event, AlarmEvent) and event.what == "raised"
        ]
        silent = [
            (event.alarm.finding.channel, event.time_s)
            for event in raised
            if event.alarm.finding.rule == "silent"
        ]
        lost = []
        for source in self.mixed.sources:
            numbers = Counter(number_of(r.value) for r in readings if r.channel == source.name)
            if source.driver != "one-wire":  # which is read more often than it changes
                assert max(numbers.values()) == 1, f"{source.name}: stored twice: {numbers}"
            lost += [(source.name, number) for number in source.missing(numbers, judged_s)]
        unalarmed = [why for source in self.mixed.sources for why in source.unalarmed(silent)]
        rung = {event.burn for event in raised if event.alarm.finding.rule == "emergency"}
        unalarmed += [burn for burn in self.burns if burn not in rung]
        assert not lost, lost
        assert not unalarmed, unalarmed
        doubled = len(events) - len(ids) + self.record.doubled
        assert not doubled
        return {"lost": len(lost), "missed": len(unalarmed), "doubled": doubled}


@contextmanager
def running_world(folder, broker: Broker) -> Iterator[World]:
    """The service on the mixed bench, read and connected; `broker` has `LASTING`."""
    with MixedBench(folder) as mixed:
        text = mixed.configuration + STATION + MQTT.replace("{port}", str(broker.port))
        with EventRecord(broker, "fault-bench") as record, BenchProcess(folder, text) as service:
            world = World(mixed, service, record)
            service.write(lambda: [45.0, 22.0])
            with world.trouble():
                world.start()
            yield world
