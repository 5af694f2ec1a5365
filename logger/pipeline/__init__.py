"""The one way of a reading: conditioning, burn and alarms as a single `step`.

The live service, replay, the demonstration and the tests all fold this over their inputs. It does
no I/O and reads no clock: every input carries its time, and inputs come in order of time.
"""

from logger.pipeline.bench import FOLD_BACK_S, Bench, Event, Input, Memory, Output, Recalled
from logger.pipeline.fold import Seconds, begun, stamp_of, with_ticks
from logger.pipeline.step import Pipeline

__all__ = [
    "FOLD_BACK_S",
    "Bench",
    "Event",
    "Input",
    "Memory",
    "Output",
    "Pipeline",
    "Recalled",
    "Seconds",
    "begun",
    "stamp_of",
    "with_ticks",
]
