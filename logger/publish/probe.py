"""The broker tried once, for `wickbench check`."""

import asyncio

from logger.publish.broker_link import BrokerLink, Unanswered
from logger.publish.credentials import Credentials
from logger.publish.mqtt import FAULTS
from logger.publish.reasons import reason
from logger.publish.topics import Topics
from logger.settings import MqttSettings


async def probe(settings: MqttSettings, bench_name: str, *, answer_s: float = 5.0) -> str | None:
    """Connect once and have the broker take a message; what is wrong, None for nothing."""
    message = Topics(bench=bench_name).check()
    try:
        credentials = await asyncio.to_thread(Credentials.read, settings)
        # a name of its own: a service that runs keeps its connection
        link = BrokerLink(settings, credentials, f"wickbench-{bench_name}-check")
        await link.open(answer_s)
        try:
            async with asyncio.timeout(answer_s):
                refused = await link.send(message)
            if refused:
                raise refused[message.topic]
        finally:
            await link.leave(answer_s)
    except TimeoutError:
        return reason(Unanswered("no PUBACK"), settings)
    except FAULTS as exc:
        return reason(exc, settings)
    return None
