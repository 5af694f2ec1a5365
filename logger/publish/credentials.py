"""What opens a connection to the broker: a password and certificates, from their files."""

import ssl
from dataclasses import dataclass, field

from logger.errors import SettingsError
from logger.settings import MqttSettings, TlsSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Credentials:
    """What opens a connection, read anew for each: passwords change, certificates are renewed."""

    password: str | None = field(repr=False)
    tls: ssl.SSLContext | None

    @classmethod
    def read(cls, settings: MqttSettings) -> "Credentials":
        """From their files; blocks. Raises SettingsError where one cannot be used."""
        return cls(
            password=None if settings.password is None else settings.password.read(),
            tls=None if settings.tls is None else _tls_context(settings.tls),
        )


class _ClosingSocket(ssl.SSLSocket):
    """paho leaves a socket open whose handshake fails."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def _tls_context(tls: TlsSettings) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=tls.ca)
    except OSError as exc:  # SSLError is one
        reason = "holds no certificate" if isinstance(exc, ssl.SSLError) else exc.strerror
        raise SettingsError(
            [f"mqtt.tls: ca: {tls.ca}: {reason}; name a PEM file with the authority to trust"]
        ) from exc
    context.sslsocket_class = _ClosingSocket
    if tls.cert is not None:
        try:
            context.load_cert_chain(tls.cert, tls.key, password=_no_password)
        except OSError as exc:
            reason = "do not fit" if isinstance(exc, ssl.SSLError) else exc.strerror
            raise SettingsError(
                [
                    f"mqtt.tls: cert, key: {tls.cert}, {tls.key}: {reason}; "
                    "name two PEM files, a certificate and its key"
                ]
            ) from exc
    return context


def _no_password() -> str:
    """OpenSSL would ask at the terminal and wait."""
    raise SettingsError(["mqtt.tls: key: it needs a password; remove the password from the file"])
