"""A trial of many burns of four hours, written as the recorder would have left them."""

import json
import sqlite3
from dataclasses import replace
from pathlib import Path

from logger.burn.model import Burn
from logger.store.codec import dump, load, micros
from logger.store.opening import FILE_NAME

DAY_S = 86_400.0
BURN_S = 14_400.0
EVERY_S = 5.0
IN_A_ZONE = 1000  # rows; less than the store's own, which only makes finding them dearer


def repeat(data: Path, burn_id: str, count: int) -> None:
    """Make `count` burns of four hours, a day apart, of the one that is stored in `data`."""
    con = sqlite3.connect(data / FILE_NAME)
    body, settings, trial = con.execute(
        "SELECT body, settings, trial FROM burn WHERE id = ?", (burn_id,)
    ).fetchone()
    first = load(Burn, body)
    channels = [id_ for (id_,) in con.execute("SELECT id FROM channel")]
    events = con.execute(
        "SELECT kind, time_us, body FROM event WHERE burn = ? ORDER BY seq", (burn_id,)
    ).fetchall()
    for day in range(1, count):
        lit_s = first.lit_s + day * DAY_S
        burn = replace(
            first, id=f"jar-a-{int(lit_s)}", number=day + 1, lit_s=lit_s, out_s=lit_s + BURN_S
        )
        con.execute(
            "INSERT INTO burn VALUES (?, ?, ?, ?, ?, ?, ?)",
            (burn.id, burn.station, trial, micros(lit_s), settings, dump(burn), day + 1),
        )
        for kind, time_us, event in events:
            shifted = json.dumps(json.loads(event) | {"id": f"{day}/{time_us}/{event[:60]}"})
            con.execute(
                "INSERT INTO event (id, kind, burn, time_us, body) VALUES (?, ?, ?, ?, ?)",
                (f"{day}/{hash(event)}", kind, burn.id, time_us + micros(day * DAY_S), shifted),
            )
        rows = [
            (channel, micros(lit_s + step * EVERY_S), 55.0, 0.2, 0.1, 20, 0, "good")
            for step in range(int((BURN_S + 1800.0) / EVERY_S))
            for channel in channels
        ]
        (last,) = con.execute("SELECT coalesce(max(id), 0) FROM estimate").fetchone()
        con.executemany(
            "INSERT INTO estimate (channel, at_us, value, standard_uncertainty, repeatability,"
            " used, rejected, quality) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            rows,
        )
        for start in range(0, len(rows), IN_A_ZONE):
            part = rows[start : start + IN_A_ZONE]
            con.execute(
                "INSERT INTO zone VALUES ('estimate', ?, ?, ?, ?, NULL)",
                (last + start + 1, last + start + len(part), part[0][1], part[-1][1]),
            )
    con.commit()
    con.close()
