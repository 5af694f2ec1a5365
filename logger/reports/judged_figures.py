"""[pure] Figures of judgements in words, each in the unit of its criterion."""

from logger.decision.criteria import Judgement
from logger.quantities import Quantity
from logger.words import Words, duration


def figure(value: float | None, one: Judgement, words: Words) -> str:
    """A figure of a judgement, in the unit of its criterion; empty where it has none."""
    if value is None:
        return ""
    match one.unit or Quantity.TEMPERATURE.unit:
        case Quantity.TEMPERATURE.unit:
            return words.temperature(value)
        case "mm":
            return words.fine_length(value)
        case "s":
            return duration(value)
        case "h":
            return duration(3600.0 * value)
        case "g/h":
            return f"{words.rate(value)} an hour"
        case "grade":
            return f"grade {value:.3g}"
        case "percent":
            return f"{value:.3g} %"
        case unit:
            return f"{value:.3g} {unit}".strip()


def asked(one: Judgement, words: Words) -> str:
    """What its criterion asks for."""
    least, most = figure(one.least, one, words), figure(one.limit, one, words)
    if least and most:
        return f"{least} to {most}"
    return f"at least {least}" if least else most
