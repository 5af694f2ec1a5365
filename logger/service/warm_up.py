"""Everything that is else imported or read at its first use, as soon as the bench watches.

Later there may be no descriptor left to read a file with, and the first forecast would end there.
"""

import asyncio
import encodings.unicode_escape  # noqa: F401 - what is wrong in a text is shown by it
import logging

import pydantic.dataclasses  # noqa: F401 - the description of the JSON side asks for it

from logger.units import Dimension, unit_of
from logger.web import pages
from logger.web.static import known_files

log = logging.getLogger(__name__)

AGAIN_S = 30.0  # our choice


async def warm_up() -> None:
    """Import, and read, what the service needs, on a thread: some half a second of a processor."""
    while True:
        try:
            await asyncio.to_thread(_read_all)
        except Exception:  # must not end a burn: at worst a page fails
            log.exception("not all of the program's files can be read; trying again")
            await asyncio.sleep(AGAIN_S)
        else:
            return


def _read_all() -> None:
    import anyio._backends._asyncio  # noqa: F401 - threads answer requests by it
    import numpy  # noqa: F401 - forecasts and records count with it

    known_files()
    pages.load_templates()
    unit_of("nautical_mile", Dimension.LENGTH)  # has pint read its definitions
