"""What a person is told of a broker that cannot be reached, and how long until the next try."""

import errno
import socket
import ssl

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from logger.errors import SettingsError
from logger.publish.broker_link import (
    BrokerLink,
    BrokerRefuses,
    Credentials,
    TurnedAway,
    Unanswered,
)
from logger.publish.delivery_times import DeliveryTimes
from logger.publish.reasons import reason
from logger.settings import MqttSettings, TlsSettings

PLAIN = MqttSettings(host="127.0.0.1", port=1883)


def connack(code: int) -> aiomqtt.MqttError:
    return aiomqtt.MqttCodeError(ReasonCode(PacketTypes.CONNACK, identifier=code))


def lost(cause: Exception) -> aiomqtt.MqttError:
    error = aiomqtt.MqttError("Disconnected during message iteration")
    error.__cause__ = cause
    return error


@pytest.mark.parametrize(
    ("exc", "words"),
    [
        (ConnectionRefusedError(errno.ECONNREFUSED, "refused"), "nothing listens there"),
        (socket.gaierror(socket.EAI_NONAME, "unknown"), "no such host"),
        (TimeoutError(), "no answer within 4 s"),
        (OSError(errno.ENETUNREACH, "Network is unreachable"), "Network is unreachable; check"),
        (OSError(), "connection failed; check"),
        (Unanswered(""), "is it stuck?"),
        (SettingsError(["password: is empty", "tls: none"]), "password: is empty; tls: none"),
        (connack(0x84), "does not speak MQTT 5"),
        (connack(0x86), "wrong user name or password"),
        (connack(0x87), "check username and password in [mqtt], and its ACL"),
        (connack(0x88), "not ready"),
        (connack(0x9F), "the connection was lost"),  # a code without words of ours
        (lost(connack(0x87)), "does not let us in"),
        (lost(ConnectionResetError(errno.ECONNRESET, "reset by peer")), "connection was lost"),
        (aiomqtt.MqttCodeError(7), "the connection was lost"),
        (TurnedAway(), "is this its TLS port?"),
        (KeyError("bug"), "internal error, see the log"),
    ],
)
def test_plain_words(exc, words):
    assert words in reason(exc, PLAIN)


def test_another_service_of_the_same_name_is_named():
    taken = aiomqtt.MqttCodeError(ReasonCode(PacketTypes.DISCONNECT, identifier=0x8E))
    assert "give each bench a name of its own" in reason(lost(taken), PLAIN)


def test_with_tls_a_closed_connection_points_at_certificates():
    tls = MqttSettings(host="h", port=8883, tls=TlsSettings())
    assert "our certificate" in reason(TurnedAway(), tls)
    assert "TLS port" in reason(ssl.SSLError("wrong version number"), tls)


async def test_a_refused_subscription_is_no_subscription(monkeypatch):
    link = BrokerLink(PLAIN, Credentials(password=None, tls=None), "wickbench-test")

    async def refuse(*_args, **_options):
        return [ReasonCode(PacketTypes.SUBACK, identifier=0x87)]

    monkeypatch.setattr(link, "subscribe", refuse)
    with pytest.raises(BrokerRefuses, match="do/"):
        await link.subscribe_to("wickbench/b/do/+")


@pytest.mark.parametrize(
    ("failures", "longest_s"), [(1, 1.0), (2, 2.0), (5, 16.0), (6, 30.0), (100_000, 30.0)]
)
def test_waits_double_up_to_a_cap_and_half_is_left_to_chance(failures, longest_s):
    assert DeliveryTimes().retry_s(failures, 0.0) == longest_s
    assert DeliveryTimes().retry_s(failures, 1.0) == longest_s / 2.0
