"""[pure] The wax in its vessel as a person last saw it: how high it stood, how far melted."""

from collections.abc import Iterable
from dataclasses import dataclass

from logger.burn.entries import Entry, Observed
from logger.burn.look import YES
from logger.burn.model import Burn
from logger.web.texts import gettext as _
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenWax:
    """What was seen of the wax in one burn; what nobody looked at is None."""

    level_mm: float | None = None  # top of the wax above the outside base
    level_s: float = 0.0  # when that was seen
    pool: float | None = None  # melt pool, as a share of the inner diameter; 1: to the wall
    pool_depth_mm: float | None = None
    pool_s: float = 0.0
    pool_words: str = ""

    @property
    def version(self) -> str:
        """Changes with anything that is drawn."""
        return f"{self.level_mm} {self.pool} {self.pool_depth_mm} {self.pool_s}"


def wax_seen(entries: Iterable[Entry | None], burn: Burn | None, words: Words) -> SeenWax:
    """The wax of `burn` by the looks among its `entries`; its melt pool only while it burns."""
    looks = sorted((one for one in entries if isinstance(one, Observed)), key=lambda one: -one.at_s)
    level = next((one for one in looks if one.look.wax_level_mm is not None), None)
    found = SeenWax(
        level_mm=None if level is None else level.look.wax_level_mm,
        level_s=0.0 if level is None else level.at_s,
    )
    if burn is None or not burn.lit:
        return found
    for one in looks:
        share, said = _pool(one, burn.inner_diameter_mm, words)
        if said:
            return SeenWax(
                level_mm=found.level_mm,
                level_s=found.level_s,
                pool=share,
                pool_depth_mm=one.look.pool_depth_mm,
                pool_s=one.at_s,
                pool_words=said,
            )
    return found


def _pool(seen: Observed, inner_mm: float | None, words: Words) -> tuple[float | None, str]:
    """How far the melt pool reached, as a share and in words; no words where nobody said."""
    across_mm = seen.look.pool_across_mm
    if seen.look.full_pool == YES:
        return 1.0, _("at the wall all round")
    if across_mm is None:
        return None, _("short of the wall") if seen.look.full_pool else ""
    if inner_mm is None:
        return None, _("%(width)s across", width=words.length(across_mm))
    of_all = _(
        "%(width)s across, the vessel %(inside)s inside",
        width=words.length(across_mm),
        inside=words.length(inner_mm),
    )
    return min(across_mm / inner_mm, 1.0), of_all
