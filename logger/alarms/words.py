"""How alarms write figures: in the bench's display unit, and times as people say them."""

from dataclasses import dataclass

from logger.quantities import DEGC, GRAM, MILLIMETRE, Unit

_SYMBOLS = {"degC": "°C", "degF": "°F", "kelvin": "K"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How figures are written in the line a person reads."""

    temperature: Unit = DEGC
    mass_in: Unit = GRAM
    length_in: Unit = MILLIMETRE

    @property
    def symbol(self) -> str:
        """The display unit of temperatures, as it is written."""
        return _SYMBOLS[self.temperature.name]

    def of(self, value_c: float) -> str:
        """A temperature in the bench's display unit, one decimal."""
        return f"{self.temperature.outside(value_c):.1f} {self.symbol}"

    def spread(self, difference_k: float) -> str:
        """A temperature difference in the bench's display unit, one decimal, without unit."""
        return f"{difference_k / self.temperature.factor:.1f}"

    def expanded(self, standard_uncertainty_k: float, *, assumed: bool) -> str:
        """Expanded uncertainty (k = 2) with its sign; `assumed` where no accuracy is known."""
        return f"± {self.spread(2.0 * standard_uncertainty_k)}{' assumed' if assumed else ''}"

    def mass(self, mass_g: float) -> str:
        """A mass in the bench's display unit, with decimals for about a tenth of a gram."""
        return self.mass_in.written(mass_g, 1)

    def length(self, length_mm: float) -> str:
        """A length in the bench's display unit, with decimals for about a millimetre."""
        return self.length_in.written(length_mm, 0)


def duration(seconds: float) -> str:
    """As a person says it: '40 s', '45 min', '3 h 05 min'."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
