"""Passwords, certificates, access lists: let in, or told in plain words why not."""

import asyncio
import json
import logging
from pathlib import Path

import aiomqtt
import pytest

from logger.intake.entered import Entered
from logger.publish.credentials import Credentials
from logger.publish.probe import probe
from logger.settings import TlsSettings
from tests.support.broker import free_port, tls_client
from tests.support.mqtt_bench import BENCH, T0_S, Bench, estimate, raised, settings_for
from tests.support.waiting import within

CONFIG = Path(__file__).parents[2] / "config"
PASSWORD = "candle-light-7"


def secret(path: Path, word: str) -> Path:
    path.write_text(word + "\n")
    path.chmod(0o600)
    return path


@pytest.fixture
def guarded(start_broker):
    """The example configuration of the project, on a free port."""
    lines = (CONFIG / "mosquitto.conf").read_text().splitlines()
    kept = [line for line in lines if not line.startswith("listener ")]
    assert len(kept) == len(lines) - 1
    broker = start_broker(
        *kept,
        files={"mosquitto.acl": (CONFIG / "mosquitto.acl").read_text()},
        passwords={"bench": PASSWORD, "phone": "in-my-pocket"},
    )
    yield broker
    broker.kill()


async def test_the_example_broker_lets_in_who_has_a_password(guarded, listening, tmp_path):
    obeyed = asyncio.Event()

    async def enter(entry, _sure) -> Entered:
        obeyed.set()
        return Entered(entry=entry, burn=None, text="")

    bench = Bench(
        settings_for(
            guarded,
            username="bench",
            password_file=secret(tmp_path / "password", PASSWORD),
            commands=True,
        ),
        enter=enter,
    )
    bench.shelf.add(3)
    phone = {"username": "phone", "password": "in-my-pocket"}
    async with bench.running(), listening(guarded, "wickbench/#", **phone) as ear:
        bench.take([raised(), estimate(41.0)])
        await ear.hear("/phone")
        await ear.hear("channel/wall")
        await bench.shelf.until_marked(3)
        async with aiomqtt.Client(guarded.host, guarded.port, **phone) as pocket:
            await pocket.publish(f"wickbench/{BENCH}/phone", "all is well", qos=1)
            command = {"id": "phone-0001", "time": T0_S, "alarm": "wall-limit/wall"}
            await pocket.publish(f"wickbench/{BENCH}/do/acknowledge", json.dumps(command), qos=1)
        async with within(10):
            await obeyed.wait()
    assert "all is well" not in ear.of("/phone")  # a phone cannot speak for the bench


async def test_the_example_broker_keeps_strangers_out(guarded):
    bench = Bench(settings_for(guarded))
    async with bench.running():
        assert "username and password" in await bench.until_health(ok=False)


async def test_no_credential_in_log_report_or_repr(guarded, tmp_path, caplog):
    caplog.set_level(logging.DEBUG)
    caplog.set_level(logging.DEBUG, logger="mqtt")  # the client library's own
    wrong = "wrong-" + PASSWORD
    settings = settings_for(
        guarded, username="bench", password_file=secret(tmp_path / "password", wrong)
    )
    bench = Bench(settings)
    async with bench.running():
        reason = await bench.until_health(ok=False)
    assert "check username and password in [mqtt]" in reason
    shown = [repr(settings), repr(bench.publisher), repr(Credentials.read(settings))]
    assert "Sending CONNECT" in caplog.text
    assert PASSWORD not in " ".join([caplog.text, *map(repr, bench.health), *shown])


async def test_a_password_put_right_is_taken_without_a_restart(guarded, tmp_path):
    path = tmp_path / "password"
    bench = Bench(settings_for(guarded, username="bench", password_file=secret(path, "wrong")))
    async with bench.running():
        await bench.until_health(ok=False)
        path.write_text(PASSWORD)
        path.chmod(0o600)
        await bench.until_health(ok=True)


async def test_what_the_broker_refuses_is_not_taken_for_delivered(start_broker, listening):
    """In MQTT 5 a refused message is confirmed, with a reason code."""
    acl = "topic readwrite #\ntopic deny wickbench/back-room/event\n"
    broker = start_broker("allow_anonymous true", "acl_file acl", files={"acl": acl})
    bench = Bench(settings_for(broker))
    bench.shelf.add(2)
    async with bench.running(), listening(broker) as ear:
        await bench.until_reason("refuses what goes to wickbench/back-room/event")
        bench.take([raised()])
        await ear.hear("/phone")  # the rest goes on
    assert bench.shelf.marked == set()
    assert not any(one.ok for one in bench.health)  # else the alarm's delay would begin anew
    broker.kill()


async def test_check_tries_the_broker_once(guarded, tmp_path):
    good = settings_for(
        guarded, username="bench", password_file=secret(tmp_path / "good", PASSWORD)
    )
    assert await probe(good, BENCH) is None
    wrong = settings_for(
        guarded, username="bench", password_file=secret(tmp_path / "wrong", "wrong")
    )
    assert "check username and password" in await probe(wrong, BENCH)
    phone = settings_for(
        guarded, username="phone", password_file=secret(tmp_path / "phone", "in-my-pocket")
    )
    assert "let this user write there" in await probe(phone, BENCH)


async def test_check_leaves_a_running_service_alone(broker, listening):
    async with listening(broker) as ear, Bench(settings_for(broker)).running():
        await ear.hear("status", "online")
        assert await probe(settings_for(broker), BENCH) is None
        await ear.hear("/check")
        assert ear.of("status") == ["online"]


async def test_check_does_not_wait_for_ever(broker):
    broker.stall()
    assert "is it stuck?" in await probe(settings_for(broker), BENCH, answer_s=0.2)


async def test_tls_with_a_client_certificate(tls_broker, certificates, listening):
    tls = TlsSettings(ca=certificates.ca, cert=certificates.client, key=certificates.client_key)
    bench = Bench(settings_for(tls_broker, tls=tls))
    bench.shelf.add(50)
    context = tls_client(certificates)
    async with bench.running(), listening(tls_broker, tls_context=context) as ear:
        bench.take([raised()])
        await ear.hear("/phone")
        await bench.shelf.until_marked(50)


async def test_two_benches_of_one_name_are_told(broker):
    first, second = Bench(settings_for(broker)), Bench(settings_for(broker))
    async with first.running():
        await first.until_health(ok=True)
        async with second.running():
            await first.until_reason("no other bench of this name")


def nothing_listens(_broker, _tls_broker, _certificates):
    return settings_for(_broker, port=free_port())


def no_such_host(broker, _tls_broker, _certificates):
    return settings_for(broker, host="no..host")


def no_certificate(_broker, tls_broker, certificates):
    return settings_for(tls_broker, tls=TlsSettings(ca=certificates.ca))


def unknown_authority(_broker, tls_broker, certificates):
    tls = TlsSettings(cert=certificates.client, key=certificates.client_key)
    return settings_for(tls_broker, tls=tls)


def another_name(_broker, tls_broker, certificates):
    tls = TlsSettings(ca=certificates.ca, cert=certificates.client, key=certificates.client_key)
    return settings_for(tls_broker, tls=tls, host="localhost")


def tls_to_a_plain_port(broker, _tls_broker, certificates):
    return settings_for(broker, tls=TlsSettings(ca=certificates.ca))


def plain_to_a_tls_port(_broker, tls_broker, _certificates):
    return settings_for(tls_broker)


def authority_missing(_broker, tls_broker, certificates):
    return settings_for(tls_broker, tls=TlsSettings(ca=certificates.ca.with_name("none.pem")))


def authority_no_certificate(_broker, tls_broker, certificates):
    return settings_for(tls_broker, tls=TlsSettings(ca=certificates.client_key))


def key_of_another(_broker, tls_broker, certificates):
    tls = TlsSettings(ca=certificates.ca, cert=certificates.client, key=certificates.broker_key)
    return settings_for(tls_broker, tls=tls)


def password_missing(broker, _tls_broker, certificates):
    missing = certificates.ca.with_name("none.txt")
    return settings_for(broker, username="bench", password_file=missing)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (nothing_listens, "nothing listens there; start the broker"),
        (no_such_host, "no such host; check host in [mqtt]"),
        (no_certificate, "does it know our certificate?"),
        (unknown_authority, "its certificate is not trusted"),
        (another_name, "localhost"),
        (tls_to_a_plain_port, "is this the broker's TLS port?"),
        (plain_to_a_tls_port, "is this its TLS port?"),
        (authority_missing, "none.pem: No such file"),
        (authority_no_certificate, "holds no certificate"),
        (key_of_another, "do not fit"),
        (password_missing, "none.txt cannot be read"),
    ],
)
async def test_why_it_is_not_connected(wrong, words, broker, tls_broker, certificates):
    tries = asyncio.Semaphore(0)

    async def sleep(_seconds: float) -> None:
        tries.release()
        await asyncio.sleep(0)

    bench = Bench(wrong(broker, tls_broker, certificates), sleep=sleep)
    async with bench.running(), within(10):
        for _ in range(3):
            await tries.acquire()
    assert [one.ok for one in bench.health] == [False]  # said once, though tried again and again
    assert words in bench.health[0].reason
