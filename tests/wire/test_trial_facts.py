"""All that is known of a trial, joined from records, burns and weighings in a real database."""

import uuid
from dataclasses import replace

import pytest

from logger.burn.entries import Out, WeighIn
from logger.decision.change import Lot, lot_check
from logger.errors import DataError, NotKnown
from logger.intake.shelf_bodies import SHELF
from logger.reports.comparison_messages import comparison
from logger.reports.cost_messages import series_costs
from logger.service import comparing
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.settings import BenchSettings
from logger.store import shelf_rows
from logger.words import Words
from tests.support.described import as_described
from tests.support.store import AT_S, SETTINGS, configured

TRIAL = "cotton 3, soy"
DAY_S = 86_400.0
ADDED = (  # kind, name, what was written, days before lighting
    ("vessel", "amber", {"lot": "L-204", "inner_diameter": "74 mm"}, 30),
    ("formula", "slate 8", {"wax": "Hazelmoor soy 12", "wax_lot": "A7", "fragrance": "Rain"}, 30),
    (
        "wick",
        "cotton 3",
        {"order": "3", "price": "0.08", "lot": "W-1", "supplier": "Marrow & Daughter"},
        30,
    ),
    ("wicking", "one cotton 3", {"wick": "cotton 3", "number": "1"}, 30),
    ("trial", TRIAL, {"formula": "slate 8", "vessel": "amber", "wicking": "one cotton 3"}, 30),
    ("pour", "batch 7", {"formula": "slate 8", "poured_on": "2031-06-10", "fill": "226 g"}, 13),
    ("tester", "T1", {"trial": TRIAL, "pour": "batch 7"}, 12),
    ("tester", "T2", {"trial": TRIAL}, 11),
    ("tester", "T9", {"trial": TRIAL}, 11),
    ("trial", "next one", {"formula": "slate 8"}, 1),
)


async def put(store, kind, name, at_s, which="add", **fields):
    given = {"id": uuid.uuid4().hex, **fields}
    if which == "add":
        given["name"] = name
    body = getattr(SHELF[kind], which).model_validate(given)
    await store.change(lambda con: shelf_rows.enter(con, body, name, at_s))


@pytest.fixture
async def burned(tmp_path, opened, evening):
    """One burn of tester T1, weighed before and after, and all records of it."""
    store = await opened(**configured(SETTINGS))
    for kind, name, fields, days in ADDED:
        await put(store, kind, name, AT_S - days * DAY_S, **fields)
    await put(store, "tester", "T9", AT_S - DAY_S, "withdraw", why="entered twice")
    # A new lot comes between pouring and lighting: this candle is still of the old one.
    await put(
        store, "formula", "slate 8", AT_S - 2 * DAY_S, "change", wax_lot="A8", fragrance_lot="F2"
    )
    await put(store, "vessel", "amber", AT_S + DAY_S, "change", lot="L-205")
    bench = evening()
    lit, _ = bench.lit()
    bench.steps.clear()
    bench = evening()
    bench.step(
        replace(lit, tester="t1", vessel="amber", wick="cotton 3", mass_g=310.0, wax_g=220.0)
    )
    for second in range(1, 40):
        bench.second(second, 30.0 + 0.2 * second)
    for entry in (
        Out(at_s=AT_S + 3600.5, entered_s=AT_S + 3600.5, id="out", station="jar-a"),
        WeighIn(
            at_s=AT_S + 9 * 3600.0, entered_s=AT_S + 9 * 3600.0, id="weigh", station="jar-a",
            mass_g=304.0,
        ),
    ):  # fmt: skip
        bench.step(entry)
    await store.append(bench.steps)
    return tmp_path


async def test_a_trial_is_known_with_its_records_lots_and_weighings(burned):
    judging = Judging(burned)
    facts = trial_facts(judging, TRIAL)
    assert facts.verdict == judging.verdict(TRIAL)
    assert (facts.vessel.inner_diameter_mm, facts.formula.wax) == (74.0, "Hazelmoor soy 12")
    assert (facts.wick.price, facts.wicking.number) == (0.08, 1)
    assert [one.fill_g for one in facts.pours] == [226.0]
    assert [one.name for one in facts.testers] == ["T1", "T2"]
    # What was burned, not what stands on the shelf now.
    assert facts.lots == {"vessel": ("L-204",), "wax": ("A7",), "wick": ("W-1",)}
    assert facts.formula.wax_lot == "A8"
    (candle,) = facts.candles
    assert (candle.tester, candle.full_burns, candle.to_the_end) == ("t1", 0, False)
    assert candle.lots["wick"] == Lot(name="cotton 3", lot="W-1", supplier="Marrow & Daughter")
    assert candle.lots["fragrance"] == Lot(
        name="Rain"
    )  # its lot was entered later, and is not known
    changed = lot_check(TRIAL, facts.candles, facts.lots_now)
    assert [(one.part, one.now.lot) for one in changed.changes] == [
        ("wax", "A8"),
        ("vessel", "L-205"),
    ]
    (waits,) = facts.waiting
    assert (waits.tester, waits.lots["wax"].lot) == ("T2", "A8")
    assert facts.verdict.not_for == tuple(one.what for one in changed.changes)
    assert changed.not_known == ("fragrance",)
    (burn,) = facts.burns
    assert facts.weighed[burn.burn.id].used_g == 6.0
    assert facts.hours == pytest.approx(1.0)
    assert facts.words.temperature_in.name == "degF"
    assert not facts.shared_pour


async def test_its_hottest_place_is_drawn_in_the_same_room_as_others(burned):
    """In one room with itself nothing is moved: the line ends where the burn's own curve does."""
    judging = Judging(burned)
    found = comparing.compared(judging, [TRIAL, "next one"], Words())
    as_described(comparison(found, Words()), "ComparisonMessage")
    as_described(series_costs(comparing.costs_of(judging, [TRIAL])), "SeriesCostsMessage")
    (drawn,) = comparing.lines(judging, found)
    (peak,) = (one.figures["peak"] for one in found.trials if one.figures)
    assert float(drawn.line.value[drawn.line.good].max()) == pytest.approx(peak.value, abs=1e-6)
    assert 0.0 <= float(drawn.line.at_s[0]) < 10.0
    svg = comparing.together_svg(judging, found, Words(), width=360.0)
    assert svg.count("curve-line") >= 2  # the line, and its piece in the legend
    assert comparing.short("soy 12 in the amber glass, cotton 6") == "soy 12 in t…ss, cotton 6"
    assert f"{TRIAL}, burn jar-a-{int(AT_S)}" in svg
    page = comparing.client_page(
        judging, [TRIAL], "us", BenchSettings(name="back-room", data=burned)
    )
    assert "wickbench" not in page
    assert "°F" in page
    assert "°C" not in page
    with pytest.raises(DataError, match="metric, us"):
        comparing.client_page(judging, [TRIAL], "old", BenchSettings(name="b", data=burned))


async def test_a_trial_is_known_before_it_is_burned(burned):
    facts = trial_facts(Judging(burned), "next one")
    assert (facts.burns, facts.verdict.outcome, facts.vessel) == ((), "undecided", None)
    assert facts.lots == {"wax": ("A8",), "fragrance": ("F2",)}
    with pytest.raises(NotKnown, match="there is no trial no such"):
        trial_facts(Judging(burned), "no such")
