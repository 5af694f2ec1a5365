"""Stations now, and what people did in a burn."""

from typing import Annotated, Literal

from typing_extensions import Doc, TypedDict

from logger.burn.entries import Danger
from logger.burn.model import Burn, BurnEvent, BurnPhase, BurnStatus, Hottest
from logger.messages.text import rounded, time_or_none
from logger.timestamps import rfc3339


class BurnEventMessage(TypedDict):
    """Something a person did in a burn."""

    kind: Literal["burn"]
    time: str
    since: str
    station: str
    event: str
    id: str
    burn: str
    text: str
    by: str | None


def burn_event(event: BurnEvent) -> BurnEventMessage:
    """Something a person did in a burn."""
    return {
        "kind": "burn",
        "time": rfc3339(event.time_s),
        "since": rfc3339(event.since_s),
        "station": event.station,
        "event": event.event,
        "id": event.id,
        "burn": event.burn,
        "text": event.text,
        "by": event.by or None,
    }


class HottestMessage(TypedDict):
    """The hottest measured place."""

    channel: str
    place: str
    value: float
    unit: str
    standard_uncertainty: float
    accuracy_assumed: bool
    time: str


def hottest(place: Hottest | None) -> HottestMessage | None:
    """The hottest measured place."""
    if place is None:
        return None
    return {
        "channel": place.channel,
        "place": str(place.place),
        "value": rounded(place.value_c),
        "unit": "degC",
        "standard_uncertainty": rounded(place.standard_uncertainty_c),
        "accuracy_assumed": place.accuracy_assumed,
        "time": rfc3339(place.at_s),
    }


class BurnHeadMessage(TypedDict):
    """Which burn it is, and how hot it was."""

    number: Annotated[int | None, Doc("which people type for it")]
    burn: str
    station: str
    trial: str
    tester: str | None
    vessel: Annotated[str | None, Doc("its record's name")]
    wick: Annotated[str | None, Doc("its record's name")]
    lit: str
    out: str | None
    hottest_measured: HottestMessage | None
    danger: Danger | None
    withdrawn: Annotated[bool, Doc("its lighting was a mistake: there was no such burn")]


def burn_head(burn: Burn) -> BurnHeadMessage:
    """Which burn it is, and how hot it was."""
    return {
        "number": burn.number,
        "burn": burn.id,
        "station": burn.station,
        "trial": burn.trial,
        "tester": burn.tester or None,
        "vessel": burn.vessel or None,
        "wick": burn.wick or None,
        "lit": rfc3339(burn.lit_s),
        "out": time_or_none(burn.out_s),
        "hottest_measured": hottest(burn.hottest),
        "danger": burn.danger,
        "withdrawn": burn.withdrawn,
    }


class StatusMessage(TypedDict):
    """A station: lit and out are what a person last confirmed."""

    time: str
    station: str
    state: BurnPhase
    burn: str | None
    number: Annotated[int | None, Doc("of that burn, which people type for it")]
    trial: str | None
    lit: str | None
    out: str | None
    elapsed_s: float | None
    remaining_s: Annotated[float | None, Doc("to the longest burn; below zero when over")]
    alert_c: float
    limit_c: float
    hottest_measured: HottestMessage | None
    margin_k: Annotated[float | None, Doc("from the value plus twice its uncertainty")]
    automatic: Annotated[bool, Doc("whether an instrument reads this vessel")]


def burn_status(status: BurnStatus) -> StatusMessage:
    """A station now."""
    return {
        "time": rfc3339(status.at_s),
        "station": status.station,
        "state": status.phase,
        "burn": status.burn,
        "number": status.number,
        "trial": status.trial,
        "lit": time_or_none(status.lit_s),
        "out": time_or_none(status.out_s),
        "elapsed_s": rounded(status.elapsed_s),
        "remaining_s": rounded(status.remaining_s),
        "alert_c": status.alert_c,
        "limit_c": status.limit_c,
        "hottest_measured": hottest(status.hottest),
        "margin_k": rounded(status.margin_c),
        "automatic": status.automatic,
    }
