"""Burns of a candle that was weighed, an evening each."""

from dataclasses import replace

from logger.burn.model import Burn
from tests.support.pipeline_bench import START_S

HOUR = 3600.0
BURN = Burn(id="jar-a-1", station="jar-a", trial="cedar-6", lit_s=START_S, out_s=START_S + 4 * HOUR)


def evening(number, before_g=None, after_g=None, *, wax_g=None, hours=4.0, **more):
    lit_s = START_S + number * 24 * HOUR
    changed = {
        "id": f"burn-{number}", "lit_s": lit_s, "out_s": lit_s + hours * HOUR,
        "mass_before_g": before_g, "mass_after_g": after_g, "wax_g": wax_g,
    }  # fmt: skip
    return replace(BURN, **(changed | more))
