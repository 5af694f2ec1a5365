"""What people are told to do near a flame: each text once, for every way it reaches a person.

Common practice of fire services and makers; no single source. Local codes and licensed practice
stand above it.
"""

from collections.abc import Iterable, Mapping, Sequence

from logger.burn.entries import Danger

CHECKS: Mapping[str, str] = {
    "tray": "It stands on a level, heat-proof tray that holds all the wax if the vessel cracks",
    "clear": "Nothing that can burn is within 30 cm (12 in) or above it; leads, boards and tape "
    "are clear of flame and rim, and a balance has a heat-proof pad on it",  # 12 in: NFPA advice
    "vessel": "The vessel is dry, without crack or chip; the wick is trimmed; no clippings or "
    "match lie in the wax",
    "room": "No draught, fan or open window; the smoke alarm works; children and pets are "
    "elsewhere; sleeves and hair are back",
    "lid": "A flat metal lid wider than the mouth, or a snuffer, and a fire blanket lie where "
    "nobody reaches over the flame",
    "watcher": "One person stays in this room until it is out; candles stand at least 10 cm "
    "(4 in) apart",
}
"""Asked before lighting, by short name, the gravest first: what the person confirms, stored as it
stands here."""

PUT_OUT = (
    "put it out with a snuffer or a flat metal lid. Do not blow, use no water, do not lift or "
    "move the vessel"
)

NOT_WATCHED = f"Until this is answered the bench does not watch it: answer now, or {PUT_OUT}"
"""With every question about a lighting: the candle burns already."""
LOOK = (
    "Look from the side: do not touch the glass or reach over the flame. Rate the scent as you "
    "come in, then look at flame, wick, melt pool and glass"
)

READ_BY_HAND = (
    "Hands off the glass. Keep hair and sleeves away. From the side, aim beside the flame, never "
    "through it"
)
"""Before readings by hand of a burning candle."""

_LEAVE_SENSOR = (
    "Leave the sensor alone. Read this place by hand from a distance, or put the candle out; "
    "fasten the sensor again when the vessel is cold"
)

LOST_SENSOR = f"Look at the candle now; a plug at the far end may be put back. {_LEAVE_SENSOR}"
DOUBTED_WHILE_LIT = f"Look at the candle. Do not rely on this sensor. {_LEAVE_SENSOR}"
DOUBTED_WHILE_HOT = f"Do not rely on this sensor. {_LEAVE_SENSOR}"

LOW_BATTERY = (
    "It may fall silent while the candle burns: be ready to read its places by hand from a "
    "distance. Change the battery when the vessel is cold"
)

_SNUFF = (
    "Cover the flame with a snuffer or a flat metal lid, from the side, never with your arm over "
    "the flame",
    "Leave it covered until it is cold",
)

_FIRST: Mapping[Danger, Sequence[str]] = {
    Danger.FLAME_TOO_HIGH: _SNUFF,
    Danger.FLAME_ON_WALL: _SNUFF,
    Danger.FLASH_OVER: (
        "Slide a flat metal lid or tray wider than the mouth over it from the side, or use a fire "
        "blanket: a snuffer covers a wick, not a burning pool",
        "Leave it covered until it is cold; never lift it to look",
        "No water, no water-based extinguisher",
    ),
    Danger.CRACK: (
        "Keep away from running wax",
        "Snuff the flame only if you can reach it safely",
        "Do not touch the vessel or the wax",
    ),
    Danger.OTHER: (*_SNUFF, "Do not blow, use no water, do not lift or move the vessel"),
}

GET_OUT = (
    "If it is not out at once, or anything else burns: everybody out, close the door, call the "
    "fire service from outside"
)


FIRST_WORDS: Mapping[str, Sequence[str]] = {
    "The flame is too high, or on the wall": _FIRST[Danger.FLAME_TOO_HIGH],
    "The pool burns": _FIRST[Danger.FLASH_OVER],
    "The vessel is cracked": _FIRST[Danger.CRACK],
}
"""What stands on a page before anybody has said what it is; `GET_OUT` follows."""


def emergency_advice(what: Danger) -> tuple[str, ...]:
    """What to do in an emergency, one action a line, in order."""
    return (*_FIRST[what], GET_OUT)


_SNUFF_SHORT = (
    "Cover it with a snuffer or a flat metal lid, from the side, and leave it covered; no water, "
    "do not blow, lift or move it"
)
_GET_OUT_SHORT = "if it is not out at once: everybody out, call the fire service"

_SHORT: Mapping[str, str] = {
    ". ".join(emergency_advice(what)): f"{first}; {_GET_OUT_SHORT}"
    for what, first in {
        Danger.FLAME_TOO_HIGH: _SNUFF_SHORT,
        Danger.FLAME_ON_WALL: _SNUFF_SHORT,
        Danger.FLASH_OVER: (
            "Slide a flat metal lid or tray wider than the mouth over it from the side, never "
            "lift it to look; no water"
        ),
        Danger.CRACK: (
            "Keep away from running wax, do not touch the vessel; snuff the flame only if you can "
            "reach it safely"
        ),
        Danger.OTHER: _SNUFF_SHORT,
    }.items()
} | {
    LOST_SENSOR: "Look at the candle now, and read this place by hand from a distance; leave the "
    "sensor alone, but a plug at the far end may be put back",
    DOUBTED_WHILE_LIT: "Look at the candle, and read this place by hand from a distance; leave the "
    "sensor alone",
    DOUBTED_WHILE_HOT: "Do not rely on this sensor; leave it alone until the vessel is cold",
    LOW_BATTERY: "Be ready to read its places by hand from a distance; change the battery when the "
    "vessel is cold",
    LOOK: "Look from the side, hands off the glass",
    PUT_OUT: "put it out with a snuffer or a flat metal lid; no water, do not blow, lift or move "
    "it",
}
"""For a phone, each of the texts above in one sentence that leaves out nothing essential."""


def shortened(text: str) -> str:
    """`text` with what it tells people to do in its short form."""
    for whole, short in _SHORT.items():
        text = text.replace(whole, short)
    return text


def confirmed(checks: Iterable[str]) -> tuple[str, ...]:
    """What was confirmed before lighting, as statements: short names are written out."""
    return tuple(CHECKS.get(check, check) for check in checks)


def unconfirmed(checks: Iterable[str]) -> tuple[str, ...]:
    """The statements that are not among what was confirmed."""
    known = set(confirmed(checks))
    return tuple(statement for statement in CHECKS.values() if statement not in known)
