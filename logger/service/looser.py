"""Limits looser than the defaults: told wherever a bench is checked, run or reported."""

from collections.abc import Iterator, Sequence

from logger.burn.limits import CriterionValue, Limits, Material
from logger.decision.look_criteria import FLAME_HEIGHT
from logger.settings.bench_keys import AlarmSettings
from logger.settings.criterion_keys import default_criteria
from logger.settings.limit_keys import default_limits
from logger.words import Words, duration

LOOSER = "looser than the default; see config/limits.toml for what the default rests on"


def looser(
    limits: Limits,
    ask_every_s: float | None,
    words: Words,
    material: Material | None = None,
    criteria: Sequence[CriterionValue] = (),
) -> Iterator[str]:
    """One line for each limit that warns later than its default, of `material` or of all.

    Of `criteria` the flame's height, which is about safety.
    """
    default = default_limits()
    for of in limits.wall if material is None else (material,):
        mine_c, default_c = limits.wall[of].limit_c, default.wall[of].limit_c
        if mine_c > default_c:
            figures = f"{words.temperature(mine_c)} instead of {words.temperature(default_c)}"
            yield f"the wall limit of {of.value} is {figures}, {LOOSER}"
    for what, mine_s, default_s in (
        ("the longest burn", limits.burn_length_s, default.burn_length_s),
        ("the question who watches", ask_every_s, AlarmSettings().unwatched_s),
    ):
        if mine_s is not None and mine_s > default_s:
            yield f"{what} is at {duration(mine_s)} instead of {duration(default_s)}, {LOOSER}"
    (usual,) = (one for one in default_criteria() if one.criterion == FLAME_HEIGHT.name)
    for own in criteria:
        if not own.own or own.criterion != usual.criterion:
            continue
        mine_mm, most_mm = own.most or 0.0, usual.most or 0.0
        if mine_mm > most_mm:
            figures = f"{words.fine_length(mine_mm)} instead of {words.fine_length(most_mm)}"
            yield f"the flame may be {figures} high, {LOOSER}"
