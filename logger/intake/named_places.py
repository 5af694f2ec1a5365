"""The places of a reading round as their maker writes them: "left, rim, seam 40 mm 7"."""

import re

from logger.errors import DataError
from logger.quantities import Place, Position
from logger.shelf.rounds import NamedPlace
from logger.units import Dimension, parse_quantity, short

MOST = 24  # of one vessel, in one round (our choice)
SIDES = {"left": 9, "right": 3, "back": 12, "front": 6}
"""Clock positions as the page draws a vessel: its mark, at 12, is at the back."""

_POSITIONS = {one.value.replace("-", " "): one for one in Position}
_BETWEEN = re.compile(r";|,\s|,(?=\D)|,$")
_PLACE = re.compile(
    r"(?P<name>.*?)"
    r"(?:\s*(?P<height>\d+(?:[.,]\d+)?\s?(?:mm|cm|in|inch)))?"
    r"(?:\s+(?P<clock>\d{1,2})(?: o'clock)?)?",
    re.ASCII,
)


def named_places(text: str) -> tuple[NamedPlace, ...]:
    """The places in `text`, in turn; a wall place may lack its height. Raises DataError."""
    parts = [part.strip() for part in _BETWEEN.split(short(text)) if part.strip()]
    if len(parts) > MOST:
        raise DataError(f"{len(parts)} places are more than anybody reads in a round: {MOST}")
    return tuple(map(_named, parts))


def _named(part: str) -> NamedPlace:
    match = _PLACE.fullmatch(part)
    name = "" if match is None else match["name"]
    if match is None or re.search(r"\d", name):
        raise DataError(f'"{part}" is not a place; write it as "left", "60 mm 9" or "seam 40 mm 7"')
    height_mm = None
    if match["height"] is not None:
        height_mm = parse_quantity(match["height"], Dimension.LENGTH)
        if not 0.0 < height_mm <= 1000.0:  # as of a reading
            raise DataError(f'"{part}": {match["height"]} is not a height on a vessel')
    clock = SIDES.get(name.casefold()) if match["clock"] is None else int(match["clock"])
    if clock is not None and not 1 <= clock <= 12:
        raise DataError(f'"{part}": a clock has 1 to 12')
    position = _POSITIONS.get(name.casefold().replace("-", " "), Position.WALL)
    return NamedPlace(
        name=name if height_mm is None or name else part,
        place=Place(position=position, height_mm=height_mm, clock=clock),
    )
