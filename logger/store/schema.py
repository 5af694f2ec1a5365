"""The tables, and how a file of any earlier version becomes one of this version.

Readings and estimates lie in order of arrival, with no index to keep up: at 16 channels and a
commit a second, a table ordered by channel and time wrote 5.2 kB to the disk for each reading,
this one 0.33 kB (measured). A time is found through `zone`, which holds the earliest and latest
stamp of each closed run of rows (see `zones`); old runs are in `chunk` instead (see `sealing`). A
stamp is not a key: two readings that came in one read share it.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from logger.errors import StoreUnusable

APPLICATION_ID = 0x57494342  # "WICB" in the file's header: whose database this is


def _published(key: str) -> str:
    """SQL that gives a time of a published message as Unix seconds, to all its digits."""
    text = f"body->>'{key}'"
    whole = f"strftime('%s', substr({text}, 1, 19))"
    return f"json({whole} || rtrim(substr({text}, 20), 'Z'))"


# A published message as the event that it was made of. Its alarm's count and times of telling are
# not in it; those of an alarm that lives are in its own table.
_EVENT_OF_MESSAGE = f"""
UPDATE event SET body = CASE kind
WHEN 'alarm' THEN json_object(
    'id', id, 'time_s', {_published("time")}, 'what', body->>'event',
    'alarm', json_object(
        'finding', json_object(
            'rule', body->>'rule',
            'subject', substr(body->>'alarm', length(body->>'rule') + 2),
            'signal', iif(body->>'event' IN ('returned', 'cleared'), 'off', 'on'),
            'priority', body->>'priority', 'text', body->>'text',
            'station', body->>'station', 'channel', body->>'channel',
            'value', body->'value', 'limit', body->'limit', 'unit', body->>'unit'),
        'state', body->>'state', 'since_s', {_published("since")}, 'burn', body->>'burn',
        'acknowledged_s', {_published("acknowledged")},
        'acknowledged_by', coalesce(body->>'acknowledged_by', ''),
        'acknowledged_where', coalesce(body->>'acknowledged_where', ''),
        'shelved_until_s', {_published("shelved_until")}))
ELSE json_object(
    'id', id, 'time_s', {_published("time")}, 'since_s', {_published("since")},
    'station', body->>'station', 'burn', body->>'burn', 'event', body->>'event',
    'text', body->>'text', 'by', coalesce(body->>'by', ''))
END WHERE json_valid(body)
"""

MIGRATIONS: tuple[tuple[str, ...], ...] = (  # append only: these have run on files in the field
    (
        "CREATE TABLE settings (id INTEGER PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE,"
        " text TEXT NOT NULL)",
        # after_reading: the last reading that was there before
        "CREATE TABLE run (id INTEGER PRIMARY KEY, version TEXT NOT NULL,"
        " settings INTEGER NOT NULL REFERENCES settings, watching INTEGER NOT NULL,"
        " started_us INTEGER NOT NULL, last_seen_us INTEGER NOT NULL, ended_us INTEGER,"
        " longest_commit_us INTEGER NOT NULL DEFAULT 0, after_reading INTEGER NOT NULL)",
        "CREATE TABLE channel (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE)",
        "CREATE TABLE reading (id INTEGER PRIMARY KEY, channel INTEGER NOT NULL,"
        " at_us INTEGER NOT NULL, value REAL NOT NULL)",
        "CREATE TABLE estimate (id INTEGER PRIMARY KEY, channel INTEGER NOT NULL,"
        " at_us INTEGER NOT NULL, value REAL, standard_uncertainty REAL, repeatability REAL,"
        " used INTEGER NOT NULL, rejected INTEGER NOT NULL, quality TEXT NOT NULL)",
        "CREATE TABLE zone (of TEXT NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL,"
        " from_us INTEGER NOT NULL, to_us INTEGER NOT NULL, PRIMARY KEY (of, first))"
        " WITHOUT ROWID",
        "CREATE TABLE trial (name TEXT PRIMARY KEY, created_us INTEGER NOT NULL) WITHOUT ROWID",
        "CREATE TABLE burn (id TEXT PRIMARY KEY, station TEXT NOT NULL, trial TEXT NOT NULL,"
        " lit_us INTEGER NOT NULL, settings INTEGER NOT NULL REFERENCES settings,"
        " body TEXT NOT NULL)",
        "CREATE INDEX burn_of_station ON burn (station, lit_us)",
        "CREATE INDEX burn_of_trial ON burn (trial, lit_us)",
        # after_reading puts entries and health between the readings, in the order they came
        "CREATE TABLE entry (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, kind TEXT NOT NULL,"
        " burn TEXT, at_us INTEGER NOT NULL, entered_us INTEGER NOT NULL,"
        " after_reading INTEGER NOT NULL, body TEXT NOT NULL)",
        "CREATE INDEX entry_of_burn ON entry (burn)",
        "CREATE TABLE health (seq INTEGER PRIMARY KEY, at_us INTEGER NOT NULL,"
        " after_reading INTEGER NOT NULL, body TEXT NOT NULL)",
        "CREATE TABLE event (seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE,"
        " kind TEXT NOT NULL, burn TEXT, time_us INTEGER NOT NULL, payload TEXT NOT NULL,"
        " delivered INTEGER NOT NULL DEFAULT 0)",
        "CREATE INDEX event_of_burn ON event (burn)",
        "CREATE INDEX event_by_time ON event (time_us)",
        "CREATE INDEX event_waiting ON event (seq) WHERE delivered = 0",
        "CREATE TABLE alarm (key TEXT PRIMARY KEY, body TEXT NOT NULL)",
        f"PRAGMA application_id = {APPLICATION_ID}",
    ),
    (
        # its date, figures, who and against what are in the entry
        "CREATE TABLE calibration (entry INTEGER PRIMARY KEY REFERENCES entry,"
        " channel TEXT NOT NULL, at_us INTEGER NOT NULL)",
    ),
    (
        # what the text said then, in the core's terms; NULL where the text alone was kept
        "ALTER TABLE settings ADD COLUMN bench TEXT",
        "ALTER TABLE event RENAME COLUMN payload TO body",
        _EVENT_OF_MESSAGE,
    ),
    (
        # what was answered to whoever entered it, for when it is posted again
        "ALTER TABLE entry ADD COLUMN text TEXT NOT NULL DEFAULT ''",
    ),
    (
        # lines for the phone that the broker has not confirmed; a row goes once it has
        "CREATE TABLE phone_line (seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE,"
        " at_us INTEGER NOT NULL, text TEXT NOT NULL)",
    ),
    (
        # how many rows of it were sealed; NULL: they are rows
        "ALTER TABLE zone ADD COLUMN sealed INTEGER",
        # rows of one channel, out of the sealed zone of `of` that begins with row `first`
        "CREATE TABLE chunk (id INTEGER PRIMARY KEY, of TEXT NOT NULL, first INTEGER NOT NULL,"
        " channel INTEGER NOT NULL, rows INTEGER NOT NULL, from_us INTEGER NOT NULL,"
        " to_us INTEGER NOT NULL, levels BLOB NOT NULL, sum INTEGER NOT NULL,"
        " block INTEGER NOT NULL, start INTEGER NOT NULL, size INTEGER NOT NULL)",
        # chunks of a zone together: each alone would leave a fifth of the file empty
        "CREATE TABLE block (id INTEGER PRIMARY KEY, body BLOB NOT NULL)",
        "CREATE INDEX chunk_of_zone ON chunk (of, first, channel)",
    ),
    (
        # readings from a file; first and last are rows of reading
        "CREATE TABLE imported (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES run,"
        " file TEXT NOT NULL, sha256 TEXT NOT NULL UNIQUE, first INTEGER NOT NULL,"
        " last INTEGER NOT NULL, from_us INTEGER NOT NULL, to_us INTEGER NOT NULL)",
    ),
    (
        # the last row of each kind that an engine has, and those that it refused
        "CREATE TABLE forwarded (sink TEXT NOT NULL, kind TEXT NOT NULL, row INTEGER NOT NULL,"
        " PRIMARY KEY (sink, kind)) WITHOUT ROWID",
        "CREATE TABLE set_aside (seq INTEGER PRIMARY KEY, sink TEXT NOT NULL, kind TEXT NOT NULL,"
        " row INTEGER NOT NULL, reason TEXT NOT NULL, UNIQUE (sink, kind, row))",
    ),
    (
        # vessels, formulas and the like, every version; the body is what people wrote into it
        "CREATE TABLE record (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE,"
        " kind TEXT NOT NULL, name TEXT NOT NULL, version INTEGER NOT NULL,"
        " at_us INTEGER NOT NULL, who TEXT NOT NULL, why TEXT NOT NULL,"
        " withdrawn INTEGER NOT NULL, body TEXT NOT NULL, UNIQUE (kind, name, version))",
        "INSERT INTO record (id, kind, name, version, at_us, who, why, withdrawn, body)"
        " SELECT 'trial ' || name, 'trial', name, 1, created_us, '', 'named when it was lit', 0,"
        " '{}' FROM trial",
    ),
    (
        # what people type for a burn: burn 12 is the twelfth of the bench
        "ALTER TABLE burn ADD COLUMN number INTEGER",
        "UPDATE burn SET number = (SELECT count(*) FROM burn AS other"
        " WHERE (other.lit_us, other.rowid) <= (burn.lit_us, burn.rowid))",
        "UPDATE burn SET body = json_set(body, '$.number', number) WHERE json_valid(body)",
        "CREATE INDEX burn_by_number ON burn (number)",
    ),
)


@contextmanager
def transaction(
    con: sqlite3.Connection, begin: str = "BEGIN IMMEDIATE"
) -> Iterator[sqlite3.Connection]:
    """All of it or nothing; takes the write lock at once, so that what is read stays true."""
    con.execute(begin)
    try:
        yield con
        con.execute("COMMIT")
    except BaseException:
        if con.in_transaction:  # some errors, a full disk among them, may have rolled it back
            con.execute("ROLLBACK")
        raise


@contextmanager
def snapshot(con: sqlite3.Connection) -> Iterator[None]:
    """Everything that is read inside is of one moment."""
    with transaction(con, "BEGIN"):
        yield


@contextmanager
def one_moment(con: sqlite3.Connection) -> Iterator[None]:
    """As `snapshot`, or inside one that is open; for generators, of which several may be open."""
    if con.in_transaction:
        yield
        return
    con.execute("BEGIN")
    try:
        yield
    finally:
        with suppress(sqlite3.ProgrammingError):  # closed before the generator was
            if con.in_transaction:
                con.execute("COMMIT")


def migrate(con: sqlite3.Connection, path: Path) -> None:
    """Bring the file to this version, in one transaction: nobody ever sees it half made.

    Raises StoreUnusable.
    """
    with transaction(con):  # version read inside the lock: of two starts the second sees the last
        version = check_version(con, path)
        for step in MIGRATIONS[version:]:
            for statement in step:
                con.execute(statement)
        con.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def check_version(con: sqlite3.Connection, path: Path) -> int:
    """The file's version, 0 while it is empty. Raises StoreUnusable for what is not ours.

    Asks in one transaction or snapshot: between two questions another start may make the tables.
    """
    assert con.in_transaction
    (version,) = con.execute("PRAGMA user_version").fetchone()
    (owner,) = con.execute("PRAGMA application_id").fetchone()
    (tables,) = con.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if owner != APPLICATION_ID and (owner or version or tables):
        raise StoreUnusable(
            f"{path} is the database of another program: give the bench a data folder of its own"
        )
    if version > len(MIGRATIONS):
        raise StoreUnusable(
            f"{path} was written by a newer wickbench (its version {version}, this program knows "
            f"{len(MIGRATIONS)}): install that one again; the file was left as it is"
        )
    return int(version)
