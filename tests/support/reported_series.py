"""A series that a report has much to say of: photos, a fail, a gap, an unstated accuracy, a
withdrawn burn, hostile text; written through the real pipeline into a real database."""

import io
import math
import uuid
from pathlib import Path

from PIL import Image

from logger.burn import safety
from logger.burn.entries import (
    Acknowledge,
    InSight,
    Lit,
    Note,
    Observed,
    Out,
    Photographed,
    Resumed,
    WeighIn,
    Withdrawn,
)
from logger.burn.look import NO, YES, Look
from logger.burn.stated import Circumstances, Ending
from logger.intake.shelf_bodies import SHELF
from logger.pipeline import Memory, Pipeline
from logger.quantities import Reading, Tick
from logger.service.core import bench_of
from logger.settings.config_file import parse
from logger.store import photos, shelf_rows
from logger.store.store import Store

LIT_S = 1_935_738_300.0  # 2031-05-05T09:05:00Z
DAY_S = 86_400.0
EVERY_S = 5
HOSTILE = '<script>alert(1)</script>#eval("1") $x^2$ *b* _i_ @a \\u{7} {{7*7}} \u202e&amp;'
GOOD = "cedar 6"

SETTINGS = """
[bench]
name = "back-room"
maker = "Aldermoor Candles"
data = "{folder}/data"
show = {{ temperature = "degF", length = "in", mass = "oz" }}
[limits]
burn_length = "{length}"
burn_notice = "4 min"
[limits.glass]
wall_alert = "57 degC"
wall_limit = "60 degC"
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "probes-a"
driver = "serial-lines"
port = "/dev/null"
silent_after = "20 s"
"""
CHANNEL = """
[[instrument.channel]]
name = "{name}"
place = "{place}"
quantity = "temperature"
field = {field}
unit = "degC"
kind = "contact"
"""
ON_JAR = 'station = "jar-a"\n'
PLACES = {  # by channel: the keys of its own, and its share of the wall's rise
    "wall-3": (ON_JAR + 'height = "60 mm"\nclock = 3\naccuracy = "0.5 delta_degC"\n', 1.0),
    "wall-9": (ON_JAR + 'height = "60 mm"\nclock = 9\naccuracy = "0.5 delta_degC"\n', 0.9),
    "base": (ON_JAR, 0.5),  # nobody stated its accuracy
    "room": ('accuracy = "0.3 delta_degC"\n', 0.0),
}


def configuration(folder: Path, length_s: float) -> str:
    """The bench as its file says it."""
    text = SETTINGS.format(folder=folder, length=f"{length_s / 60:g} min")
    for field, (name, (keys, _)) in enumerate(PLACES.items()):
        place = name.partition("-")[0]
        text += CHANNEL.format(name=name, place=place, field=field) + keys
    return text


class ReportedBench:
    """Lights, burns and records; what it did is stored at the end."""

    def __init__(self, folder: Path, length_s: float) -> None:
        self.folder, self.length_s = folder, length_s
        self.text = configuration(folder, length_s)
        (folder / "bench.toml").write_text(self.text)
        self.data = folder / "data"
        self.data.mkdir(exist_ok=True)
        self.bench = bench_of(parse(self.text, folder / "bench.toml"))
        self.pipeline = Pipeline(self.bench, LIT_S - 60.0, Memory(last_number=0))
        self.steps = []
        self.count = 0

    def step(self, item):
        self.steps.append((item, self.pipeline.step(item)))

    def enter(self, kind, at_s, **fields):
        self.count += 1
        fields.setdefault("station", "jar-a")
        if kind in (Acknowledge, Withdrawn):
            del fields["station"]
        stamps = {"at_s": at_s, "entered_s": at_s, "id": f"entry-{self.count}", "by": "Ines"}
        self.step(kind(**{**stamps, **fields}))
        return f"entry-{self.count}"

    def burn(self, day, trial, peak_c, *, gap=(), text="", mass_g=(400.0, 398.0), fields=None):
        """One burn, watched, looked at, photographed and weighed; the id of its lighting."""
        lit_s = LIT_S + day * DAY_S
        if day:  # the bench was off over night
            off_s = LIT_S + (day - 1) * DAY_S + 10 * 3600.0
            self.step(Resumed(id=f"resumed-{day}", at_s=off_s, entered_s=lit_s - 40.0))
        for second in range(-30, 0, EVERY_S):
            self._readings(lit_s + second, 22.0, ())
        lit = self.enter(
            Lit, lit_s, trial=trial, tester=f"T{day + 1}", watched_by="Ines",
            checks=tuple(safety.CHECKS.values()), mass_g=mass_g[0], wax_g=200.0,
            stated=Circumstances(regime="standard", trimmed_to_mm=6.0), **(fields or {}),
        )  # fmt: skip
        marks = {int(share * self.length_s): share for share in (0.25, 0.5, 0.9)}
        for second in range(EVERY_S, int(self.length_s) + 1, EVERY_S):
            rise = (peak_c - 22.0) * -math.expm1(-4.0 * second / self.length_s)
            missing = gap if gap and gap[0] < second < gap[1] else ()
            self._readings(lit_s + second, 22.0 + rise, missing)
            if share := marks.get(second):
                self._look(lit_s + second, share, text)
        out_s = lit_s + self.length_s
        self.enter(Out, out_s, stated=Ending(ended="planned", how="snuffer"))
        for second in range(EVERY_S, 120, EVERY_S):
            self._readings(out_s + second, peak_c - second / 20.0, ())
        self.enter(WeighIn, out_s + 8 * 3600.0, mass_g=mass_g[1])
        return lit

    def _look(self, at_s, share, text):
        full = YES if share > 0.4 else NO
        look = Look(flame_mm=(22.0,), pool_mm=(50.0 * share, 52.0 * share), full_pool=full, soot=0)
        self.enter(Observed, at_s, look=look, text=text)
        self.enter(InSight, at_s + 0.5)
        if share == 0.5:
            out = io.BytesIO()
            Image.new("RGB", (320, 240), (200, 80, 20)).save(out, "JPEG")
            name = photos.keep(self.data, out.getvalue())
            self.enter(Photographed, at_s + 1.0, photo=name, text=text or "pool at mid-burn")
        if text:
            self.enter(Note, at_s + 1.5, text=text)

    def _readings(self, at_s, wall_c, missing):
        self.step(Tick(at_s=at_s))
        noise = 0.05 * math.sin(at_s)
        for name, (_, share) in PLACES.items():
            if not missing or name == "room":
                value = 22.0 + share * (wall_c - 22.0) + noise
                self.step(Reading(channel=name, value=value, at_s=at_s + 0.5))

    async def stored(self, shelf=()):
        """Everything into the database, with records of the shelf."""
        store = await Store.open(self.data)
        store.run = await store.begin_run(
            settings_text=self.text, bench=self.bench, started_s=LIT_S - 60.0, version="0.1.0"
        )
        for kind, name, given in shelf:
            body = SHELF[kind].add.model_validate({"id": uuid.uuid4().hex, "name": name, **given})
            await store.change(
                lambda con, body=body, name=name: shelf_rows.enter(con, body, name, LIT_S - DAY_S)
            )
        await store.append(self.steps)
        await store.close()


SHELF_OF_GOOD = (
    ("vessel", "amber", {"material": "glass", "lot": "L-204", "inner_diameter": "74 mm"}),
    ("formula", "slate 8", {"wax": "Hazelmoor soy 12", "wax_share": "92 %", "wax_lot": "A7",
                            "wax_price": 97.31, "fragrance": HOSTILE, "fragrance_share": "8 %"}),
    ("pour", "batch 7", {"formula": "slate 8", "poured_on": "2031-04-20", "fill": "226 g"}),
    ("wick", "cotton 6", {"series": "Marrow flat braid", "size": "6", "price": 0.08}),
    ("wicking", "one cotton 6", {"wick": "cotton 6", "number": 1}),
    ("trial", GOOD, {"vessel": "amber", "formula": "slate 8", "wicking": "one cotton 6",
                     "question": "is 6 enough", "client": "Rookhope House"}),
    ("tester", "T1", {"trial": GOOD, "pour": "batch 7"}),
)  # fmt: skip


async def reported_series(folder: Path, length_s: float = 960.0) -> ReportedBench:
    """Two trials: one of five burns (one fails, one has a gap, one is withdrawn), one hostile."""
    bench = ReportedBench(folder, length_s)
    vessel = {"vessel": "amber", "wick": "cotton 6", "inner_diameter_mm": 74.0}
    bench.burn(0, GOOD, 52.0, fields=vessel)
    bench.burn(1, GOOD, 53.0, gap=(length_s / 4, length_s / 2), fields=vessel)
    bench.burn(2, GOOD, 66.0, fields=vessel)
    mistaken = bench.burn(3, GOOD, 40.0, fields=vessel)
    at_s = LIT_S + 3 * DAY_S + length_s + 9 * 3600.0
    bench.enter(Withdrawn, at_s, entry=mistaken, why="lit the wrong jar")
    bench.burn(4, HOSTILE, 50.0, text=HOSTILE)
    await bench.stored(SHELF_OF_GOOD)
    return bench
