"""One connection to a time-series engine that takes the v2 write protocol.

Every answer but a success is an error of one of three kinds, by what helps: waiting, a person, or
leaving a point out.
"""

import asyncio
import ssl
from collections.abc import Sequence
from types import TracebackType
from typing import Self

import aiohttp
from influxdb_client.client.influxdb_client_async import InfluxDBClientAsync
from influxdb_client.rest import ApiException

from logger.errors import SettingsError, WickbenchError
from logger.messages import LONGEST_LINE, one_line
from logger.publish.points import check_line
from logger.settings import InfluxSettings


class EngineAway(WickbenchError):
    """It cannot be reached or cannot take anything now; that passes."""

    def __init__(self, why: str, *, slow: bool = False) -> None:
        super().__init__(why)
        self.slow = slow


class EngineRefuses(WickbenchError):
    """It takes nothing from us until a person has changed something."""


class PointsRefused(WickbenchError):
    """It does not take these points, or not in one batch."""

    def __init__(self, why: str, *, too_long: bool) -> None:
        super().__init__(why)
        self.too_long = too_long


class EngineLink:
    """A client of influxdb-client; makes no request until the first write."""

    def __init__(
        self, settings: InfluxSettings, token: str | None, tls: ssl.SSLContext, answer_s: float
    ) -> None:
        self._settings = settings
        self._answer_s = answer_s
        self._client = InfluxDBClientAsync(
            settings.url,
            token=token or "",
            org=settings.org or "",
            timeout=round(answer_s * 1000),
            ssl_context=tls,
            allow_redirects=False,  # a POST would come back as a GET, whose success means nothing
        )

    @classmethod
    async def open(cls, settings: InfluxSettings, answer_s: float) -> Self:
        """Read the token anew: it may have been changed. Raises SettingsError."""
        return cls(settings, *await asyncio.to_thread(_credentials, settings), answer_s)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        exc: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self._client.close()  # type: ignore[no-untyped-call] # the library leaves it untyped

    async def write(self, lines: Sequence[str]) -> None:
        """Return once the engine has taken all of them.

        Raises EngineAway, EngineRefuses, PointsRefused.
        """
        body = "\n".join(lines).encode("utf-8", "replace")
        try:
            taken = await self._client.write_api().write(self._settings.bucket, record=body)
        except ApiException as exc:
            raise _refusal(exc, self._settings) from exc
        except (aiohttp.ClientError, OSError, UnicodeError, ValueError) as exc:
            raise self._away(exc) from exc
        if not taken:
            raise EngineRefuses(_NO_ENGINE)

    def _away(self, exc: Exception) -> EngineAway:
        match exc:
            case TimeoutError():
                why = f"no answer within {self._answer_s:g} s; is the engine stuck, or the network?"
            case aiohttp.ClientConnectorCertificateError() | aiohttp.ClientConnectorSSLError():
                why = "no encrypted connection, or a certificate that is not trusted; check url"
            case aiohttp.ClientConnectorDNSError() | UnicodeError():
                why = "no such host; check url in [influx], and the network"
            case aiohttp.ClientConnectorError(os_error=ConnectionRefusedError()):
                why = "nothing listens there; start the engine, or check url in [influx]"
            case aiohttp.ClientConnectorError():
                why = f"{exc.os_error.strerror or 'no connection'}; check url and the network"
            case _:
                why = "the connection was lost; is the engine up?"
        return EngineAway(why, slow=isinstance(exc, TimeoutError))


async def probe(
    settings: InfluxSettings, bench: str, at_s: float, *, answer_s: float = 5.0
) -> str | None:
    """Have the engine take one point, for `wickbench check`; what is wrong, None for nothing."""
    try:
        async with await EngineLink.open(settings, answer_s) as link:
            await link.write([check_line(bench, at_s)])
    except SettingsError as exc:
        return "; ".join(exc.problems)
    except WickbenchError as exc:
        return str(exc)
    return None


_NO_ENGINE = (
    "what answers there does not speak the InfluxDB v2 write protocol; check url in [influx]"
)


def _credentials(settings: InfluxSettings) -> tuple[str | None, ssl.SSLContext]:
    """Token and trust; on a thread, since the system's authorities take 30 ms to read."""
    encrypted = settings.url.startswith("https:")
    tls = ssl.create_default_context() if encrypted else ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    return None if settings.token is None else settings.token.read(), tls


def _refusal(exc: ApiException, settings: InfluxSettings) -> WickbenchError:
    """What the engine's answer means. Statuses: the write API's own description (OpenAPI)."""
    says = one_line(str(exc.message or exc.reason or ""), LONGEST_LINE // 3)
    match exc.status:
        case 400 | 422:
            return PointsRefused(says or "it gives no reason", too_long=False)
        case 413:
            return PointsRefused("it is too long for the engine", too_long=True)
        case 401:
            return EngineRefuses(
                "the engine does not know our token; check token_file in [influx] (or token_env)"
            )
        case 403:
            return EngineRefuses(
                f"our token may not write into {settings.bucket}; allow that in the engine"
            )
        case 404:
            return EngineRefuses(
                f"the engine has no bucket {settings.bucket} for us; make it there, or check url, "
                "org and bucket in [influx]"
            )
        case 429 | 503:
            return EngineAway("the engine is busy; it is tried again")
        case int() as status if status >= 500:
            return EngineAway(f"the engine has a fault of its own ({status} {says}); see its log")
        case _:
            return EngineRefuses(_NO_ENGINE)
