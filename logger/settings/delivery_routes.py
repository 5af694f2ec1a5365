"""Where alarms, readings and the page go: [mqtt], [influx], [web]."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Self
from urllib.parse import urlsplit

from pydantic import StrictBool, ValidationInfo, field_validator, model_validator

from logger.settings import forms
from logger.settings.forms import FilePath
from logger.settings.keys import Keys, WrongValue, key
from logger.settings.secret import Secret, misplaced, one_of_two, secret


class TlsSettings(Keys):
    """[mqtt.tls]: encryption; empty, it trusts the authorities that the system trusts."""

    ca: FilePath | None = key("authority of the broker; left out: the system's", None, '"ca.pem"')
    cert: FilePath | None = key("certificate of this bench", None, '"bench.pem"')
    key: FilePath | None = key("the key of that certificate", None, '"bench-key.pem"')

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.cert is None) is not (self.key is None):
            raise WrongValue(
                "missing: a certificate goes with its key; write both or neither",
                "cert" if self.cert is None else "key",
            )
        return self


class MqttSettings(Keys):
    """[mqtt]: the broker that alarms go to."""

    misplaced: ClassVar[Mapping[str, str]] = misplaced("password")

    host: forms.Host = key("name or address of the broker")
    tls: TlsSettings | None = key("encryption; left out: none", None)
    port: Annotated[int, forms.whole(1, 65_535, "1883")] = key(
        "left out: 1883, with [mqtt.tls] 8883",  # registered with IANA
        lambda above: 1883 if above["tls"] is None else 8883,
    )
    username: forms.Text | None = key("as the broker knows it", None, '"bench"')
    password_file: FilePath | None = key(
        "holds the password and nothing else", None, '"mqtt-password.txt"'
    )
    password_env: forms.Variable | None = key("or the environment variable that holds it", None)
    commands: StrictBool = key("true: take acknowledgements and entries by MQTT", False)

    @field_validator("password_env")
    @classmethod
    def _in_one_place(cls, variable: str | None, info: ValidationInfo) -> str | None:
        return one_of_two("password", info.data.get("password_file"), variable)

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.username is None) is not (self.password is None):
            lacking = "username" if self.username is None else "password_file"
            there = "a password" if self.username is None else "username"
            raise WrongValue(f"missing beside {there}; write both or neither", lacking)
        return self

    @property
    def password(self) -> Secret | None:
        """Where it is kept."""
        return secret("password", self.password_file, self.password_env)

    @property
    def name(self) -> str:
        """What the broker is called in alarms."""
        return f"mqtt {self.host}:{self.port}"


class InfluxSettings(Keys):
    """[influx]: a time-series engine that takes the v2 write protocol.

    Single-user engines need neither organisation nor token.
    """

    misplaced: ClassVar[Mapping[str, str]] = misplaced("token")

    url: forms.WebAddress = key("address of the engine")
    org: forms.Text | None = key(
        "organisation; left out where the engine knows none", None, '"workshop"'
    )
    bucket: forms.Text = key("or the database, as the engine calls it", "wickbench", '"wickbench"')
    token_file: FilePath | None = key(
        "holds the token and nothing else", None, '"influx-token.txt"'
    )
    token_env: forms.Variable | None = key(
        "or the environment variable that holds it", None, '"WICKBENCH_TOKEN"'
    )
    readings: StrictBool = key("true: raw readings too, not estimates and events alone", False)

    @field_validator("token_env")
    @classmethod
    def _in_one_place(cls, variable: str | None, info: ValidationInfo) -> str | None:
        return one_of_two("token", info.data.get("token_file"), variable)

    @property
    def token(self) -> Secret | None:
        """Where it is kept."""
        return secret("token", self.token_file, self.token_env)

    @property
    def name(self) -> str:
        """What the engine is called in alarms."""
        return f"influx {urlsplit(self.url).netloc}"


class WebSettings(Keys):
    """[web]: where the page is served."""

    listen: forms.Address = key("address and port; port 0: any free one")

    @property
    def host(self) -> str:
        """The address."""
        return self.listen[0]

    @property
    def port(self) -> int:
        """The port; 0: any free one."""
        return self.listen[1]
