"""Trials compared and what they cost, out of the store; every function here blocks."""

from collections.abc import Mapping, Sequence
from string import ascii_uppercase

from logger.decision.compared import ComparedTrial, Comparison
from logger.decision.comparison import compare
from logger.decision.costs import SeriesCosts, costs
from logger.decision.same_room import peak_in
from logger.decision.trial_facts import TrialFacts
from logger.errors import DataError
from logger.reports.client_page import client_html
from logger.reports.curves_together import TogetherLine, draw_together
from logger.service.bench_checks import checked_bench
from logger.service.burn_curve import curve_of
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.settings.bench_keys import BenchSettings, words_of
from logger.store.queries import open_read
from logger.words import Words

CLIENT_UNITS: Mapping[str, Mapping[str, str]] = {
    "metric": {},
    "us": {"temperature": "degF", "length": "in", "mass": "oz"},
}
"""Those that a client may want instead of the maker's, as [bench] show would have them."""

LEGEND_CHARACTERS = 24  # of a name, beside "burn 123" (our choice)

MOST = 12  # trials in one comparison: more cannot be told apart in a drawing (our choice)


def compared(
    judging: Judging, names: Sequence[str], words: Words, *, by_wick: bool = False
) -> Comparison:
    """Trials side by side. Raises NotKnown for a trial that is not, DataError for too many."""
    bench = checked_bench(judging, words).reproducibility
    return compare(_facts(judging, names), words, by_wick=by_wick, bench=bench)


def costs_of(judging: Judging, names: Sequence[str]) -> SeriesCosts:
    """What trials cost. Raises NotKnown for a trial that is not, DataError for too many."""
    return costs(_facts(judging, names))


def _facts(judging: Judging, names: Sequence[str]) -> list[TrialFacts]:
    asked = list(dict.fromkeys(names))
    if not 1 <= len(asked) <= MOST:
        raise DataError(f"trial: name 1 to {MOST} of them")
    return [trial_facts(judging, name) for name in asked]


def together_svg(
    judging: Judging, found: Comparison, words: Words, *, width: float, name: str = "together"
) -> str:
    """The hottest comparable burn of each trial in one drawing; empty where none was measured."""
    drawn = lines(judging, found)
    return draw_together(drawn, words, width=width, name=name) if drawn else ""


def lines(judging: Judging, found: Comparison) -> list[TogetherLine]:
    """The hottest place of the hottest comparable burn of each trial, in the same room."""
    lettered = zip(ascii_uppercase, found.trials, strict=False)
    drawn = (_line(judging, found, one, letter) for letter, one in lettered)
    return [line for line in drawn if line is not None]


def client_page(judging: Judging, names: Sequence[str], units: str, bench: BenchSettings) -> str:
    """Trials by their wicks for a client, in `units`; empty are the maker's own.

    Raises as `compared`, and DataError for units that are none of `CLIENT_UNITS`.
    """
    if units and units not in CLIENT_UNITS:
        raise DataError(f"units: must be one of {', '.join(CLIENT_UNITS)}")
    words = words_of(CLIENT_UNITS[units] if units else bench.show)
    found = compared(judging, names, words, by_wick=True)
    wide, narrow = (
        together_svg(judging, found, words, width=width, name=name)
        for width, name in ((960.0, "wide"), (360.0, "narrow"))
    )
    return client_html(found, words, maker=bench.maker or bench.name, wide=wide, narrow=narrow)


def short(name: str) -> str:
    """What fits in a legend: names of a series differ at their ends."""
    half = LEGEND_CHARACTERS // 2
    return name if len(name) <= LEGEND_CHARACTERS else f"{name[: half - 1]}…{name[-half:]}"


def _line(
    judging: Judging, found: Comparison, one: ComparedTrial, letter: str
) -> TogetherLine | None:
    peaks = [
        (peak.value, evidence, hottest)
        for evidence in one.comparable(found.first)
        if (peak := peak_in(evidence, found.room_c)) and (hottest := evidence.burn.hottest)
    ]
    if not peaks:
        return None
    peak_c, evidence, hottest = max(peaks, key=lambda peak: peak[0])
    measured_c = evidence.warmest.peak_c if evidence.warmest else hottest.value_c
    with open_read(judging.data) as reader:
        drawn = curve_of(reader, evidence.burn, only=hottest.channel)
    return TogetherLine.of(
        drawn,
        hottest.channel,
        label=f"{short(one.label)}, burn {evidence.burn.short_id}",
        letter=letter,
        warmer_k=peak_c - measured_c,
    )
