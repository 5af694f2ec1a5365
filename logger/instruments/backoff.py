"""How long to wait before an instrument is tried again."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Backoff:
    """Doubling waits with a cap, shortened by chance so that instruments do not try in step.

    The defaults are our choice: a failed open costs nothing, and whoever has put a plug back
    waits for its readings.
    """

    first_s: float = 0.5
    longest_s: float = 5.0
    jitter: float = 0.2  # the largest part by which chance shortens a wait

    def delay_s(self, failures: int, chance: float) -> float:
        """The wait after the `failures`-th failure in a row (from 1); `chance` is in [0, 1)."""
        # 2.0**1024 overflows: at one try in 5 s after an hour and a half.
        doubled = self.first_s * 2.0 ** min(failures - 1, 30)
        return min(self.longest_s, doubled) * (1.0 - self.jitter * chance)
