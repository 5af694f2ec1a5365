"""Looks at a candle: what is entered, when a mark asks for one, what the melt pool did."""

from dataclasses import replace

import pytest

from logger.alarms.lifecycle import AlarmEvent, AlarmEventKind, Priority
from logger.burn.consumption import consumption
from logger.burn.entries import Corrected, Emergency, Note, Observed, Withdrawn
from logger.burn.entry_words import contents, difference
from logger.burn.look import LOOK_FIELDS, Look, confounded
from logger.burn.marks import AHEAD_S, LATE_S, MarkState, MarkTimes, mark_of, marks
from logger.burn.melt_pool import melt_pool, melt_pool_lines
from logger.burn.model import BurnEvent
from logger.burn.stated import Circumstances
from logger.decision.proves import proofs
from logger.errors import DataError, Refused
from logger.intake.correction_bodies import CorrectBody
from logger.intake.kinds import parse
from logger.intake.look_bodies import ObservationBody
from logger.pipeline import Bench, Pipeline
from logger.quantities import Unit
from logger.reports.document_html import record_html
from logger.reports.looks import look_lines
from logger.store import codec
from logger.words import Words
from tests.support.burn_from_formula import LIT_S, FormulaBurn
from tests.support.pipeline_bench import START_S, Live, bench, lit, out, stamps

USUAL_MARKS_S = (1800.0, 3600.0, 7200.0, 10_800.0, 14_400.0)
WORDS = Words()
INCHES = Words(length_in=Unit(name="in", factor=25.4))


def body(text):
    return parse(ObservationBody, ('{"id": "look-0001", ' + text + "}").encode())


def observed(at_s, entry_id="look-1", text="", mark_s=None, **look):
    return Observed(
        **stamps(at_s, entry_id), station="jar-a", look=Look(**look), text=text, mark_s=mark_s
    )


def burning(marks_s=USUAL_MARKS_S):
    live = Live(Pipeline(replace(bench(), marks=MarkTimes(at_s=marks_s)), START_S))
    live.put(lit())
    return live


def told(live):
    return [
        (round(e.time_s - START_S), e.what, e.alarm.finding.limit)
        for e in live.of(AlarmEvent)
        if e.alarm.finding.rule == "mark"
    ]


def test_what_is_typed_becomes_what_was_seen():
    made = body(
        '"pool": "62 mm, 60.5 mm", "flame": "0.9 in", "soot": 0, "flicker": "1; 2", '
        '"wick": "leaning", "pool_depth": "8 mm", "full_pool": "no", "text": "steady"'
    ).entry(START_S, "jar-a")
    assert isinstance(made, Observed)
    assert made.look == Look(
        pool_mm=(62.0, 60.5),
        flame_mm=(22.86,),
        soot=0,
        flicker=(1, 2),
        wick="leaning",
        pool_depth_mm=8.0,
        full_pool="no",
    )
    assert contents(made, WORDS) == (
        "flame 22.9 mm; flicker 1 (now and then), 2 (often); wick leaning; pool 62, 60.5 mm; "
        "full pool no; pool depth 8 mm; soot 0 (none); steady"
    )
    assert "pool 2.44, 2.38 in" in contents(made, INCHES)


@pytest.mark.parametrize(
    "text", ["62 mm, 60 mm", "62mm,60mm", "62 x 60 mm", "62 mm 60 mm", "6,2 cm; 6,0 cm"]
)
def test_two_directions_are_written_in_many_ways(text):
    assert body(f'"pool": "{text}"').entry(START_S, "jar-a").look.pool_mm == (62.0, 60.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('"soot": 4', 'soot: "4" is not one of its grades; write a number: 0 none, 1 a trace'),
        ('"pool": "62 mm, 60 mm, 61 mm"', "is too many; write at most 2"),
        ('"pool_depth": "8"', "has no unit"),
        ('"wick": "gone"', "wick: must be"),
        ('"mark": "1 h", "at": "14:05"', "not both"),
        ('"emergency": "crack", "soot": 1', "record it by itself"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_write(text, says):
    with pytest.raises(DataError) as refused:
        body(text).entry(START_S, "jar-a")
    assert says in str(refused.value)


def test_notes_and_emergencies_are_entered_as_before():
    assert isinstance(body('"text": "no soot"').entry(START_S, "jar-a"), Note)
    assert isinstance(body('"emergency": "crack"').entry(START_S, "jar-a"), Emergency)
    with pytest.raises(DataError):
        body('"text": ""').entry(START_S, "jar-a")


def test_each_mark_is_told_two_minutes_ahead_until_somebody_looks_or_it_is_missed():
    live = burning((1800.0, 3600.0))
    live.wait(1500)
    live.put(observed(live.now_s, "between", smoke=0))  # of no mark
    live.wait(300)
    live.put(observed(live.now_s, soot=0))
    live.wait(3600 + LATE_S + 5 - 1800)
    first_s, second_s = 1800.0 - AHEAD_S, 3600.0 - AHEAD_S
    assert told(live) == [
        (first_s, AlarmEventKind.RAISED, 1800.0),
        (1800, AlarmEventKind.CLEARED, 1800.0),
        (second_s, AlarmEventKind.RAISED, 3600.0),
        (3600 + LATE_S + 1, AlarmEventKind.CLEARED, 3600.0),
    ]
    (finding,) = {
        e.alarm.finding.text
        for e in live.of(AlarmEvent)
        if e.alarm.finding.rule == "mark" and e.alarm.finding.limit == 1800.0
    }
    assert "do not touch the glass or reach over the flame" in finding
    assert live.of(AlarmEvent)[-1].alarm.finding.priority is Priority.NOTICE
    assert live.of(BurnEvent)[-1].text == "jar-a: at the mark of 30 min: soot 0 (none)"


def test_a_regime_may_have_marks_of_its_own():
    times = MarkTimes(at_s=(1800.0,), by_regime_s=(("power", (3600.0,)),))
    live = Live(Pipeline(replace(bench(), marks=times), START_S))
    live.put(replace(lit(), stated=Circumstances(regime="power")))
    live.wait(4600)
    assert {at_s for _, _, at_s in told(live)} == {3600.0}
    assert times.of("") == times.of("short") == (1800.0,)
    kept = codec.load(Bench, codec.dump(replace(bench(), marks=times)))
    assert kept.marks == times


def test_a_withdrawn_look_leaves_its_mark_open():
    live = burning((1800.0,))
    live.wait(1750)
    live.put(observed(live.now_s, soot=1))
    live.wait(60)
    withdrawn = Withdrawn(**stamps(live.now_s, "gone"), entry="look-1", why="other jar")
    live.put(withdrawn)
    live.wait(5)
    assert [what for _, what, _ in told(live)][-1] == AlarmEventKind.RAISED


def test_a_look_typed_later_counts_at_its_mark():
    live = burning()
    live.wait(5000)
    entry = live.pipeline.resolved(observed(live.now_s, mark_s=3600.0, soot=2))
    assert (entry.at_s - START_S, entry.mark_s) == (3600.0, None)
    with pytest.raises(Refused, match="only in 37 min"):
        live.pipeline.resolved(observed(live.now_s, mark_s=7200.0))


def test_what_only_a_burning_or_an_extinguished_candle_shows():
    live = burning()
    live.wait(600)
    with pytest.raises(Refused, match="after smoke: jar-a still burned at that time"):
        live.put(observed(live.now_s, after_smoke_s=12.0))
    live.put(out(live.now_s))
    live.wait(60)
    with pytest.raises(Refused, match="flame: jar-a was out by then"):
        live.put(observed(live.now_s, flame_mm=(20.0,)))
    live.put(observed(live.now_s, after_smoke_s=12.0, wet_spots=1, wax_level_mm=40.0))
    live.put(observed(live.now_s - 120.0, "look-2", flame_mm=(20.0,), wax_level_mm=42.0))
    assert live.pipeline.burns[0].wax_level_mm == 40.0  # the other was typed later, and seen before
    with pytest.raises(Refused, match="not yet lit"):
        live.put(observed(START_S - 60.0, "look-3", soot=1))


def test_a_look_is_corrected_field_by_field():
    live = burning()
    live.wait(1800)
    live.put(observed(live.now_s, soot=2, pool_mm=(60.0, 62.0), text="steady"))
    raw = b'{"id": "fix-00001", "why": "misread", "soot": "0", "clear": ["pool"]}'
    made = parse(CorrectBody, raw).entry(live.now_s, "look-1")
    assert isinstance(made, Corrected)
    live.put(made)
    (line,) = [one for one in live.pipeline.entered_at("jar-a") if one.first.id == "look-1"]
    assert line.now.look == Look(soot=0)
    assert difference(line.first, line.now, WORDS) == (
        "pool left out, not 60, 62 mm; soot 0 (none), not 2 (a grey patch)"
    )
    with pytest.raises(Refused, match="has no look"):
        live.put(parse(CorrectBody, raw).entry(live.now_s, "entry-1"))


def test_marks_by_what_became_of_them():
    found = {one.mark_s: one.state for one in marks(USUAL_MARKS_S, [1750.0], 7100.0, lit=True)}
    assert [*found.values()] == [
        MarkState.SEEN,
        MarkState.MISSED,
        MarkState.DUE,
        MarkState.AHEAD,
        MarkState.AHEAD,
    ]
    after = [one.state for one in marks(USUAL_MARKS_S, [], 7100.0, lit=False)]
    assert after == [MarkState.MISSED] * 2 + [MarkState.NOT_REACHED] * 3
    assert mark_of(3600.0 + LATE_S, USUAL_MARKS_S) == 3600.0
    assert mark_of(3600.0 + LATE_S + 1.0, USUAL_MARKS_S) is None


def look_at(hours, **look):
    return observed(LIT_S + 3600.0 * hours, f"look-{hours}", **look)


def test_the_melt_pool_against_the_rule_of_the_trade():
    """A quarter to half an inch an hour outwards, an inch of diameter at most: common practice.

    By that rule a pool of 2 in. after 2 h grew as fast as any, one of 1 in. as slowly.
    """
    at_most = melt_pool([look_at(2.0, pool_mm=(50.8, 50.8))], LIT_S, 76.2)
    assert at_most.growth_mm_per_h == pytest.approx(12.7)
    assert at_most.wall_s == pytest.approx(3 * 3600.0)  # 3 in. wide: "about 3 hours"
    (first, second) = melt_pool_lines(at_most, INCHES)
    assert first.endswith(
        "moved 0.5 in an hour, within the trade's 0.25 in to 0.5 in (common practice)"
    )
    assert second == "not at the wall all round after 2 h; as it grew, not before 3 h"
    slow = melt_pool([look_at(2.0, pool_mm=(24.0,))], LIT_S, None)
    assert "slower than" in next(melt_pool_lines(slow, WORDS))
    full = [look_at(1.0, pool_mm=(40.0, 42.0)), look_at(3.0, pool_mm=(74.0, 73.0))]
    assert melt_pool(full, LIT_S, 75.0).full_s == 3 * 3600.0
    assert melt_pool(full, LIT_S, None).full_s is None
    seen = [look_at(2.0, full_pool="no"), look_at(3.0, full_pool="yes")]
    assert [*melt_pool_lines(melt_pool(seen, LIT_S, None), WORDS)] == [
        "seen at the wall all round after 3 h, not yet after 2 h"
    ]


@pytest.mark.parametrize(
    ("looks", "says"),
    [
        ((), "full melt pool: no, not recorded"),
        ((look_at(3.0, full_pool="yes"),), "full melt pool: yes, after 3 h"),
        ((look_at(4.0, full_pool="no"),), "full melt pool: no, short of the wall after 4 h"),
    ],
)
def test_a_burn_proves_the_melt_pool_that_was_seen(looks, says):
    evidence = replace(FormulaBurn().evidence(), looks=looks)
    weighed = consumption([evidence.burn])[evidence.burn.id]
    assert says in map(str, proofs(evidence, weighed, [evidence.burn]))


def test_the_record_tells_what_was_seen_by_mark():
    looks = (
        look_at(0.5, soot=1, hot_throw=2, other_scent="yes"),
        look_at(3.0, full_pool="yes", text="<b>steady</b>"),
    )
    found = [*marks(USUAL_MARKS_S, [one.at_s - LIT_S for one in looks], 14_400.0, lit=False)]
    record = replace(
        FormulaBurn().record(),
        looks=looks,
        marks=tuple(found),
        melt_pool=melt_pool(looks, LIT_S, 75.0),
    )
    lines = look_lines(looks, found, lit_s=LIT_S, words=WORDS)
    assert [(one.mark, one.text) for one in lines] == [
        ("30 min", "hot throw 2 (good); other scent yes; soot 1 (a trace)"),
        ("1 h", "missed: nobody looked"),
        ("2 h", "missed: nobody looked"),
        ("3 h", "full pool yes; <b>steady</b>"),
        ("4 h", "missed: nobody looked"),
    ]
    html = record_html(record)
    assert "Seen at the wall all round after 3 h." in html
    assert "full pool yes; &lt;b&gt;steady&lt;/b&gt;" in html
    assert "The rating of the scent tells little: another scented candle burned." in html


def test_every_field_says_what_is_meant():
    assert all(one.words for one in LOOK_FIELDS)
    assert confounded(Look(hot_throw=1, away="no", other_scent="no")) == (
        "the rater had not been out of the room"
    )
