"""Settings as the service uses them. Secrets are not in here, only where they are kept."""

import contextlib
import os
import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from logger.burn.limits import Limits, Station
from logger.errors import SettingsError
from logger.quantities import Channel


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSettings:
    """The bench itself."""

    name: str
    data: Path  # the folder of the database
    show: Mapping[str, str]  # unit to show temperature, length and mass in


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceField:
    """A field in the lines of one of several devices on a port."""

    device: str
    field: int | str


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerField:
    """A value in the answer to a question."""

    query: str
    field: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterField:
    """A number in the registers of a Modbus device."""

    device: int
    table: str  # "input" or "holding"
    address: int  # from 0, as it goes over the line
    type: str
    word_order: str
    scale: float


Field = int | str | DeviceField | AnswerField | RegisterField
"""Where a channel is in what its instrument sends; a text is a name, key or 1-Wire sensor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentSettings:
    """One instrument, its link and the channels that it delivers."""

    name: str
    driver: str
    silent_after_s: float | None = None  # None: the longer of 15 s and three of its own intervals
    port: str = ""
    baud: int = 9600
    parity: str = "none"  # "even", "odd"
    stop_bits: int = 1
    dtr: bool | None = None  # None: as the system leaves it
    rts: bool | None = None
    start: tuple[str, ...] = ()  # commands at each opening
    poll: tuple[str, ...] = ()  # questions, each answered by a line; empty: it speaks unasked
    command_end: str = "\r\n"
    every_s: float = 1.0  # from one question to the next
    answer_within_s: float = 1.0  # real time
    folder: Path | None = None  # of the kernel's 1-Wire files; None: the usual one
    format: str = "csv"
    separator: str | None = None  # None: the format's own
    decimal: str = "."
    columns: int | None = None  # csv: how many a line has; None: as many as the fields need
    fields: tuple[Field, ...] = ()  # where each of `channels` is, in their order
    channels: tuple[Channel, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Secret:
    """Where a password or token is kept: a file that holds nothing else, or the environment."""

    key: str  # of the configuration, for messages
    file: Path | None = None
    variable: str | None = None

    def read(self) -> str:
        """The secret itself; raises SettingsError that says where it was looked for."""
        if self.variable is not None:
            secret = os.environ.get(self.variable, "")
            where = f"the environment variable {self.variable}"
        else:
            assert self.file is not None
            where = str(self.file)
            self._refuse_open_file(self.file)
            try:
                secret = self.file.read_text(encoding="utf-8").rstrip("\r\n")
            except (OSError, UnicodeDecodeError) as exc:
                reason = exc.strerror if isinstance(exc, OSError) else "it is no text"
                raise SettingsError(
                    [f"{self.key}: {where} cannot be read: {reason}; put the secret there, alone"]
                ) from exc
        if not secret:
            raise SettingsError([f"{self.key}: {where} is empty; put the secret there, alone"])
        return secret

    def _refuse_open_file(self, file: Path) -> None:
        """Raise SettingsError where every user of this machine may read the file."""
        with contextlib.suppress(OSError):  # what is not there is told by who reads it
            found = file.stat()
            if found.st_mode & 0o007:
                name, me = shlex.quote(str(file)), os.geteuid()
                line = f"chmod 600 {name}"
                if found.st_uid != me:
                    line = f"sudo chown {me} {name} && sudo {line}"
                raise SettingsError(
                    [f"{self.key}: {file} may be read by others; type this: {line}"]
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class TlsSettings:
    """Encryption: the authority to trust (None: the system's), and a certificate of our own."""

    ca: Path | None = None
    cert: Path | None = None
    key: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """The broker that alarms go to."""

    host: str
    port: int
    commands: bool  # whether topics under do/ are obeyed
    username: str | None
    password: Secret | None
    tls: TlsSettings | None

    @property
    def name(self) -> str:
        """What the broker is called in alarms."""
        return f"mqtt {self.host}:{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class InfluxSettings:
    """A time-series engine that takes the v2 write protocol."""

    url: str
    org: str
    bucket: str
    token: Secret | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """Where the page is served."""

    host: str
    port: int  # 0: any free one


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSettings:
    """What alarms do beyond the page and the broker."""

    run: tuple[str, ...]  # program and arguments to start when the way out is broken; () for none
    unwatched_s: float  # how often a burn asks who has it in sight


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that a configuration says."""

    path: Path
    text: str  # as it was read: kept with each burn
    bench: BenchSettings
    limits: Limits
    stations: tuple[Station, ...]
    instruments: tuple[InstrumentSettings, ...]
    mqtt: MqttSettings | None
    influx: InfluxSettings | None
    web: WebSettings | None
    alarms: AlarmSettings

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Every channel, in the order of the configuration."""
        return tuple(channel for one in self.instruments for channel in one.channels)
