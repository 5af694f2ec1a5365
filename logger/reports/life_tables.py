"""[pure] What a trial did burn by burn: heat, coverage, wax, melt pool, conditions."""

from collections.abc import Iterator, Mapping, Sequence

from logger.burn.coverage import never_measured, unknown, wall_coverage
from logger.burn.evidence import BurnEvidence
from logger.burn.melt_pool import melt_pool, melt_pool_lines
from logger.burn.wax_words import wax_lines, weighed
from logger.decision.trial_facts import TrialFacts
from logger.field_table import said
from logger.reports.blocks import Block, Grid, Heading, Items, Paragraph, Sketch
from logger.reports.burn_chapter import BurnChapter
from logger.reports.burn_times import hours_minutes
from logger.reports.life_drawing import NARROW, WIDE, BurnHeat, life_drawing
from logger.reports.si_beside import SiBeside
from logger.reports.unrolled import unrolled
from logger.words import duration, sentence

_NOTHING_WEIGHED = "not weighed"


def life_blocks(facts: TrialFacts, chapters: Mapping[str, BurnChapter]) -> Iterator[Block]:
    """Tables with a row for each burn."""
    words = SiBeside.of(facts.words)
    yield from _heat(facts, chapters, words)
    yield from _coverage(facts.burns, words)
    yield from _wax(facts, words)
    yield from _pool(facts.burns, words)
    yield from _conditions(facts.burns, chapters, words)


def peak_facts(facts: TrialFacts) -> Iterator[tuple[str, str]]:
    """The hottest of all burns, and what it means for the warmest room."""
    words = SiBeside.of(facts.words)
    seen = [(one, hottest) for one in facts.burns if (hottest := one.burn.hottest)]
    if not seen:
        return
    burn, hottest = max(seen, key=lambda pair: pair[1].value_c)
    figure = words.measured(
        hottest.value_c, hottest.standard_uncertainty_c, assumed=hottest.accuracy_assumed
    )
    where = f"{words.place(hottest.place)}, in burn {burn.burn.short_id}"
    yield "Hottest measured place", f"{figure}, {where}"
    rooms = [(one, one.warmest) for one in facts.burns if one.warmest]
    if not rooms:
        yield "In the warmest room", "not known: the room was not measured"
        return
    burn, warmest = max(rooms, key=lambda pair: pair[1].bound_c)
    limit_c = burn.limits.of(burn.burn.material).limit_c
    side = "under" if warmest.stays_under(limit_c) else "over"
    yield (
        "In the warmest room",
        f"at most {words.temperature(warmest.bound_c)} in a room of "
        f"{words.temperature(warmest.room_limit_c)}, {side} the maker's limit of "
        f"{words.temperature(limit_c)}",
    )


def _heat(
    facts: TrialFacts, chapters: Mapping[str, BurnChapter], words: SiBeside
) -> Iterator[Block]:
    burns = facts.burns
    latest = burns[-1]
    yield Heading(text="Hottest measured place over the life")
    if len(burns) > 1:
        heats = [BurnHeat(name=one.burn.short_id, hottest=one.burn.hottest) for one in burns]
        wide, narrow = (
            life_drawing(heats, latest.limits.of(latest.burn.material), words.plain, width)
            for width in (WIDE, NARROW)
        )
        yield Sketch(
            svg=wide,
            narrow_svg=narrow,
            described="The hottest measured place of each burn; the figures are in the table below",
            caption="Bars: expanded uncertainty, k = 2. The lines are those of the latest burn.",
            share=82,
        )
    yield Grid(
        head=("Burn", "Day", "Hottest measured place", "Value", "h:min", "Limit", "Left"),
        rows=tuple(_hottest(one, chapters, words) for one in burns),
        widest=2,
    )
    yield Paragraph(
        text=(
            "± is the expanded uncertainty, k = 2: about 95 % of such intervals hold the true "
            "value, as far as its parts are known (GUM 6.2). Assumed: nobody stated or compared "
            "the instrument's accuracy, so the usual limit of error of its kind stands in. Left: "
            "from the highest value plus its ± to the limit."
        ),
        faint=True,
    )


def _hottest(
    one: BurnEvidence, chapters: Mapping[str, BurnChapter], words: SiBeside
) -> tuple[str, ...]:
    burn, limit_c = one.burn, one.limits.of(one.burn.material).limit_c
    day = chapters[burn.id].day if burn.id in chapters else ""
    hottest, tightest = burn.hottest, burn.least_margin
    limit = words.temperature(limit_c)
    if hottest is None or tightest is None:
        return burn.short_id, day, "nothing on the vessel was measured", "", "", limit, ""
    figure = words.measured(
        hottest.value_c, hottest.standard_uncertainty_c, assumed=hottest.accuracy_assumed
    )
    at = hours_minutes(hottest.at_s - burn.lit_s)
    left_k = limit_c - tightest.upper_c
    left = words.difference(left_k) if left_k >= 0.0 else f"over by {words.difference(-left_k)}"
    return burn.short_id, day, words.place(hottest.place), figure, at, limit, left


def _coverage(burns: Sequence[BurnEvidence], words: SiBeside) -> Iterator[Block]:
    found = wall_coverage((seen for one in burns for seen in one.coverage), words.length_in)
    if found is None:
        return
    yield Heading(text="Where the wall was measured", level=3)
    never = never_measured(found, words).replace("in this burn", "in any burn")
    level_mm = next((m for one in reversed(burns) if (m := one.burn.wax_level_mm)), None)
    yield Sketch(
        svg=unrolled(found, words.length_in),
        described=never or "Every part of the wall was measured",
        caption=(
            "The wall unrolled, seen from outside, heights above the outside base. A figure is "
            "the share that was measured there of the burn in which most of it was."
        ),
        share=58,
    )
    yield Paragraph(
        text=f"{sentence(never or 'every part of the wall was measured')}. "
        f"{unknown(found, words, level_mm)}."
    )


def _wax(facts: TrialFacts, words: SiBeside) -> Iterator[Block]:
    lines = [
        (one.burn.short_id, duration(one.burn.elapsed_s(one.until_s)), weighed(found, words))
        for one in facts.burns
        if (found := facts.weighed.get(one.burn.id)) is not None
    ]
    yield Heading(text="Consumption", level=3)
    if all(line[2] == _NOTHING_WEIGHED for line in lines):
        yield Paragraph(text="The candles were not weighed.")
        return
    yield Grid(head=("Burn", "Length", "Weighed cold"), rows=tuple(lines), widest=2)
    last = {one.burn.candle: one.burn for one in facts.burns}
    for burn in last.values():
        found = facts.weighed.get(burn.id)
        if found is not None and found.life is not None:
            life = ". ".join(map(sentence, [*wax_lines(found, words)][2:]))
            yield Paragraph(strong=f"{burn.tester or burn.trial}:", text=f"{life}.")


def _pool(burns: Sequence[BurnEvidence], words: SiBeside) -> Iterator[Block]:
    lines = {
        one.burn.short_id: ". ".join(map(sentence, melt_pool_lines(found, words)))
        for one in burns
        if (found := melt_pool(one.looks, one.burn.lit_s, one.burn.inner_diameter_mm))
    }
    rows = tuple((burn, line) for burn, line in lines.items() if line)
    yield Heading(text="Melt pool", level=3)
    if rows:
        yield Grid(head=("Burn", "As people saw it"), rows=rows, widest=1)
    else:
        yield Paragraph(text="Nobody recorded it.")


def _conditions(
    burns: Sequence[BurnEvidence], chapters: Mapping[str, BurnChapter], words: SiBeside
) -> Iterator[Block]:
    yield Heading(text="Conditions and deviations", level=3)
    rows = tuple(
        (
            one.burn.short_id,
            duration(one.burn.elapsed_s(one.until_s)),
            _room(one, words),
            "; ".join(said(one.burn.circumstances, words)) or "not stated",
            one.burn.ending.words or "not stated",
        )
        for one in burns
    )
    head = ("Burn", "Length", "Room", "How it was burned", "Extinguishing")
    yield Grid(head=head, rows=rows, widest=3)
    found = [
        f"Burn {one.burn.short_id}: {line}"
        for one in burns
        if one.burn.id in chapters
        for line in chapters[one.burn.id].deviations
    ]
    if found:
        yield Items(lines=tuple(found))
    else:
        yield Paragraph(text="No deviation is known.")


def _room(one: BurnEvidence, words: SiBeside) -> str:
    lows = [seen.lowest.value for seen in one.rooms if seen.lowest and seen.lowest.value]
    highs = [seen.highest.value for seen in one.rooms if seen.highest and seen.highest.value]
    if not lows or not highs:
        return "not measured"
    return f"{words.temperature(min(lows))} to {words.temperature(max(highs))}"
