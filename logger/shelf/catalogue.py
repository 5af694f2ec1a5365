"""Every kind of record by its name: a class and a line here are a new kind on every edge."""

from collections.abc import Mapping

from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.recipes import FormulaRecord, PourRecord
from logger.shelf.rounds import RoundRecord, ThermometerRecord
from logger.shelf.sheet import ShelfRecord
from logger.shelf.vessels import VesselRecord
from logger.shelf.wicks import WickingRecord, WickRecord

RECORDS: Mapping[str, type[ShelfRecord]] = {
    "vessel": VesselRecord,
    "formula": FormulaRecord,
    "pour": PourRecord,
    "wick": WickRecord,
    "wicking": WickingRecord,
    "tester": TesterRecord,
    "trial": TrialRecord,
    "thermometer": ThermometerRecord,
    "round": RoundRecord,
}
"""In the order in which a maker meets them; with an s each is part of an address."""
