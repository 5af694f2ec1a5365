"""Wicks side by side for a client: one self-contained page, the curve first, good on paper."""

from markupsafe import Markup

from logger.decision.compared import ComparedTrial, Comparison
from logger.decision.ranking import in_a_sentence, ranking
from logger.reports.comparison_messages import figure_text
from logger.reports.templates import page, style
from logger.words import Words

_OUTCOMES = {"pass": "passed", "fail": "failed"}


def client_html(found: Comparison, words: Words, *, maker: str, wide: str, narrow: str) -> str:
    """The whole file; `wide` and `narrow` are the drawing of all, empty where nothing was measured.

    Everything that people wrote is escaped; no command is on it.
    """
    ranked = ranking(found, words)
    trials = [one.trial for one in ranked if one.rank is not None]
    return page(
        "client.html",
        maker=maker,
        words=words,
        sentence=in_a_sentence(found, ranked, words),
        candle=_candle(trials),
        room=words.temperature(found.room_c),
        trials=trials,
        outcomes=[_OUTCOMES.get(one.outcome.value, one.outcome.value) for one in trials],
        days=range(1, max((len(one.days) for one in trials), default=0) + 1),
        first=found.first,
        levels=found.slope is not None,
        peak=lambda one, number: _peak(one, number, words),
        figure=lambda one, key: (
            figure_text(key, one.figures[key], words) if key in one.figures else "not known"
        ),
        shared=[one.label for one in trials if one.shared_pour],
        wide=Markup(wide),  # noqa: S704 - our own SVG, it escapes
        narrow=Markup(narrow),  # noqa: S704 - so this
        style=style(),
    )


def _candle(trials: list[ComparedTrial]) -> str:
    """What all have in common: "in the formula slate 8 and the vessel amber 80"."""
    made = {
        (kind, record.name)
        for one in trials
        for kind, record in (("formula", one.facts.formula), ("vessel", one.facts.vessel))
        if record
    }
    alike = [
        f"the {kind} {name}"
        for kind, name in sorted(made)
        if all(getattr(one.facts, kind) and getattr(one.facts, kind).name == name for one in trials)
    ]
    return f"in {' and '.join(alike)}" if alike else ""


def _peak(one: ComparedTrial, number: int, words: Words) -> str:
    if number > len(one.days):
        return ""
    peak = one.days[number - 1].peak
    return "not measured" if peak is None else figure_text("peak", peak, words)
