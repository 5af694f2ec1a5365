"""A bench that is worth a data package: two jars, photo, shelf, calibration, mistakes put right."""

from dataclasses import replace
from pathlib import Path

from logger.burn.entries import (
    Calibrated,
    Corrected,
    Lit,
    ManualReading,
    Moved,
    Note,
    Out,
    Photographed,
    WeighIn,
    Withdrawn,
)
from logger.conditioning.calibration import Correction
from logger.intake.shelf_bodies import SHELF
from logger.pipeline import Memory
from logger.quantities import Place, Position, Quantity
from logger.service.core import bench_of
from logger.settings import Settings
from logger.settings.config_file import parse
from logger.store import photos, shelf_rows
from logger.store.store import Store
from tests.support.store import AT_S, SETTINGS, Evening

NOW_S = AT_S + 90_000.0
JPEG = b"\xff\xd8\xff\xe0 not a picture, but bytes of one \xff\xd9"


def bench_at(data: Path) -> Settings:
    """The bench of `tests.support.store`, its data in the folder `data`."""
    text = SETTINGS.replace('name = "back-room"', f'name = "back-room"\ndata = "{data}"')
    return parse(text, data / "bench.toml")


class _TwoJars(Evening):
    def entered(self, kind, second, **more):
        at_s = AT_S + second
        number = len(self.steps)
        entry = kind(at_s=at_s, entered_s=at_s, id=f"e-{number:05}", by="Ada", **more)
        self.step(entry)
        return entry


def _evening(settings: Settings) -> list:
    """A hot burn at jar-a, one of another trial at jar-b, a mistake, and one that still burns."""
    jars = type("Jars", (_TwoJars,), {"bench": bench_of(settings)})(memory=Memory(last_number=0))
    jars.entered(
        Calibrated,
        -60.0,
        channel="jar-a-wall-3",
        quantity=Quantity.TEMPERATURE,
        reference="ice",
        method="offset",
        correction=Correction(offset=0.2, offset_uncertainty=0.1),
    )
    jars.hot(upto=100)
    a = {"station": "jar-a"}
    wall = Place(position=Position.WALL, height_mm=20.0, clock=9)
    jars.entered(Lit, 40.0, station="jar-b", trial="=cotton 4, soy", tester="K4")
    wrong = jars.entered(ManualReading, 95.0, station="jar-b", place=wall, values=(44.0, 44.5))
    jars.entered(Moved, 96.0, reading=wrong.id, station="jar-a")
    note = jars.entered(Note, 97.0, text='+ soot, "a little"\nat the rim', **a)
    jars.entered(Corrected, 98.0, entry=note.id, why="none after all", text="no soot")
    jars.entered(Photographed, 98.5, photo="{photo}", text="the rim", **a)
    jars.entered(Out, 100.0, **a)
    jars.entered(Out, 101.0, station="jar-b")
    for second in range(101, 130):
        jars.second(second, 70.0 - 0.5 * (second - 100))
    mistake = jars.entered(Lit, 20_000.0, trial="cotton 3, soy", **a)
    jars.entered(Withdrawn, 20_050.0, entry=mistake.id, why="it was the other jar")
    jars.entered(WeighIn, 80_000.0, mass_g=402.5, **a)
    jars.entered(Lit, 80_100.0, station="jar-b", trial="=cotton 4, soy", tester="K4")
    return jars.steps


async def packed_bench(data: Path) -> Settings:
    """Record it all in the folder `data`."""
    settings = bench_at(data)
    store = await Store.open(data)
    try:
        await store.begin_run(
            settings_text=settings.text, bench=bench_of(settings), started_s=AT_S, version="0.1.0"
        )
        kept = photos.keep(data, JPEG)
        vessel = SHELF["vessel"].add.model_validate({"id": "v-00000001", "name": "amber-75"})
        change = SHELF["vessel"].change.model_validate({"id": "v-00000002", "height": "3.5 in"})
        other = SHELF["vessel"].add.model_validate({"id": "v-00000003", "name": "other"})
        trial = SHELF["trial"].add.model_validate(
            {"id": "t-00000001", "name": "cotton 3, soy", "vessel": "amber-75"}
        )
        for body, name in (
            (vessel, "amber-75"), (change, "amber-75"), (other, "other"), (trial, "cotton 3, soy"),
        ):  # fmt: skip
            await store.change(
                lambda con, body=body, name=name: shelf_rows.enter(con, body, name, AT_S)
            )
        steps = [
            (replace(item, photo=kept) if isinstance(item, Photographed) else item, outputs)
            for item, outputs in _evening(settings)
        ]
        await store.append(steps)
    finally:
        await store.close()
    return settings
