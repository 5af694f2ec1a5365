"""[pure] What the records say, as the JSON objects that HTTP hands out."""

from logger import messages
from logger.burn.consumption import Consumption
from logger.burn.entry_words import contents, counting
from logger.burn.heat import InWarmestRoom, LastQuarter
from logger.burn.ledger import Ledger
from logger.burn.link_record import LinkRecord
from logger.burn.verdict import Judgement, Verdict
from logger.messages import Message
from logger.quantities import Quantity
from logger.reports.document import PlaceHeat
from logger.timestamps import rfc3339
from logger.words import Words


def verdict(found: Verdict) -> Message:
    """How it was judged and what is missing."""
    return {
        "outcome": found.outcome.value,
        "judgements": [judgement(one) for one in found.judgements],
        "missing": [
            {"text": gap.text, "decides": gap.decides, "burn": gap.burn} for gap in found.missing
        ],
    }


def link(found: LinkRecord) -> Message:
    """How an instrument kept in touch over the burn."""
    return {
        "instrument": found.instrument,
        "reconnects": found.reconnects,
        "weakest_dbm": found.weakest_dbm,
        "battery_percent": found.battery_percent,
    }


def entries(ledger: Ledger, words: Words) -> list[Message]:
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
                    "change": type(change).__name__.lower(),
                    "entered": rfc3339(change.entered_s),
                    "by": change.by or None,
                    "why": getattr(change, "why", "typed at the wrong jar"),
                }
                for change in line.changes
            ],
        }
        for line in ledger.lines
    ]


def judgement(one: Judgement) -> Message:
    """One criterion on one burn."""
    return {
        "criterion": one.criterion.name,
        "burn": one.burn,
        "outcome": one.outcome.value,
        "reason": one.reason,
        "value": messages.rounded(one.value),
        "limit": messages.rounded(one.limit),
        "unit": None if one.value is None else Quantity.TEMPERATURE.unit,
        "warmest_room": warmest(one.warmest, one.limit),
        "source": one.source,
    }


def warmest(found: InWarmestRoom | None, limit_c: float | None) -> Message | None:
    """What a figure means for a warmer room."""
    if found is None:
        return None
    return {
        "room": messages.rounded(found.room_limit_c),
        "bound": messages.rounded(found.bound_c),
        "unit": Quantity.TEMPERATURE.unit,
        "stays_under": None if limit_c is None else found.stays_under(limit_c),
    }


def last_quarter(found: LastQuarter | None) -> Message | None:
    """What is expected of the last quarter of the wax."""
    if found is None:
        return None
    return {
        "value": messages.rounded(found.peak_c),
        "low": messages.rounded(found.low_c),
        "high": messages.rounded(found.high_c),
        "level": found.level,
        "unit": Quantity.TEMPERATURE.unit,
        "burns": found.burns,
    }


def weighed(found: Consumption) -> Message:
    """What weighing tells of a burn."""
    return {
        "before_g": messages.rounded(found.before_g),
        "after_g": messages.rounded(found.after_g),
        "used_g": messages.rounded(found.used_g),
        "rate_g_per_h": messages.rounded(found.rate_g_per_h),
        "used_share": messages.rounded(found.used_share),
    }


def heat(place: PlaceHeat) -> Message:
    """What a place did in a burn."""
    fit, budget = place.warm_up, place.budget
    return {
        "channel": place.series.channel.name,
        "place": str(place.series.place),
        "warm_up": None if fit is None else {
            "rise_k": messages.rounded(fit.rise_k),
            "standard_uncertainty_k": messages.rounded(fit.rise_sd_k),
            "above_room": fit.above_room,
            "plateau_c": messages.rounded(fit.plateau_c),
            "settled": fit.settled,
            "fast_s": messages.rounded(fit.fast_s),
            "slow_s": messages.rounded(fit.slow_s),
        },
        "over_alert_s": messages.rounded(place.over_alert_s),
        "over_limit_s": messages.rounded(place.over_limit_s),
        "warmest_room": warmest(place.warmest, None),
        "budget": None if budget is None else {
            part.name: messages.rounded(part.standard_uncertainty) for part in budget.components
        },
    }  # fmt: skip
