"""What each open trial still needs: which candles, how many burns, from when."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from logger.burn.evidence import BurnEvidence
from logger.burn.limits import Limits
from logger.burn.marks import MarkTimes
from logger.burn.trials import name_key
from logger.decision.change import LotCheck, MadeCandle, Retest, lot_check
from logger.decision.criteria import Outcome
from logger.decision.trial_facts import TrialFacts
from logger.planning.bench_plan import CandleDemand
from logger.planning.maker_plan import OpenTrial
from logger.planning.supplies import Recipe, Supply
from logger.service.candle_lots import TO_THE_END
from logger.settings.plan_keys import PlanKeys
from logger.shelf.recipes import DAY_S

USUAL_G_PER_H = 6.0  # of a container candle: 3 to 8 g/h are usual (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the maker's configuration asks of every trial."""

    plan: PlanKeys
    limits: Limits
    marks: MarkTimes
    now_s: float


def open_trial(facts: TrialFacts, asked: Asked) -> OpenTrial | None:
    """What a trial needs for its verdict, or again for its lots of now; None where it is closed."""
    changed = lot_check(facts.name, facts.candles, facts.lots_now, asked.plan.retest.demanded)
    undecided = facts.verdict.outcome is Outcome.UNDECIDED
    retest = changed.retest if facts.verdict.outcome is not Outcome.FAIL else None
    if not undecided and retest is None:
        return None
    return _Needs(facts, asked, changed).trial(undecided=undecided, retest=retest)


class _Needs:
    """The demands of one trial, collected."""

    def __init__(self, facts: TrialFacts, asked: Asked, changed: LotCheck) -> None:
        self.facts = facts
        self.asked = asked
        self.changed = changed
        planned_s = facts.record.planned_length_s if facts.record else None
        self.length_s = min(planned_s or math.inf, asked.limits.burn_length_s)
        self.demands: dict[str, CandleDemand] = {}
        self.to_pour: list[Recipe] = []
        self.notes: dict[str, None] = {}
        self._used: set[str] = set()

    def trial(self, *, undecided: bool, retest: Retest | None) -> OpenTrial:
        """All that it needs."""
        words = []
        if undecided:
            self._for_a_verdict()
            smallest = self.facts.verdict.smallest_next_burn
            words.append(f"no verdict yet{f'; {smallest}' if smallest else ''}")
        if retest is not None:
            self._again(retest)
            parts = ", ".join(change.part for change in self.changed.changes)
            words.append(f"new lot of {parts}: {retest.words}")
        return OpenTrial(
            name=self.facts.name,
            needs="; ".join(words),
            demands=tuple(self.demands.values()),
            to_pour=tuple(self.to_pour),
            notes=tuple(self.notes),
        )

    def _for_a_verdict(self) -> None:
        """Some candles alike, burned to their ends; of a shared pour one burn."""
        if self.facts.shared_pour or any(one.shared_pour == "yes" for one in self.facts.testers):
            if not self.facts.burns:
                self._candle(self.facts.waiting, "one burn in the shared pour", burns=1)
            return
        ended = sum(one.to_the_end for one in self.facts.candles)
        begun = [one for one in self.facts.candles if not one.to_the_end]
        for number in range(max(self.asked.plan.testers - ended, 0)):
            self._candle([*begun, *self.facts.waiting], f"candle {ended + number + 1} to its end")

    def _again(self, retest: Retest) -> None:
        """Candles of the lots of now."""
        lots = self.facts.lots_now
        parts = [change.part for change in self.changed.changes]
        of_now = [
            one
            for one in (*self.facts.candles, *self.facts.waiting)
            if not one.to_the_end and all(one.lots.get(part) == lots[part] for part in parts)
        ]
        why = "retest of the new lot"
        if retest in (Retest.ONE_BURN, Retest.TWO_BURNS):
            begun = max((one.full_burns for one in of_now), default=0)
            self._candle(of_now, why, burns=max(retest.value - begun, 1))
            return
        for _ in range(self.asked.plan.testers if retest is Retest.NEW_TRIAL else 1):
            self._candle(of_now, why)

    def _candle(self, candidates: Sequence[MadeCandle], why: str, burns: int | None = None) -> None:
        """The first of `candidates` that is not used yet, or one to be poured."""
        made = next((one for one in candidates if one.tester not in self._used), None)
        if made is None:
            tester = f"new {len(self.to_pour) + 1}"
            self.to_pour.append(self._recipe(tester))
            ready_s = self.asked.now_s + self._cure_s()
            station = ""
        else:
            tester = made.tester
            ready_s, station = self._ready(tester)
        self._used.add(tester)
        regime = self.facts.record.regime if self.facts.record else ""
        self.demands[tester] = CandleDemand(
            trial=self.facts.name,
            tester=tester,
            lengths_s=(self.length_s,) * (burns or self._burns_left(tester)),
            marks_s=self.asked.marks.of(regime),
            pause_s=self.asked.limits.cool_down_s,
            number=1 + len(self._burns_of(tester)),
            ready_s=ready_s,
            station=station,
            why=why,
        )

    def _burns_of(self, tester: str) -> list[BurnEvidence]:
        """Its burns so far; a candle without a code goes by its station."""
        return [one for one in self.facts.burns if tester == (one.burn.tester or one.burn.station)]

    def _ready(self, tester: str) -> tuple[float, str]:
        """From when it may be lit, and where it burned last."""
        if burned := self._burns_of(tester):
            burn = burned[-1].burn
            length_s = burn.longest_s(self.asked.limits)
            out_s = burn.lit_s + length_s if burn.out_s is None else burn.out_s
            return out_s + self.asked.limits.cool_down_s, burn.station
        pours = {one.name: one for one in self.facts.pours}
        pour = next((pours.get(one.pour) for one in self.facts.testers if one.name == tester), None)
        if pour is None or pour.poured_on_s is None:
            return -math.inf, ""
        return pour.poured_on_s + self._cure_s(), ""

    def _cure_s(self) -> float:
        formula = self.facts.formula
        if formula is None or formula.cure_days is None:
            name = formula.name if formula else "its formula"
            self._note(f"how long {name} cures is not recorded: counted as no time")
            return 0.0
        return formula.cure_days * DAY_S

    def _burns_left(self, tester: str) -> int:
        """To the end of its wax, each as long as planned, beside one that is lit; else at least
        one: how the last of the wax burns must be seen.
        """
        own = self._burns_of(tester)
        lit = any(one.burn.lit for one in own)
        hours_left = self._hours_left(tester, [one for one in own if not one.burn.lit])
        if hours_left is None:
            return int(not lit)
        return max(math.ceil(hours_left * 3600.0 / self.length_s), 1) - lit

    def _hours_left(self, tester: str, burned: Sequence[BurnEvidence]) -> float | None:
        """Of burning, until the wax that makers leave; None where its wax is not known."""
        burned_h = sum(one.burn.elapsed_s(one.until_s) for one in burned) / 3600.0
        lives = {name: life for (_, name), life in self.facts.lives.items()}
        life = lives.get(name_key(tester))
        if life and life.left_g is not None and (life.used_share or 1.0) < 1.0:
            whole_g = life.left_g / (1.0 - (life.used_share or 0.0))
            hours_left = (life.left_g - (1.0 - TO_THE_END) * whole_g) / life.rate_g_per_h
            return hours_left - (burned_h - life.hours)  # what it burned since it was weighed
        wax_g = self._wax_g(tester)
        if wax_g is None:
            self._note("how much wax is in a candle is not recorded: one burn each is planned")
            return None
        rates = [one.rate_g_per_h for one in lives.values()]
        if not rates:
            self._note(f"no candle was weighed over its burns: {USUAL_G_PER_H:g} g/h assumed")
        rate = math.fsum(rates) / len(rates) if rates else USUAL_G_PER_H
        return TO_THE_END * wax_g / rate - burned_h

    def _note(self, text: str) -> None:
        self.notes[text] = None

    def _wax_g(self, tester: str) -> float | None:
        """That it was poured with, as its burns, its pour or its vessel tell."""
        burned = (one.burn for one in self.facts.burns if one.burn.tester == tester)
        pour = next((one.pour for one in self.facts.testers if one.name == tester), "")
        vessel = self.facts.vessel
        known = (
            *(burn.wax_g for burn in burned),
            *(one.fill_g for one in self.facts.pours if one.name == pour),
            vessel.filled_g if vessel else None,
            *(one.fill_g for one in self.facts.pours),
        )
        return next((mass_g for mass_g in known if mass_g is not None), None)

    def _recipe(self, tester: str) -> Recipe:
        """What one more candle takes."""
        parts, unknown = [], []
        formula, vessel, wick = self.facts.formula, self.facts.vessel, self.facts.wick
        wax_g = self._wax_g(tester)
        if formula is None or wax_g is None:
            unknown.append("wax")
        else:
            for part, share in formula.shares_percent.items():
                name = getattr(formula, part.replace(" ", "_"))
                if share is None:
                    unknown.append(part)
                else:
                    parts.append(Supply(what=part, name=name, grams=wax_g * share / 100.0))
        if wick is None:
            unknown.append("wick")
        else:
            wicking = self.facts.wicking
            pieces = (wicking.number if wicking else None) or 1
            parts.append(Supply(what="wick", name=wick.name, pieces=pieces))
        if vessel is None:
            unknown.append("vessel")
        else:
            parts.append(Supply(what="vessel", name=vessel.name, pieces=1))
        return Recipe(parts=tuple(parts), unknown=tuple(unknown))
