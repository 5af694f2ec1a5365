"""A simulated candle from its first lighting to its last: both balances from its states."""

import itertools
import math
import time
from dataclasses import dataclass

import pytest

from simulators.candle import HEAT_OF_COMBUSTION_J_PER_G
from simulators.jar import WICKS, Vessel, Wick
from simulators.room import Room
from simulators.wax_bodies import LATENT_J_PER_G, LIQUID_J_PER_GK, MELTING_C, SOLID_J_PER_GK
from simulators.whole_candle import WholeCandle

HOUR_S = 3600.0
STILL = Room(start_c=23.0, warming_k_per_h=0.0)


def fresh(wick: Wick = WICKS["wick-5"], *, vessel: Vessel | None = None) -> WholeCandle:
    return WholeCandle(wick, STILL, vessel, draught_share=0.0)


def heat_in_wax_j(candle: WholeCandle, start_c: float = 23.0) -> float:
    """From masses and temperatures alone, as a table of enthalpies gives it."""
    wax = candle.melting_wax
    molten_j_per_g = (
        SOLID_J_PER_GK * (MELTING_C - start_c)
        + LATENT_J_PER_G
        + LIQUID_J_PER_GK * (wax.liquid_c - MELTING_C)
    )
    solid_j_per_g = SOLID_J_PER_GK * (wax.solid_c - start_c)
    return wax.liquid_g * molten_j_per_g + wax.solid_g * solid_j_per_g


@dataclass
class Evening:
    """One burn of a life."""

    hours: float
    before_g: float
    after_g: float
    level_mm: float
    hottest_ring: int
    hottest_c: float
    base_c: float
    went_out: bool


@pytest.fixture(scope="module")
def life() -> tuple[WholeCandle, list[Evening]]:
    candle, evenings = fresh(WICKS["wick-6"], vessel=Vessel(wax_level_m=0.040)), []
    while not evenings or not evenings[-1].went_out:
        lit_s, before_g, level_mm = candle.elapsed_s, candle.mass_g, candle.level_mm
        candle.light()
        for _ in range(24):
            candle.step(600.0)
            if not candle.lit:
                break
        rings_c = [
            max(candle.wall_c(15.0 * ring + 7.5, clock) for clock in (12, 3, 6, 9))
            for ring in range(6)
        ]
        evenings.append(
            Evening(
                hours=(candle.elapsed_s - lit_s) / HOUR_S,
                before_g=before_g,
                after_g=candle.mass_g,
                level_mm=level_mm,
                hottest_ring=rings_c.index(max(rings_c)),
                hottest_c=max(rings_c),
                base_c=candle.base_c,
                went_out=not candle.lit,
            )
        )
        candle.extinguish()
        candle.step(3 * HOUR_S)
        assert len(evenings) < 20
    return candle, evenings


def test_mass_and_energy_close_over_a_whole_life(life):
    candle, evenings = life
    burned_g = sum(one.before_g - one.after_g for one in evenings)
    assert burned_g == pytest.approx(candle.burned_g, rel=0.001)
    assert candle.mass_g == pytest.approx(evenings[0].before_g - candle.burned_g, rel=0.001)
    ledger = candle.ledger
    assert ledger.released_j == pytest.approx(burned_g * HEAT_OF_COMBUSTION_J_PER_G, rel=0.001)
    assert ledger.lost_j + candle.stored_j == pytest.approx(ledger.released_j, rel=1e-6)


@pytest.mark.parametrize("wick", WICKS)
def test_the_heat_of_a_burn_is_in_solid_liquid_latent_and_losses(wick):
    candle = fresh(WICKS[wick])
    before_g = candle.mass_g
    candle.light()
    for _ in range(8):
        candle.step(1800.0)
        wax_j = heat_in_wax_j(candle)
        assert candle.melting_wax.stored_j == pytest.approx(wax_j, rel=1e-6)
        glass_j = candle.stored_j - candle.melting_wax.stored_j
        flame_j = (before_g - candle.mass_g) * HEAT_OF_COMBUSTION_J_PER_G
        assert candle.ledger.lost_j + glass_j + wax_j == pytest.approx(flame_j, rel=1e-6)
        # Of what stays in the candle the wax holds most; a balance without it would not close.
        assert wax_j > 0.3 * (glass_j + wax_j)
    assert candle.melting_wax.liquid_g * LATENT_J_PER_G > 0.1 * wax_j


def test_the_mass_of_liquid_and_solid_is_the_volume_under_the_surface():
    candle = fresh()
    candle.light()
    candle.step(2 * HOUR_S)
    wax, pool = candle.melting_wax, candle.pool
    disc_g = 0.9 * math.pi * (pool.diameter_mm / 20.0) ** 2 * pool.depth_mm / 10.0
    assert wax.liquid_g == pytest.approx(disc_g)
    assert wax.liquid_g + wax.solid_g == pytest.approx(candle.wax_g)
    assert pool.hang_up_mm == pytest.approx(37.0 - pool.diameter_mm / 2.0)


def test_the_level_falls_and_the_heat_moves_down_with_it(life):
    _, evenings = life
    levels_mm = [one.level_mm for one in evenings]
    assert levels_mm == sorted(levels_mm, reverse=True)
    rings = [one.hottest_ring for one in evenings]
    assert rings == sorted(rings, reverse=True)
    assert rings[0] >= 2
    # In the last quarter base and lowest wall are hottest (common practice).
    earlier, late = evenings[:-2], evenings[-2:]
    assert late[-1].hottest_ring == 0
    assert max(one.hottest_c for one in late) > max(one.hottest_c for one in earlier)
    assert max(one.base_c for one in late) > max(one.base_c for one in earlier) + 10.0
    assert all(one.base_c > one.hottest_c for one in late if one.hottest_ring == 0)


def test_it_goes_out_by_itself_at_the_neck_of_the_tab():
    low = Vessel(wax_level_m=0.020)
    left_g = {}
    for neck_mm in (3.0, 9.0):
        candle = fresh(Wick(burn_g_per_h=5.0, tab_neck_mm=neck_mm), vessel=low)
        candle.light()
        while candle.lit:
            candle.step(60.0)
            assert candle.elapsed_s < 20 * HOUR_S
        assert candle.level_mm - 6.0 == pytest.approx(neck_mm, abs=0.05)
        left_g[neck_mm] = candle.wax_g
        mass_g = candle.mass_g
        candle.step(HOUR_S)
        assert candle.mass_g == pytest.approx(mass_g)
    assert left_g[9.0] > left_g[3.0] + 15.0


def test_a_larger_wick_burns_more_and_melts_a_wider_and_deeper_pool():
    candles = [fresh(WICKS[name]) for name in ("wick-4", "wick-5", "wick-8")]
    for candle in candles:
        candle.light()
        candle.step(2 * HOUR_S)
    for small, large in itertools.pairwise(candles):
        assert large.burned_g > small.burned_g * 1.1
        assert large.pool.diameter_mm > small.pool.diameter_mm
        assert large.pool.depth_mm > small.pool.depth_mm
        assert large.hottest_wall_c > small.hottest_wall_c


def test_once_out_the_pool_sets_and_what_was_molten_is_still_there():
    candle = fresh()
    candle.light()
    candle.step(3 * HOUR_S)
    wax_g, depth_mm = candle.wax_g, candle.pool.depth_mm
    candle.extinguish()
    candle.step(1800.0)
    assert 0.0 < candle.pool.depth_mm < depth_mm
    candle.step(4 * HOUR_S)
    assert candle.pool.depth_mm == candle.melting_wax.liquid_g == 0.0
    assert candle.wax_g == pytest.approx(wax_g)
    assert candle.ledger.lost_j + candle.stored_j == pytest.approx(candle.ledger.released_j)
    assert candle.melting_wax.solid_c < 30.0


def test_another_wick_goes_on_in_the_same_wax():
    candle = fresh(WICKS["wick-4"])
    candle.light()
    with pytest.raises(ValueError, match="burning"):
        candle.rewick(WICKS["wick-6"])
    candle.step(HOUR_S)
    candle.extinguish()
    candle.step(4 * HOUR_S)
    left_g, burned_g = candle.mass_g, candle.burned_g
    candle.rewick(Wick(burn_g_per_h=6.0, offset_mm=8.0, toward_clock=9))
    assert candle.mass_g == left_g
    candle.light()
    candle.step(HOUR_S)
    assert left_g - candle.mass_g > 1.3 * burned_g
    assert candle.wall_c(70.0, 9) > candle.wall_c(70.0, 3) + 2.0


def test_the_same_seed_gives_the_same_life_and_the_step_does_not_matter():
    whole, parts = (WholeCandle(WICKS["wick-6"], STILL, seed=5) for _ in range(2))
    whole.light()
    parts.light()
    whole.step(HOUR_S)
    for _ in range(60):
        parts.step(60.0)
    assert (whole.mass_g, whole.pool) == (parts.mass_g, parts.pool)
    fine, coarse = fresh(), fresh()
    fine.light()
    coarse.light()
    for _ in range(3600):
        fine.step(1.0)
    coarse.step(HOUR_S)
    assert coarse.mass_g == pytest.approx(fine.mass_g, abs=0.01)
    assert coarse.pool.diameter_mm == pytest.approx(fine.pool.diameter_mm, abs=0.5)
    assert coarse.hottest_wall_c == pytest.approx(fine.hottest_wall_c, abs=0.2)


def test_a_burn_of_four_hours_takes_little_time():
    candle = fresh()
    started_s = time.process_time()
    candle.light()
    candle.step(4 * HOUR_S)
    assert time.process_time() - started_s < 4.0
