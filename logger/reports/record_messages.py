"""[pure] What is stored of a burn, as the JSON objects that HTTP hands out."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal

from typing_extensions import Doc, TypedDict

from logger.burn.consumption import Consumption
from logger.burn.cool_down import lit_again_s
from logger.burn.coverage import WallCoverage
from logger.burn.entries import Change, Corrected, Moved, Withdrawn
from logger.burn.entry_words import contents, counting
from logger.burn.heat import WarmUp
from logger.burn.ledger import Ledger
from logger.burn.limits import Limits, Material
from logger.burn.link_record import LinkRecord
from logger.burn.marks import BurnMark
from logger.burn.melt_pool import MeltPool
from logger.burn.model import Burn
from logger.decision.proves import Proof
from logger.decision.verdict import Verdict
from logger.field_table import filled
from logger.messages import (
    BurnHeadMessage,
    HottestMessage,
    burn_head,
    hottest,
    rounded,
    time_or_none,
)
from logger.reports.card import card_lines
from logger.reports.document import PlaceHeat
from logger.reports.looks import LookMessage, MarkMessage, MeltPoolMessage, melt_pool_message
from logger.reports.proof_messages import (
    ProofMessage,
    WallCoverageMessage,
    WeighedMessage,
    coverage_message,
    proof,
    weighed,
)
from logger.reports.verdict_messages import (
    VerdictMessage,
    WarmestRoomMessage,
    verdict,
    warmest,
)
from logger.timestamps import rfc3339
from logger.words import Words


class LinkMessage(TypedDict):
    """How an instrument kept in touch over the burn; null where it tells nothing of the kind."""

    instrument: str
    reconnects: int
    weakest_dbm: int | None
    battery_percent: int | None


def link(found: LinkRecord) -> LinkMessage:
    """How an instrument kept in touch over the burn."""
    return {
        "instrument": found.instrument,
        "reconnects": found.reconnects,
        "weakest_dbm": found.weakest_dbm,
        "battery_percent": found.battery_percent,
    }


ChangeName = Literal["corrected", "withdrawn", "moved"]

_CHANGES: Mapping[type[Change], ChangeName] = {
    Corrected: "corrected",
    Withdrawn: "withdrawn",
    Moved: "moved",
}


class ChangeMessage(TypedDict):
    """What changed an entry, and why."""

    change: ChangeName
    entered: str
    by: str | None
    why: str


class EntryMessage(TypedDict):
    """What a person entered: as it was first, and as it counts."""

    id: str
    short_id: Annotated[str, Doc("enough of it to name it by")]
    at: str
    entered: str
    by: str | None
    text: Annotated[str, Doc("as it was entered first")]
    counts: Annotated[str | None, Doc("as it counts now; null where it was withdrawn")]
    counts_at: str | None
    changes: list[ChangeMessage]


def entries(ledger: Ledger, words: Words) -> list[EntryMessage]:
    """What people entered, in order of entry: as it was first, as it counts, and every change."""
    return [
        {
            "id": line.first.id,
            "short_id": ledger.short_id(line.first.id),
            "at": rfc3339(line.first.at_s),
            "entered": rfc3339(line.first.entered_s),
            "by": line.first.by or None,
            "text": contents(line.first, words),
            "counts": None if line.now is None else counting(line.first, line.now, words),
            "counts_at": None if line.now is None else rfc3339(line.now.at_s),
            "changes": [
                {
                    "change": _CHANGES[type(change)],
                    "entered": rfc3339(change.entered_s),
                    "by": change.by or None,
                    "why": getattr(change, "why", "typed at the wrong jar"),
                }
                for change in line.changes
            ],
        }
        for line in ledger.lines
    ]


class WarmUpMessage(TypedDict):
    """A place's way to its plateau, of two time constants."""

    rise_k: Annotated[float, Doc("at the plateau")]
    standard_uncertainty_k: float
    above_room: Annotated[bool, Doc("else above its own first value")]
    plateau_c: float
    settled: Annotated[bool, Doc("whether the plateau was seen rather than predicted")]
    fast_s: float
    slow_s: float


def warm_up(fit: WarmUp) -> WarmUpMessage:
    """A place's way to its plateau."""
    return {
        "rise_k": rounded(fit.rise_k),
        "standard_uncertainty_k": rounded(fit.rise_sd_k),
        "above_room": fit.above_room,
        "plateau_c": rounded(fit.plateau_c),
        "settled": fit.settled,
        "fast_s": rounded(fit.fast_s),
        "slow_s": rounded(fit.slow_s),
    }


class PlaceHeatMessage(TypedDict):
    """What a place did in a burn; null where it is not on the vessel or not known."""

    channel: str
    place: str
    warm_up: WarmUpMessage | None
    over_alert_s: float | None
    over_limit_s: float | None
    warmest_room: WarmestRoomMessage | None
    budget: Annotated[
        dict[str, float] | None,
        Doc("standard uncertainty by its cause, of the highest estimate"),
    ]


def heat(place: PlaceHeat) -> PlaceHeatMessage:
    """What a place did in a burn."""
    components = None if place.budget is None else place.budget.components
    return {
        "channel": place.series.channel.name,
        "place": str(place.series.place),
        "warm_up": None if place.warm_up is None else warm_up(place.warm_up),
        "over_alert_s": rounded(place.over_alert_s),
        "over_limit_s": rounded(place.over_limit_s),
        "warmest_room": warmest(place.warmest, None),
        "budget": None
        if components is None
        else {part.name: rounded(part.standard_uncertainty) for part in components},
    }


class BurnMessage(BurnHeadMessage):
    """A burn as it is stored."""

    shared_pour: Annotated[bool, Doc("its tester serves several wicks in turn")]
    stated: Annotated[
        dict[str, str | float], Doc("how it was run and how it ended, lengths in mm, times in s")
    ]
    reason: Annotated[str | None, Doc("why it was lit though its vessel was not cleared")]
    lacks: Annotated[list[str], Doc("what a disk that did not answer in time left out")]
    hand_kept: Annotated[
        str | None, Doc("the table it was imported from, long after; null: entered at the bench")
    ]
    material: Material | None
    elapsed_s: float
    watched_by: list[str]
    entries: list[EntryMessage]
    least_margin: HottestMessage | None
    weighed: WeighedMessage
    card: Annotated[list[str], Doc("length, peak, margin and verdict, a line each")]
    lit_again: Annotated[str | None, Doc("from when, the wax being solid; null while it burns")]
    looks: Annotated[list[LookMessage], Doc("what people saw, in order of time")]
    marks: list[MarkMessage]
    melt_pool: MeltPoolMessage
    proves: list[ProofMessage]
    wall_coverage: Annotated[
        WallCoverageMessage | None, Doc("null where no place on the wall has a height")
    ]
    links: list[LinkMessage]
    heat: list[PlaceHeatMessage]
    verdict: VerdictMessage


def burn_message(
    burn: Burn,
    *,
    until_s: float,
    watched_by: Sequence[str],
    entered: list[EntryMessage],
    consumption: Consumption,
    limits: Limits,
    looks: list[LookMessage],
    marks: Sequence[BurnMark],
    pool: MeltPool,
    proofs: Sequence[Proof],
    coverage: WallCoverage | None,
    words: Words,
    places: Sequence[PlaceHeat],
    judged: Verdict,
) -> BurnMessage:
    """A burn as it is stored, known up to `until_s`."""
    return {
        **burn_head(burn),
        "shared_pour": burn.shared_pour,
        "stated": {
            one.attribute: rounded(value) if isinstance(value, float) else value
            for table in (burn.circumstances, burn.ending)
            for one, value in filled(table)
        },
        "reason": burn.reason or None,
        "lacks": [*burn.lacks],
        "hand_kept": burn.hand_kept or None,
        "material": burn.material,
        "elapsed_s": rounded(burn.elapsed_s(until_s)),
        "watched_by": [*watched_by],
        "entries": entered,
        "least_margin": hottest(burn.least_margin),
        "weighed": weighed(consumption, words),
        "card": [*card_lines(burn, limits.of(burn.material), judged, words)],
        "lit_again": time_or_none(lit_again_s(burn, limits)),
        "looks": looks,
        "marks": [{"mark_s": one.mark_s, "state": one.state} for one in marks],
        "melt_pool": melt_pool_message(pool, words),
        "proves": [proof(one) for one in proofs],
        "wall_coverage": None if coverage is None else coverage_message(coverage, words),
        "links": [link(one) for one in burn.links],
        "heat": [heat(one) for one in places],
        "verdict": verdict(judged),
    }
