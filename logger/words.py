"""[pure] Figures in words: in the units the maker reads, with as many digits as matter.

Tenths of a degree and of a gram, whole millimetres and percents, and about the same step in any
other unit (our choice).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from logger.quantities import DEGC, GRAM, MILLIMETRE, PERCENT, Quantity, Unit

_DIGITS = {Quantity.TEMPERATURE: 1, Quantity.MASS: 1, Quantity.HUMIDITY: 0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How a bench writes figures for a person."""

    # The alias is the key under which a burn's bench is stored.
    temperature_in: Unit = field(default=DEGC, metadata={"alias": "temperature"})
    mass_in: Unit = GRAM
    length_in: Unit = MILLIMETRE

    def unit_of(self, quantity: Quantity) -> Unit:
        """The unit in which values of `quantity` are shown."""
        shown = {Quantity.TEMPERATURE: self.temperature_in, Quantity.MASS: self.mass_in}
        return shown.get(quantity, PERCENT)

    def value(self, value: float, quantity: Quantity) -> str:
        """A value, of the unit used inside, with its unit."""
        return self.unit_of(quantity).written(value, _DIGITS[quantity])

    def temperature(self, value_c: float) -> str:
        """A temperature with its unit: "58.7 °C"."""
        return self.value(value_c, Quantity.TEMPERATURE)

    def temperatures(self, values_c: Iterable[float]) -> str:
        """Several with the unit once: "41.2, 41.4 °C"."""
        *others, last = map(self.temperature, values_c)
        return ", ".join([*(one.rpartition(" ")[0] for one in others), last])

    def difference(self, difference_k: float, digits: int = 1) -> str:
        """A difference of temperatures with its unit: "9.1 °C"."""
        return self.temperature_in.scale.written(difference_k, digits)

    def expanded_uncertainty(
        self,
        standard_uncertainty: float,
        *,
        assumed: bool = False,
        quantity: Quantity = Quantity.TEMPERATURE,
    ) -> str:
        """Expanded uncertainty (k = 2) for behind a value, so without unit: "± 0.4"; `assumed`
        where no accuracy is known.
        """
        scale = self.unit_of(quantity).scale
        figure = scale.figure(2.0 * standard_uncertainty, _DIGITS[quantity])
        return f"± {figure}{' assumed' if assumed else ''}"

    def step(self, size: float, quantity: Quantity, *, figures: int = 3) -> str:
        """A small difference of `quantity`, to so many significant figures: "0.0625 °C"."""
        unit = self.unit_of(quantity)
        return f"{float(f'{unit.scale.outside(size):.{figures}g}'):g} {unit.symbol}"

    def measured(
        self, value_c: float, standard_uncertainty_k: float, *, assumed: bool = False
    ) -> str:
        """A temperature with its expanded uncertainty: "58.7 °C ± 0.4"."""
        expanded = self.expanded_uncertainty(standard_uncertainty_k, assumed=assumed)
        return f"{self.temperature(value_c)} {expanded}"

    def mass(self, mass_g: float) -> str:
        """A mass with its unit: "181.4 g"."""
        return self.value(mass_g, Quantity.MASS)

    def rate(self, rate_g_per_h: float, reach_g_per_h: float | None = None) -> str:
        """A mass in an hour, with its expanded uncertainty: "7.5 g ± 0.1"; finer in a large unit,
        as "0.265 oz".
        """
        digits = 2 if self.mass_in.factor > 1.0 else 1
        rate = self.mass_in.written(rate_g_per_h, digits)
        if reach_g_per_h is None:
            return rate
        return f"{rate} ± {self.mass_in.scale.figure(reach_g_per_h, digits)}"

    def length(self, length_mm: float) -> str:
        """A length with its unit: "61 mm"."""
        return self.length_in.written(length_mm, 0)

    def fine_length(self, length_mm: float) -> str:
        """A length as closely as a person reads it off: "2.5 mm", "62 mm"."""
        return f"{float(self.length_in.figure(length_mm, 1)):g} {self.length_in.symbol}"

    def fine_lengths(self, lengths_mm: Iterable[float]) -> str:
        """Several with the unit once: "62, 60 mm"."""
        *others, last = map(self.fine_length, lengths_mm)
        return ", ".join([*(one.rpartition(" ")[0] for one in others), last])


def duration(seconds: float) -> str:
    """As a person says it: '40 s', '45 min', '3 h 05 min', '4 h'."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"


def sentence(text: str) -> str:
    """With a capital at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"
