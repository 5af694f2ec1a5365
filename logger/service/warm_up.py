"""Everything that is else imported or read at its first use, before the bench says it is ready.

Later there may be no descriptor left to read a file with, and the first forecast would end there.
"""

import encodings.unicode_escape  # noqa: F401 - what is wrong in a text is shown by it

import numpy  # noqa: F401 - forecasts and records count with it
import pydantic.dataclasses  # noqa: F401 - the description of the JSON side asks for it
from starlette.concurrency import run_in_threadpool

from logger.units import Dimension, unit_of
from logger.web import pages
from logger.web.static import known_files


async def warm_up() -> None:
    """Import, and read, what the service needs; takes about half a second."""
    await run_in_threadpool(_read_all)  # which itself imports how threads are run


def _read_all() -> None:
    unit_of("nautical_mile", Dimension.LENGTH)  # has pint read its definitions
    pages.load_templates()
    known_files()
