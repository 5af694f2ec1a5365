"""[pure] Figures in the maker's units with SI beside them, for whoever is handed a record."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from logger.quantities import Place, Quantity
from logger.words import Words

_SI = Words()


@dataclass(frozen=True, slots=True, kw_only=True)
class SiBeside(Words):
    """As `Words`, and the same in degC, g and mm in brackets where the maker reads others."""

    @classmethod
    def of(cls, words: Words) -> "SiBeside":
        """With the units of `words`."""
        return cls(
            temperature_in=words.temperature_in, mass_in=words.mass_in, length_in=words.length_in
        )

    @property
    def plain(self) -> Words:
        """In the maker's units alone, for where there is no room."""
        return Words(
            temperature_in=self.temperature_in, mass_in=self.mass_in, length_in=self.length_in
        )

    def value(self, value: float, quantity: Quantity) -> str:
        """A value, of the unit used inside."""
        return _both(self.plain.value(value, quantity), _SI.value(value, quantity))

    def temperatures(self, values_c: Iterable[float]) -> str:
        """Several with the unit once."""
        values = tuple(values_c)
        return _both(self.plain.temperatures(values), _SI.temperatures(values))

    def difference(self, difference_k: float, digits: int = 1) -> str:
        """A difference of temperatures."""
        plain = self.plain.difference(difference_k, digits)
        return _both(plain, _SI.difference(difference_k, digits))

    def measured(
        self, value_c: float, standard_uncertainty_k: float, *, assumed: bool = False
    ) -> str:
        """A temperature with its expanded uncertainty."""
        plain = self.plain.measured(value_c, standard_uncertainty_k, assumed=assumed)
        return _both(plain, _SI.measured(value_c, standard_uncertainty_k, assumed=assumed))

    def rate(self, rate_g_per_h: float, reach_g_per_h: float | None = None) -> str:
        """A mass in an hour, with its expanded uncertainty."""
        plain = self.plain.rate(rate_g_per_h, reach_g_per_h)
        return _both(plain, _SI.rate(rate_g_per_h, reach_g_per_h))

    def length(self, length_mm: float) -> str:
        """A length."""
        return _both(self.plain.length(length_mm), _SI.length(length_mm))

    def fine_length(self, length_mm: float) -> str:
        """A length as closely as a person reads it off."""
        return _both(self.plain.fine_length(length_mm), _SI.fine_length(length_mm))

    def fine_lengths(self, lengths_mm: Iterable[float]) -> str:
        """Several with the unit once."""
        lengths = tuple(lengths_mm)
        return _both(self.plain.fine_lengths(lengths), _SI.fine_lengths(lengths))

    def both(self, write: Callable[[Words], str]) -> str:
        """What `write` makes of a figure in either units."""
        return _both(write(self.plain), write(_SI))

    def place(self, place: Place) -> str:
        """Where something was measured."""
        if place.height_mm is None or self.length_in == _SI.length_in:
            return str(place)
        return f"{place} ({_SI.length(place.height_mm)})"


def _both(plain: str, si: str) -> str:
    return plain if plain == si else f"{plain} ({si})"
