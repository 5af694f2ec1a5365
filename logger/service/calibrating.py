"""Calibrations from the command line: a file of points, and the list of all that were made."""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from logger.burn.entries import Calibrated
from logger.conditioning.calibration import in_force
from logger.errors import DataError, Refused
from logger.messages import Message, rounded
from logger.quantities import Channel, Quantity
from logger.service import client
from logger.settings import Settings
from logger.store.queries import known_calibrations
from logger.timestamps import rfc3339
from logger.units import parse_number
from logger.words import Words

COLUMNS = ["reference", "shown"]
TOLD_AT_C = (20.0, 60.0)  # a room and a wall limit: where a correction matters


def read_points(path: Path) -> list[dict[str, float]]:
    """The points in a CSV file. Raises DataError with the line of the first wrong one."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(file, strict=True)
            if next(reader, None) != COLUMNS:
                raise DataError(f"{path}:1: the first line must read {','.join(COLUMNS)}")
            return [_point(f"{path}:{reader.line_num}", row) for row in reader if row]
    except FileNotFoundError:
        raise DataError(f"{path}: no such file") from None
    except (OSError, UnicodeDecodeError, csv.Error) as exc:
        raise DataError(f"{path}: cannot be read as CSV in UTF-8: {exc}") from exc


def _point(where: str, row: Sequence[str]) -> dict[str, float]:
    if len(row) != len(COLUMNS):
        raise DataError(f"{where}: {len(row)} columns, must be {len(COLUMNS)}: {','.join(COLUMNS)}")
    try:
        return {name: parse_number(text) for name, text in zip(COLUMNS, row, strict=True)}
    except DataError as exc:
        raise DataError(f"{where}: {exc}") from None


def calibrate(settings: Settings, channel: str, body: dict[str, Any]) -> Message:
    """Record a calibration as `client.enter` does; the quantity is the channel's own."""
    body = {**body, "quantity": _quantity(settings, channel).value}
    return client.enter(settings, "calibrations", channel, body)


def shown_in(settings: Settings, channel: str) -> str:
    """The unit in which the bench shows what `channel` measures."""
    return settings.words.unit_of(_quantity(settings, channel)).name


def _quantity(settings: Settings, channel: str) -> Quantity:
    known = {one.name: one for one in settings.channels}
    if channel not in known:
        raise Refused(f"no channel {channel}; the configuration has: {', '.join(known)}")
    return known[channel].quantity


def made(settings: Settings) -> list[Message]:
    """Every calibration in the data folder, by channel and date; `in_force` is of now."""
    entries = known_calibrations(settings.bench.data)
    channels = {channel.name: channel for channel in settings.channels}
    names = dict.fromkeys([*channels, *(entry.channel for entry in entries)])
    return [
        message
        for name in names
        for message in _of(channels.get(name), [one for one in entries if one.channel == name])
    ]


def _of(channel: Channel | None, entries: Sequence[Calibrated]) -> Iterable[Message]:
    latest = max((entry.at_s for entry in entries), default=0.0)
    now = in_force([entry.record for entry in entries], latest)
    for entry in sorted(entries, key=lambda one: one.at_s):
        yield {
            "channel": entry.channel,
            "at": rfc3339(entry.at_s),
            "entered": rfc3339(entry.entered_s),
            "by": entry.by,
            "reference": entry.reference,
            "method": entry.method,
            "in_force": channel is not None and entry.record == now,
            "adds": [_added(entry, value) for value in _told_at(entry)],
            "unit": entry.quantity.unit,
            "uncertainty_stated": entry.correction.stated,
        }


def _told_at(entry: Calibrated) -> Sequence[float]:
    return TOLD_AT_C if entry.quantity is Quantity.TEMPERATURE else (entry.correction.about,)


def _added(entry: Calibrated, value: float) -> Message:
    return {
        "to": rounded(value),
        "value": rounded(entry.correction.at(value)),
        "standard_uncertainty": rounded(entry.correction.uncertainty_at(value)),
    }


def lines(calibrations: Iterable[Message], words: Words) -> Iterable[str]:
    """For a terminal; the one in force of each channel has a star. Uncertainties with k = 2."""
    for one in calibrations:
        quantity = next(one_of for one_of in Quantity if one_of.unit == one["unit"])
        scale = words.unit_of(quantity).scale
        adds = ", ".join(
            f"{'+' if part['value'] >= 0.0 else ''}{scale.figure(part['value'], 2)} "
            f"± {scale.written(2.0 * part['standard_uncertainty'], 2)} "
            f"at {words.value(part['to'], quantity)}"
            for part in one["adds"]
        )
        if not one["uncertainty_stated"]:
            adds += " (uncertainty not stated, a usual one assumed)"
        star = "*" if one["in_force"] else " "
        yield f"{star} {one['channel']}  {one['at'][:10]}  {one['method']}: {adds}"
        yield f"    by {one['by']} against {one['reference']}"
