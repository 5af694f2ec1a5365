"""How long a broker and the disk are waited for."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryTimes:
    """Real times, in seconds; all our own choice. The alarm `delivery` adds its own delay."""

    unconfirmed_s: float = 3.0  # then it is said
    give_up_s: float = 10.0  # then the connection is made anew
    farewell_s: float = 3.0  # for the last words at a stop
    first_retry_s: float = 1.0
    longest_retry_s: float = 30.0
    store_s: float = 5.0  # for an answer of the disk, and until it is asked again

    def retry_s(self, failures: int, chance: float) -> float:
        """The wait after the `failures`-th failure in a row (from 1), with `chance` in [0, 1).

        Doubling, capped, half of it left to chance: benches of a house do not come back in step.
        """
        doubled = self.first_retry_s * 2.0 ** min(failures - 1, 30)  # 2.0**1024 overflows
        return min(self.longest_retry_s, doubled) * (1.0 - 0.5 * chance)
