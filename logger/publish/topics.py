"""What goes to the broker, and how: topic, payload, quality of service, retained or not.

Everything but the heartbeat is QoS 1, so that a broker that refuses or loses a message is noticed.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from logger import messages
from logger.alarms.lifecycle import Alarm, Finding
from logger.burn.model import BurnStatus
from logger.messages import LONGEST_LINE, one_line
from logger.pipeline import Event
from logger.quantities import Channel, Estimate, Forwarding
from logger.timestamps import rfc3339

# How long a broker may keep what is then no news any more; our choice, no source.
ESTIMATE_EXPIRY_S = 900
PHONE_EXPIRY_S = 3600
HEARTBEAT_EXPIRY_S = 15  # three beats
ANSWER_EXPIRY_S = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message to publish."""

    topic: str
    payload: bytes
    qos: int = 1
    retain: bool = False
    expiry_s: int | None = None  # the broker drops it then (MQTT 5 message expiry interval)
    correlation: bytes | None = None  # of an answer: what the asker sent along


@dataclass(frozen=True, slots=True, kw_only=True)
class Topics:
    """The topics of one bench."""

    bench: str

    @property
    def prefix(self) -> str:
        """What all topics of the bench begin with."""
        return f"wickbench/{self.bench}"

    def status(self, *, online: bool) -> Message:
        """Whether the service runs; `offline` is also its Will."""
        return self._retained("status", b"online" if online else b"offline")

    def heartbeat(self, at_s: float) -> Message:
        """The pipeline is alive."""
        return Message(
            topic=f"{self.prefix}/heartbeat",
            payload=rfc3339(at_s).encode(),
            qos=0,
            expiry_s=HEARTBEAT_EXPIRY_S,
        )

    def check(self) -> Message:
        """Something that nobody waits for, to see whether the broker takes it."""
        return Message(
            topic=f"{self.prefix}/check", payload=b"checking", expiry_s=HEARTBEAT_EXPIRY_S
        )

    def estimate(self, estimate: Estimate, channel: Channel) -> Message:
        """A channel now; it goes from the broker when no newer one has come for long."""
        expiry_s = max(ESTIMATE_EXPIRY_S, round(3.0 * channel.averaging.every_s))
        payload = _json(messages.estimate(estimate, channel))
        return self._retained(f"channel/{channel.name}", payload, expiry_s)

    def burn(self, status: BurnStatus) -> Message:
        """A station now."""
        return self._retained(f"burn/{status.station}", _json(messages.burn_status(status)))

    def no_burn(self, station: str) -> Message:
        """The station is gone."""
        return self._retained(f"burn/{station}", b"")

    def alarm_topic(self, finding: Finding) -> str:
        """Where the present state of an alarm stands."""
        return (
            f"{self.prefix}/alarm/{finding.station or 'bench'}/{finding.rule}"
            f"/{finding.channel or '-'}"
        )

    def alarm(self, topic: str, alarms: Iterable[Alarm]) -> Message:
        """Present state of the alarms that share `topic`: the gravest, or nothing when normal.

        Two ways out may both be broken, and neither has a station or channel of its own.
        """
        active = [alarm for alarm in alarms if alarm.active]
        if not active:
            return Message(topic=topic, payload=b"", retain=True)
        gravest = max(active, key=lambda alarm: (alarm.finding.priority.rank, alarm.since_s))
        payload = _json(messages.alarm_state(gravest))
        return Message(topic=topic, payload=payload, retain=True)

    def event(self, event: Event) -> Message:
        """An alarm or burn event; it never expires."""
        return Message(topic=f"{self.prefix}/event", payload=_json(messages.event(event)))

    def forwarding(self, state: Forwarding) -> Message:
        """How far an engine has what is stored."""
        return self._retained("forwarding", _json(messages.forwarding(state)))

    @property
    def phone_topic(self) -> str:
        """Where lines for a person go."""
        return f"{self.prefix}/phone"

    def phone(self, line: str, *, age_s: float = 0.0) -> Message:
        """A line for a person, which was ready `age_s` ago; one that waited long says so."""
        late = f"{round(age_s / 60.0)} min ago: " if age_s >= 60.0 else ""
        return Message(
            topic=self.phone_topic,
            payload=_bytes(one_line(late + line, LONGEST_LINE)),
            expiry_s=max(1, PHONE_EXPIRY_S - int(age_s)),
        )

    def answer(
        self, topic: str, answer: Mapping[str, object], correlation: bytes | None
    ) -> Message:
        """The answer to a command."""
        return Message(
            topic=topic,
            payload=_json(answer),
            expiry_s=ANSWER_EXPIRY_S,
            correlation=correlation,
        )

    def may_answer(self, topic: str) -> bool:
        """Whether an answer may go to `topic`, which a stranger chose.

        Below the bench's own prefix only `answer/` is free: no one shall have the service say
        `phone` or `status` for them.
        """
        if not 0 < len(topic) <= 200 or any(c in "+#$" or not c.isprintable() for c in topic):
            return False
        own, answers = f"{self.prefix}/", f"{self.prefix}/answer/"
        return topic.startswith(answers) or not topic.startswith(own)

    def _retained(self, name: str, payload: bytes, expiry_s: int | None = None) -> Message:
        topic = f"{self.prefix}/{name}"
        return Message(topic=topic, payload=payload, retain=True, expiry_s=expiry_s)


def _json(message: Mapping[str, object]) -> bytes:
    return _bytes(json.dumps(message, ensure_ascii=False, allow_nan=False, separators=(",", ":")))


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "replace")  # a lone surrogate is not UTF-8
