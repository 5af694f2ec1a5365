"""Whatever comes from outside is taken or refused in words, at once; nothing of it ends the watch.

The seed of a run stands in the table of faults and in each failure.
"""

import asyncio
import http.client
import os
import random
import time
from urllib.parse import quote

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from logger import settings
from logger.errors import DataError, SettingsError
from logger.intake.kinds import KINDS
from logger.service.replay import read_csv
from tests.support import fuzzing
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import patient, until, within

TIMES = 250 if os.environ.get("WICKBENCH_LONG") == "1" else 1
HTTP, MQTT, TEXTS, ROWS = 400 * TIMES, 300 * TIMES, 1200 * TIMES, 1200 * TIMES
SLOWEST_S = 5.0  # of one answer, on a machine with other work

COMMANDS = """
[mqtt]
host = "127.0.0.1"
port = {port}
commands = true
"""
CSV = "time,channel,value\n" + "".join(
    f"2031-05-04T09:00:{second:02d}Z,room,{20 + second}.5\n" for second in range(20)
)


@pytest.fixture
def bench(tmp_path, broker):
    text = TWO_PROBES + COMMANDS.replace("{port}", str(broker.port))
    with BenchProcess(tmp_path, text) as bench:
        bench.start()
        bench.opened()
        bench.write(lambda: [45.0, 22.0])
        yield bench


def request(chance, burn, alarms):
    """Method, path and body near those that are meant."""
    what = chance.choice([*KINDS, "nothing", ""])
    subject = chance.choice([burn, *alarms, "room", *fuzzing.WORDS])
    name = quote(subject, safe=chance.choice(("", "/")), errors="surrogatepass")
    place = chance.choice(("burns", "alarms", "readings", "channels", "trials"))
    path = chance.choice(
        (
            "/api/burns", f"/api/{place}/{name}/{what}", f"/api/{place}/{name}", "/api/now",
            f"/stations/{name}/{what}", f"/alarms/{what}", f"/burns/{name}/record",
            f"/api/trials/{name}/verdict", "/api/series", "/api/curve", "/enter", f"/static/{name}",
        )
    )  # fmt: skip
    for key in chance.sample(["channel", "from", "to", "points", "station", "width"], 2):
        said = quote(str(chance.choice((*fuzzing.WORDS, "room", "9" * 5000))), errors="replace")
        path += f"{'&' if '?' in path else '?'}{key}={said}"
    if chance.random() < 0.3:
        return chance.choice(("GET", "HEAD", "PUT", "DELETE", "OPTIONS")), path, b""
    kind = KINDS.get(what, KINDS["readings"])
    (example,) = kind.model_json_schema()["examples"]
    body = fuzzing.document(chance, example)
    if path.startswith(("/stations", "/alarms")):
        body = "&".join(f"{key}={quote(str(v), errors='replace')}" for key, v in example.items())
        body = fuzzing.damaged(chance, body.encode())
    return "POST", path, body


def answered(bench, seed):
    """Status and seconds of each request, over one connection while it lasts."""
    chance = random.Random(seed)
    host, port = bench.address.removeprefix("http://").split(":")
    _, lit = bench.post("/api/burns", station="jar-a", trial="cedar-6", watched_by="Ines")
    wire = http.client.HTTPConnection(host, int(port), timeout=patient(60))
    for number in range(HTTP):
        method, path, body = request(chance, lit["burn"], ("silent/room", "unwatched/jar-a"))
        began_s = time.monotonic()
        try:
            wire.request(method, path, body, {"content-type": "application/json"})
            answer = wire.getresponse()
            answer.read()
        except (http.client.HTTPException, OSError):
            wire.close()  # it may end a connection whose request makes no sense; not the service
            assert bench.process.poll() is None, f"request {number} of seed {seed}: {path}"
            continue
        took_s = time.monotonic() - began_s
        assert answer.status < 500, f"request {number} of seed {seed}: {method} {path} {body!r}"
        assert took_s < SLOWEST_S, (
            f"request {number} of seed {seed}: {took_s} s for {path} {body!r}"
        )
    wire.close()


async def commanded(broker, seed):
    """Commands of every shape; every tenth one is waited for, and answered, or this ends."""
    chance = random.Random(seed)
    examples = {
        "acknowledge": {"alarm": "silent/room"},
        "record-lit": {"station": "jar-a", "trial": "cedar-6"},
        "record-out": {"station": "jar-a"},
        "read": {"station": "jar-a", "values": [41.2, 41.6], "height": "60 mm"},
    }
    v5 = {"protocol": aiomqtt.ProtocolVersion.V5}
    async with aiomqtt.Client(broker.host, broker.port, **v5) as client:
        await client.subscribe("answers/waited-for", qos=1)
        answers = aiter(client.messages)
        for number in range(MQTT):
            name = chance.choice([*examples, "nothing", "é"])
            like = {"id": "phone-0001", "time": time.time(), "by": "Ines"}
            payload = fuzzing.document(chance, like | examples.get(name, {}))[:15_000]
            properties = Properties(PacketTypes.PUBLISH)
            properties.ResponseTopic = chance.choice(
                ("answers/x", "wickbench/test-bench/phone", "wickbench/test-bench/answer/y", "é")
            )
            waits = number % 10 == 9
            if waits:
                properties.ResponseTopic = "answers/waited-for"
            topic = f"wickbench/test-bench/do/{name}"
            retain = chance.random() < 0.05
            await client.publish(topic, payload, 1, retain, properties=properties)
            if waits:
                async with within(30):
                    answer = await anext(answers)
                assert b'"ok":' in bytes(answer.payload), f"command {number} of seed {seed}"


@pytest.mark.faults
async def test_http_and_mqtt_in_any_shape(bench, broker, seed, fault_row):
    await asyncio.to_thread(answered, bench, seed)
    await commanded(broker, seed)
    assert bench.process.poll() is None, f"seed {seed}: {bench.log.read_text()[-4000:]}"
    until(lambda: bench.get("/healthz")["ok"], f"the pipeline ticks after seed {seed}")
    log = bench.log.read_text()
    assert "Traceback" not in log, f"seed {seed}: {log[log.index('Traceback') :][:4000]}"
    until(lambda: bench.now()["channels"][1]["estimate"]["quality"] == "good", "the room is read")
    fault_row(
        "fuzzed inputs: HTTP, MQTT",
        tried=f"{HTTP} + {MQTT}, seed {seed}",
        reached="0 ends, 0 answers 5xx",
        bar="0 ends, 0 answers 5xx",
    )


@pytest.mark.faults
def test_configurations_and_files_in_any_shape(tmp_path, seed, fault_row):
    chance = random.Random(seed)
    example = TWO_PROBES.replace("{folder}", str(tmp_path)) + COMMANDS.replace("{port}", "1883")
    plain = tmp_path / "plain.toml"
    plain.write_text(example)
    channels = settings.load(plain).channels
    slowest_s = 0.0
    for count, like, read, fault in (
        (TEXTS, example, settings.load, SettingsError),
        (ROWS, CSV, lambda path: read_csv(path, channels), DataError),
    ):
        file = tmp_path / "fuzzed"
        for number in range(count):
            raw = fuzzing.text(chance, like)
            file.write_bytes(raw)
            began_s, said = time.process_time(), ""
            try:
                read(file)
            except fault as exc:
                said = str(exc)
            except Exception as exc:
                raise AssertionError(f"text {number} of seed {seed}: {raw!r}") from exc
            assert len(said) < 20_000
            slowest_s = max(slowest_s, time.process_time() - began_s)
    fault_row(
        "fuzzed inputs: configuration, CSV",
        tried=f"{TEXTS} + {ROWS}, seed {seed}",
        reached=f"0 tracebacks, slowest {slowest_s:.2f} s of a processor",
        bar="0 tracebacks, 1 s",
    )
    assert slowest_s < 1.0


def test_a_nested_configuration_is_exit_2_with_a_line(bench):
    bench.config.write_text("[bench]\nname = " + "[" * 3000)
    done = bench.wickbench("check")
    assert done.returncode == 2
    assert done.stderr.startswith("bench.toml:2: ")
    assert done.stderr.count("\n") == 1
