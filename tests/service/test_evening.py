"""A whole evening: broker and service fail, people answer from everywhere, nothing is lost.

The broker is away for WICKBENCH_OUTAGE_S (40 s: long enough for `delivery`, which waits for 30 s;
`make faults` takes the twenty minutes of a real outage).
"""

import json
import os
import random
import re
import shutil
import sys
import threading
import time
import urllib.request
from pathlib import Path
from urllib.parse import quote

import pytest
from paho.mqtt.client import CallbackAPIVersion, Client, MQTTv5
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from logger.store.queries import open_read
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import patient, until

CONFIG = Path(__file__).parents[2] / "config"
OUTAGE_S = float(os.environ.get("WICKBENCH_OUTAGE_S", "40"))
PREFIX = "wickbench/test-bench"
PASSWORDS = {"bench": "tallow-and-wick-8", "phone": "in-my-pocket-5"}
LIMIT = "wall-limit/jar-a-wall-3"

EVENING = """
[mqtt]
host = "127.0.0.1"
port = {port}
username = "bench"
password_file = "password.txt"
commands = true

[alarms]
unwatched = "2 h"
run = ["{python}", "-c", "import sys; open('{told}', 'a').write(sys.stdin.read())"]
"""


class Phone:
    """An MQTT client with a session that the broker keeps while it is away, or without one."""

    def __init__(self, broker, name: str = "", *, keep: bool = False) -> None:
        self.heard: list[tuple[str, str, bool]] = []
        self.properties: dict[str, object] = {}  # of the latest message to each topic
        self._connected = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTv5)
        self._client.username_pw_set("phone", PASSWORDS["phone"])
        self._client.reconnect_delay_set(1, 1)
        self._client.on_connect = self._subscribe
        self._client.on_message = self._hear
        session = Properties(PacketTypes.CONNECT)
        session.SessionExpiryInterval = 7200 if keep else 0
        self._client.connect(broker.host, broker.port, 10, clean_start=False, properties=session)
        self._client.loop_start()
        assert self._connected.wait(patient(10))

    def _subscribe(self, client, *_) -> None:
        client.subscribe("wickbench/#", qos=1)
        self._connected.set()

    def _hear(self, _client, _data, message) -> None:
        self.properties[message.topic] = message.properties
        self.heard.append((message.topic, message.payload.decode(), bool(message.retain)))

    def of(self, topic: str) -> list[str]:
        return [text for name, text, _ in self.heard if name == f"{PREFIX}/{topic}"]

    def retained(self) -> dict[str, str]:
        """The present state, as far as it came at once on subscribing."""
        return {name.removeprefix(f"{PREFIX}/"): text for name, text, kept in self.heard if kept}

    def send(self, command: str, *, retain: bool = False, sent_s: float | None = None, **body):
        """A command; its answer."""
        number = f"{len(self.heard)}-{time.monotonic_ns()}".encode()
        asked = Properties(PacketTypes.PUBLISH)
        asked.ResponseTopic = f"{PREFIX}/answer/phone"
        asked.CorrelationData = number
        body = {"id": f"phone-{number.decode()}", "time": sent_s or time.time(), **body}
        topic = f"{PREFIX}/do/{command}"
        self._client.publish(topic, json.dumps(body), 1, retain, asked)
        until(lambda: self._answered(number), f"an answer to {command}")
        if retain:
            self._client.publish(topic, b"", 1, True)
        return json.loads(self.of("answer/phone")[-1])

    def _answered(self, number: bytes) -> bool:
        answer = self.properties.get(f"{PREFIX}/answer/phone")
        return getattr(answer, "CorrelationData", None) == number

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


class Wall:
    """What the probes read: a wall that is led to a temperature, with a little noise."""

    def __init__(self, value_c: float) -> None:
        self.now_c = self.goal_c = value_c
        self._random = random.Random(4)

    def line(self) -> list[float]:
        step_k = 0.05  # a line each 0.1 s: half a kelvin a second
        self.now_c += max(-step_k, min(step_k, self.goal_c - self.now_c))
        return [round(at_c + self._random.gauss(0.0, 0.05), 2) for at_c in (self.now_c, 22.0)]


@pytest.fixture
def broker(start_broker):
    """The example configuration of the project, on a free port, that saves each change at once."""
    lines = (CONFIG / "mosquitto.conf").read_text().splitlines()
    kept = [line for line in lines if not line.startswith(("listener ", "autosave_interval "))]
    assert len(kept) == len(lines) - 2
    broker = start_broker(
        *kept,
        "autosave_interval 1",
        "autosave_on_changes true",
        files={"mosquitto.acl": (CONFIG / "mosquitto.acl").read_text()},
        passwords=PASSWORDS,
    )
    yield broker
    broker.kill()


@pytest.fixture
def bench(broker, tmp_path):
    (tmp_path / "password.txt").write_text(PASSWORDS["bench"] + "\n")
    (tmp_path / "password.txt").chmod(0o600)
    more = EVENING.format(port=broker.port, python=sys.executable, told=tmp_path / "told")
    with BenchProcess(tmp_path, TWO_PROBES + more) as bench:
        yield bench


@pytest.fixture
def phone(broker):
    phone = Phone(broker, "pocket", keep=True)
    yield phone
    phone.close()


def test_an_evening(bench, broker, phone):
    wall = Wall(59.7)
    bench.start(cold=True)
    bench.opened()
    bench.write(wall.line)
    until(lambda: bench.alarm(LIMIT), "the wall is over its limit")
    checks = ["tray", "clear", "vessel", "room", "lid", "watcher"]
    body = {"station": "jar-a", "trial": "cedar-12", "watched_by": "Ines", "checks": checks}
    assert bench.post("/api/burns", **body)[0] == 201
    until(
        lambda: (
            "jar-a (cedar-12): recorded lit, the first burn of cedar-12"
            in "\n".join(phone.of("phone"))
        ),
        "lit is told",
    )
    assert any(line.startswith("WARNING: jar-a: Go to the candle") for line in phone.of("phone"))
    assert phone.properties[f"{PREFIX}/phone"].MessageExpiryInterval <= 3600
    until(lambda: phone.of("channel/jar-a-wall-3"), "an estimate is told")
    assert phone.properties[f"{PREFIX}/channel/jar-a-wall-3"].MessageExpiryInterval <= 900

    no_warning_can_be_shelved(bench, phone)
    commands_of_the_past_are_refused(phone)
    assert bench.alarm(LIMIT)["state"] == "unacknowledged"
    assert phone.send("acknowledge", alarm=LIMIT, by="Ines")["ok"]
    answered(bench, LIMIT, by="Ines", where="mqtt")
    done = bench.typed("alarm", "acknowledge", LIMIT, "--by", "Jo")
    assert "nothing to acknowledge" in done.stderr
    until(lambda: not undelivered(bench), "all is told before the broker goes")

    broker.kill()
    gone_s = time.monotonic()
    wall.goal_c = 55.0
    bench.port.unplug()
    until(lambda: bench.alarm("silent/jar-a-wall-3"), "the unplugged probe is silent")
    bench.kill()  # what it has not sent waits on the disk
    bench.port.replug()
    bench.start()
    bench.opened()
    answered(bench, LIMIT, by="Ines", where="mqtt")
    the_way_out_is_broken(bench, broker)
    time.sleep(max(0.0, gone_s + OUTAGE_S - time.monotonic()))
    assert undelivered(bench)

    broker.start()
    until(lambda: not undelivered(bench), "what waited is delivered", 60.0)
    delivery = f"delivery/mqtt 127.0.0.1:{broker.port}"
    until(lambda: bench.alarm(delivery) is None, "the way out is well again")
    a_late_phone_sees_what_stands(bench, broker)

    until(lambda: not standing(bench), "all is back to normal", 90.0)
    while alarms := bench.now()["alarms"]:  # each with what was told in its line
        assert bench.typed("alarm", "acknowledge", alarms[0]["alarm"]).returncode == 0
    until(lambda: not undelivered(bench), "the last acknowledgements are delivered")
    a_late_phone_sees_what_stands(bench, broker)
    assert bench.now()["alarms"] == []

    stopped_with_a_burn_lit(bench, broker, phone)
    every_event_came_with_one_id_in_order(bench, phone)
    lines = "\n".join(phone.of("phone"))
    assert "Alarms do not reach the phone" in lines
    assert lines.count("it was not watched for") == 2
    no_secret_anywhere(bench, *PASSWORDS.values())


def no_warning_can_be_shelved(bench, phone):
    done = bench.typed("alarm", "shelve", LIMIT, "--for", "30 min")
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "cannot be shelved" in done.stderr
    status, problem = bench.post(f"/api/alarms/{LIMIT}/shelve", lasts="30 min")
    assert (status, "cannot be shelved" in problem["detail"]) == (409, True)
    refused = phone.send("shelve", alarm=LIMIT, lasts="30 min")
    assert "there is no such command" in refused["error"]


def commands_of_the_past_are_refused(phone):
    assert "retained" in phone.send("acknowledge", alarm=LIMIT, retain=True)["error"]
    stale = phone.send("acknowledge", alarm=LIMIT, sent_s=time.time() - 40.0)
    assert "more than 30 s apart" in stale["error"]


def answered(bench, key, *, by, where):
    alarm = bench.alarm(key)
    said = (alarm["state"], alarm["acknowledged_by"], alarm["acknowledged_where"])
    assert said == ("acknowledged", by, where)
    assert re.fullmatch(r"\d{4}-.*Z", alarm["acknowledged"])
    assert f"acknowledged by {by} ({where})" in page(bench)


def the_way_out_is_broken(bench, broker):
    """Raised after 30 s: on the page, at the terminal with its bell, by the maker's program."""
    began_s = time.monotonic()
    key = f"delivery/mqtt 127.0.0.1:{broker.port}"
    alarm = until(lambda: bench.alarm(key), "delivery is raised", 45.0)
    assert 25.0 < time.monotonic() - began_s < 40.0
    assert (alarm["priority"], alarm["state"]) == ("warning", "unacknowledged")
    assert "Alarms do not reach the phone" in page(bench)
    assert "\aWARNING: Alarms do not reach the phone: stay where you see the" in said(bench)
    assert f"mqtt 127.0.0.1:{broker.port}: nothing listens there" in said(bench)
    told = bench.folder / "told"
    until(lambda: told.exists() and '"delivery"' in told.read_text(), "the program is started")
    assert {json.loads(line)["rule"] for line in told.read_text().splitlines()} >= {"delivery"}
    assert bench.post(f"/api/alarms/{quote(key)}/acknowledge", by="Ada")[0] == 201
    answered(bench, key, by="Ada", where="page")


def a_late_phone_sees_what_stands(bench, broker):
    late = Phone(broker)
    try:
        until(lambda: "channel/room" in late.retained(), "the present state comes")
        until(lambda: _alarms(late.retained()) == _of_now(bench), "every alarm that stands")
        kept = late.retained()
    finally:
        late.close()
    assert kept["status"] == "online"
    assert json.loads(kept["burn/jar-a"])["state"] == "lit"
    assert {"channel/jar-a-wall-3", "channel/room"} <= kept.keys()
    assert "phone" not in kept
    assert "event" not in kept


def _alarms(kept):
    states = (json.loads(text) for name, text in kept.items() if name.startswith("alarm/") and text)
    return {one["alarm"]: one["state"] for one in states}


def _of_now(bench):
    return {one["alarm"]: one["state"] for one in bench.now()["alarms"]}


def stopped_with_a_burn_lit(bench, broker, phone):
    before = len(phone.heard)
    assert bench.terminate() == 0, said(bench)
    until(lambda: phone.of("status")[-1] == "offline", "offline is told")
    last = phone.heard[before:]
    ended = [text for topic, text, _ in last if topic == f"{PREFIX}/event"]
    assert json.loads(ended[-1])["event"] == "watch-ended"
    assert any(
        topic == f"{PREFIX}/phone" and "the watch has ended. Nothing warns you" in text
        for topic, text, _ in last
    )
    assert last[-1][1] == "offline"
    assert "the watch has ended" in said(bench)
    late = Phone(broker)
    until(lambda: late.retained().get("status") == "offline", "offline is kept")
    late.close()
    bench.start()
    until(lambda: phone.of("status")[-1] == "online", "it is back")
    until(lambda: not undelivered(bench), "that it is back is delivered")


def every_event_came_with_one_id_in_order(bench, phone):
    until(lambda: _events(phone).count("watch-resumed") == 2, "both restarts are heard")
    with open_read(bench.data) as reader:
        stored = [one.event.id for one in reader.events()]
    assert len(stored) == len(set(stored))
    until(lambda: _ids(phone)[-1] == stored[-1], "the last event is heard")
    assert list(dict.fromkeys(_ids(phone))) == stored
    assert len(set(phone.of("event"))) == len(
        stored
    )  # a second delivery is the same, byte for byte
    events = _events(phone)
    assert events.count("watch-resumed") == 2
    assert {"lit", "raised", "acknowledged", "cleared", "watch-ended"} <= set(events)


def _events(phone):
    return [json.loads(text)["event"] for text in dict.fromkeys(phone.of("event"))]


def _ids(phone):
    return [json.loads(text)["id"] for text in phone.of("event")]


def undelivered(bench):
    with open_read(bench.data) as reader:
        return [one.event.id for one in reader.events() if not one.delivered]


def standing(bench):
    """Alarms whose condition is still there."""
    over = "returned-unacknowledged"
    return [one["alarm"] for one in bench.now()["alarms"] if one["state"] != over]


def page(bench):
    with urllib.request.urlopen(bench.address + "/", timeout=patient(10)) as answer:
        return answer.read().decode()


def said(bench):
    return bench.log.read_text()


def no_secret_anywhere(bench, *secrets):
    """Neither in the log, nor on the page, nor in anything that is kept or handed out."""
    checked = bench.wickbench("check").stdout
    handed_out = [said(bench), page(bench), json.dumps(bench.now()), checked]
    files = [path for path in bench.data.rglob("*") if path.is_file()]
    assert any(path.stat().st_size > 10_000 for path in files)
    for secret in secrets:
        assert not any(secret in text for text in handed_out)
        assert not any(secret.encode() in path.read_bytes() for path in files)


def test_tls_and_a_wrong_password_are_named_and_put_right_without_a_restart(
    start_broker, certificates, tmp_path
):
    broker = start_broker(
        "allow_anonymous false",
        "password_file mosquitto.passwd",
        f"cafile {certificates.ca}",
        f"certfile {certificates.broker}",
        f"keyfile {certificates.broker_key}",
        passwords=PASSWORDS,
    )
    shutil.copy(certificates.ca, tmp_path / "ca.pem")
    wrong = "wrong-" + PASSWORDS["bench"]
    (tmp_path / "password.txt").write_text(wrong + "\n")
    (tmp_path / "password.txt").chmod(0o600)
    more = EVENING.format(port=broker.port, python=sys.executable, told=tmp_path / "told")
    with BenchProcess(tmp_path, TWO_PROBES + more + '[mqtt.tls]\nca = "ca.pem"\n') as bench:
        bench.start()
        name = f"mqtt 127.0.0.1:{broker.port}"
        until(lambda: f"{name}: " in said(bench), "the broker's refusal is said")
        assert "check username and password in [mqtt]" in said(bench)
        checked = bench.wickbench("check")
        assert checked.returncode == 4
        assert "check username and password in [mqtt]" in checked.stdout
        no_secret_anywhere(bench, *PASSWORDS.values())
        (tmp_path / "password.txt").write_text(PASSWORDS["bench"] + "\n")
        until(lambda: f"{name}: connected" in said(bench), "it is let in")
        no_secret_anywhere(bench, *PASSWORDS.values())
        assert bench.terminate() == 0
    broker.kill()
