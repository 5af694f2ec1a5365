"""What the core says, as the JSON objects that replay, MQTT and HTTP all hand out.

Keys and meanings are the outer surface; figures are rounded to 0.001 of their unit. Each shape is
a TypedDict beside the function that builds it, and the description of the JSON side is made of
these.
"""

from typing import Any

from logger.alarms.lifecycle import AlarmEvent
from logger.messages.alarm_messages import (
    AlarmEventMessage,
    AlarmMessage,
    alarm_event,
    alarm_state,
)
from logger.messages.burn_messages import (
    BurnEventMessage,
    BurnHeadMessage,
    HottestMessage,
    StatusMessage,
    burn_event,
    burn_head,
    burn_status,
    hottest,
)
from logger.messages.estimate_messages import (
    EstimateMessage,
    ForecastMessage,
    TypedMessage,
    estimate,
    forecast,
    typed,
)
from logger.messages.forwarding_messages import ForwardingMessage, forwarding
from logger.messages.text import LONGEST_LINE, one_line, plain_lines, rounded, time_or_none
from logger.pipeline import Event

__all__ = [
    "LONGEST_LINE",
    "AlarmEventMessage",
    "AlarmMessage",
    "BurnEventMessage",
    "BurnHeadMessage",
    "EstimateMessage",
    "ForecastMessage",
    "ForwardingMessage",
    "HottestMessage",
    "Message",
    "StatusMessage",
    "TypedMessage",
    "alarm_event",
    "alarm_state",
    "burn_event",
    "burn_head",
    "burn_status",
    "estimate",
    "event",
    "forecast",
    "forwarding",
    "hottest",
    "one_line",
    "plain_lines",
    "rounded",
    "time_or_none",
    "typed",
]

Message = dict[str, Any]
"""What other programs send, and what commands answer with --json."""


def event(happened: Event) -> AlarmEventMessage | BurnEventMessage:
    """Something that happened to an alarm or in a burn."""
    return alarm_event(happened) if isinstance(happened, AlarmEvent) else burn_event(happened)
