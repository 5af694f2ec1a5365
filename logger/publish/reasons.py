"""Why a broker cannot be reached, in words of a person, each with what to fix."""

import socket
import ssl

import aiomqtt
from paho.mqtt.reasoncodes import ReasonCode

from logger.errors import SettingsError
from logger.messages import LONGEST_LINE, one_line
from logger.publish.broker_link import (
    CONNECT_S,
    BrokerRefuses,
    CannotBeSent,
    TurnedAway,
    Unanswered,
)
from logger.settings import MqttSettings

# Reason codes of MQTT 5 (OASIS standard, 2.4). Brokers say "not authorised" to a wrong password.
_CODES = {
    0x84: "the broker does not speak MQTT 5; take a newer one",
    0x85: "the broker does not take our client name; allow wickbench-* there",
    0x86: "wrong user name or password; check username and password in [mqtt]",
    0x87: "the broker does not let us in; check username and password in [mqtt], and its ACL",
    0x88: "the broker is not ready to serve",
    0x89: "the broker is busy",
    0x8A: "the broker has banned this client; look into its log",
    0x8B: "the broker is shutting down",
    0x8E: "another client of the same name has taken over; give each bench a name of its own",
    0x95: "the broker finds a message too long; raise its limit",
    0x97: "the broker's quota is used up; raise it",
    0x9A: "the broker does not keep retained messages; allow them there",
    0x9B: "the broker does not offer QoS 1; allow it there",
}


def reason(  # noqa: PLR0912 - a branch a fault
    exc: BaseException, settings: MqttSettings
) -> str:
    """What `exc` means for a person at the bench; holds no secret."""
    match exc:
        case SettingsError():
            return one_line("; ".join(exc.problems), LONGEST_LINE)
        case CannotBeSent():
            return f"what goes to {exc.topic[:200]} cannot be sent: {exc.why}; set aside"
        case BrokerRefuses():
            return (
                f"the broker refuses what goes to {exc.topic} ({exc.why}); "
                "let this user write there (ACL)"
            )
        case Unanswered():
            return "the broker takes the connection but does not answer; is it stuck?"
        case TurnedAway() if settings.tls is None:
            return "the broker closes the connection at once; is this its TLS port? see [mqtt.tls]"
        case TurnedAway():
            return "the broker closes the connection at once; does it know our certificate?"
        case ConnectionRefusedError():
            return "nothing listens there; start the broker, or check host and port in [mqtt]"
        case socket.gaierror() | UnicodeError():
            return "no such host; check host in [mqtt], and the network"
        case ssl.SSLCertVerificationError():
            return (
                f"its certificate is not trusted ({exc.verify_message}); "
                "check ca in [mqtt.tls], and host"
            )
        case ssl.SSLError() | ConnectionResetError() if settings.tls is not None:
            return "no encrypted connection; is this the broker's TLS port? check [mqtt.tls]"
        case TimeoutError():
            return f"no answer within {CONNECT_S:g} s; check host, network and firewall"
        case OSError():
            return f"{exc.strerror or 'connection failed'}; check host, port and network"
        case aiomqtt.MqttCodeError(rc=ReasonCode() as code) if code.value in _CODES:
            return _CODES[code.value]
        case aiomqtt.MqttError() if isinstance(exc.__cause__, aiomqtt.MqttCodeError):
            return reason(exc.__cause__, settings)
        case aiomqtt.MqttError():
            return "the connection was lost; is the broker up, and no other bench of this name?"
        case _:
            return "internal error, see the log"
