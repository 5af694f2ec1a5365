"""Everything this program raises on purpose; the command line prints it in one line.

WickbenchError                 exit code 1
├── UsageError                 wrong words on the command line; exit code 2
├── SettingsError              .problems, all of them at once; exit code 2
├── ServiceUnreachable         the bench's service does not answer; exit code 3
├── Refused                    what a person asked for contradicts the bench's state
│   └── Doubted                    it is improbable: the same again, said to be sure, is taken
├── DataError                  a file or message that cannot be read; says where and what to fix
│   ├── NotKnown                   nothing of that name is stored
│   └── FileFaults                 .problems, every wrong row of a file that is taken whole
├── InstrumentError            .instrument, .reason
│   ├── InstrumentUnavailable      transient: tried again with back-off
│   └── InstrumentRefused          permanent: parked, the operator is told
└── StoreError                 an alarm and a retry while running
    ├── StoreEmpty                 nothing was ever stored
    ├── StoreUnusable              too new or corrupt at start: ends the process
    └── StoreLocked                another service holds the data folder
"""

from collections.abc import Sequence


class WickbenchError(Exception):
    """Base of all errors that carry a message for the person at the bench."""

    exit_code = 1


class UsageError(WickbenchError):
    """The command was called with words that do not fit."""

    exit_code = 2


class SettingsError(WickbenchError):
    """The configuration is wrong; `problems` lists every fault, each with its line and remedy."""

    exit_code = 2

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = tuple(problems)


class ServiceUnreachable(WickbenchError):
    """A service holds the bench but does not answer."""

    exit_code = 3


class Refused(WickbenchError):
    """What was asked contradicts what the bench knows; nothing was changed."""


class Doubted(Refused):
    """What was entered is improbable: a question. Nothing was changed, and a yes is taken."""


HOW_TO_KEEP_IT = 'Nothing was recorded; to keep it, send it again with "sure": true'


class DataError(WickbenchError):
    """A value, row, file or message that cannot be read; the text says where and what to fix."""


class FileFaults(DataError):
    """Rows of a file that is taken whole or not at all; `problems` has a line for each."""

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = tuple(problems)


class NotKnown(DataError):
    """Nothing of that name is stored; the text says what is."""


class InstrumentError(WickbenchError):
    """Base of instrument faults."""

    def __init__(self, instrument: str, reason: str) -> None:
        super().__init__(f"{instrument}: {reason}")
        self.instrument = instrument
        self.reason = reason


class InstrumentUnavailable(InstrumentError):
    """The instrument may come back by itself: unplugged, silent, busy."""


class InstrumentRefused(InstrumentError):
    """Trying again cannot help: the configuration or the device is wrong."""


class StoreError(WickbenchError):
    """The bench's database could not take or give something."""


class StoreEmpty(StoreError):
    """There is no database yet, or its first start has not made its tables."""


class StoreUnusable(StoreError):
    """The database is newer than this program, or damaged."""


class StoreLocked(StoreError):
    """Another service holds the data folder."""
