"""The domain's values as JSON text in the database, and back; times as integer microseconds."""

import json
from typing import Any, TypeVar

from pydantic import TypeAdapter

from logger.alarms.lifecycle import AlarmEvent
from logger.burn.entries import ENTRY_TYPES, Entry
from logger.burn.model import BurnEvent
from logger.pipeline import Event

T = TypeVar("T")


_adapters: dict[type[Any], TypeAdapter[Any]] = {}  # building one takes a millisecond


def _adapter(kind: type[Any]) -> TypeAdapter[Any]:
    if kind not in _adapters:
        _adapters[kind] = TypeAdapter(kind)
    return _adapters[kind]


def dump(value: object) -> str:
    """A domain dataclass as JSON, every field in full precision."""
    content = _adapter(type(value)).dump_python(value, mode="json", by_alias=True)
    return storable(json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def load(kind: type[T], text: str) -> T:
    """What `dump` wrote; fields that were added since take their defaults."""
    value: T = _adapter(kind).validate_json(text)
    return value


def load_entry(kind: str, text: str) -> Entry:
    """An entry of the class called `kind`."""
    return load(ENTRY_TYPES[kind], text)


def load_event(kind: str, text: str) -> Event:
    """What happened to an alarm or in a burn, whichever `kind` says."""
    return load(AlarmEvent, text) if kind == "alarm" else load(BurnEvent, text)


def storable(text: str) -> str:
    """`text` without the half characters that UTF-8, and so the database, cannot hold."""
    return text.encode("utf-8", "replace").decode("utf-8")


def micros(at_s: float) -> int:
    """Unix seconds to whole microseconds."""
    return round(at_s * 1e6)


def seconds(at_us: int) -> float:
    """The same double that `micros` was given, if that was a whole microsecond."""
    return at_us / 1e6
