"""What the candles of trials cost by the shelf's prices, and what a shared pour saved."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from logger.burn.model import Burn
from logger.burn.trials import name_key
from logger.decision.trial_facts import TrialFacts
from logger.shelf.candles import TesterRecord
from logger.shelf.recipes import FormulaRecord

WAX, FRAGRANCE, WICK, VESSEL = "wax", "fragrance", "wick", "vessel"
PARTS = {"wax": WAX, "second wax": WAX, "fragrance": FRAGRANCE, "dye": "dye"}
"""Of a formula: which line of the costs each belongs to."""

COST_LINES = (WAX, FRAGRANCE, "dye", WICK, VESSEL)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """What was spent on one thing: an amount in the maker's currency, as far as prices are known.

    `used` is in grams, of wicks and vessels a number. Not `complete`: a price or share is missing.
    """

    what: str
    used: float = 0.0
    amount: float = 0.0
    complete: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Candles and what they cost; an amount is too small by what is `missing`."""

    candles: int
    lines: tuple[CostLine, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def amount(self) -> float:
        """In the maker's currency, as far as prices are known."""
        return math.fsum(line.amount for line in self.lines)

    @property
    def wax_g(self) -> float:
        """Of all that was melted together."""
        return math.fsum(line.used for line in self.lines if line.what not in (WICK, VESSEL))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialCosts:
    """Of one trial: the candles of its own, its wicks on shared pours, and the hours burned."""

    trial: str
    spent: Spent
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesCosts:
    """Of trials together: a shared pour counts once, however many wicks it served."""

    trials: tuple[TrialCosts, ...]
    shared: Spent  # the pours that served several wicks in turn, without the wicks
    spent: Spent  # everything
    separate: Spent  # had each wick of a shared pour had a candle of its own
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candle:
    """One candle, with what of its trial is needed to price it."""

    code: str
    shared: bool
    facts: TrialFacts
    tester: TesterRecord | None
    burns: tuple[Burn, ...]

    @property
    def wax_g(self) -> float | None:
        """That it was poured with: as weighed, else by its pour, else what fills its vessel."""
        weighed = next((burn.wax_g for burn in self.burns if burn.wax_g is not None), None)
        if weighed is not None:
            return weighed
        pour = self.tester.pour if self.tester else ""
        for one in self.facts.pours:
            if one.name == pour and one.fill_g is not None:
                return one.fill_g
        return self.facts.vessel.filled_g if self.facts.vessel else None


def costs(trials: Sequence[TrialFacts]) -> SeriesCosts:
    """What the candles of these trials cost; testers that are poured and not yet lit count too."""
    candles = {facts.name: list(_candles(facts)) for facts in trials}
    pours: dict[str, _Candle] = {}
    found, as_separate = [], []
    for facts in trials:
        own = [one for one in candles[facts.name] if not one.shared]
        shared = [one for one in candles[facts.name] if one.shared]
        pours |= {one.code: pours.get(one.code, one) for one in shared}
        spent = _sum((*map(_whole, own), *map(_wicks, shared)))
        found.append(TrialCosts(trial=facts.name, spent=spent, hours=facts.hours))
        as_separate.append(_sum((*map(_whole, own), *map(_whole, shared))))
    of_pours = _sum(map(_without_wicks, pours.values()))
    return SeriesCosts(
        trials=tuple(found),
        shared=of_pours,
        spent=_sum((*(one.spent for one in found), of_pours)),
        separate=_sum(as_separate),
        hours=math.fsum(one.hours for one in found),
    )


def _candles(facts: TrialFacts) -> Iterator[_Candle]:
    """Those that were burned, and testers of its own that are on the shelf."""
    testers = {name_key(one.name): one for one in facts.testers}
    burns: dict[tuple[str, bool], list[Burn]] = {}
    for evidence in facts.burns:
        burn = evidence.burn
        burns.setdefault((burn.candle[1], burn.shared_pour), []).append(burn)
    for code, tester in testers.items():
        if tester.trial == facts.name and not any(code == known for known, _ in burns):
            burns[code, tester.shared_pour == "yes"] = []
    for (code, shared), of_candle in burns.items():
        yield _Candle(
            code=code,
            shared=shared,
            facts=facts,
            tester=testers.get(code),
            burns=tuple(of_candle),
        )


def _whole(candle: _Candle) -> Spent:
    return _sum((_without_wicks(candle), _wicks(candle)))


def _wicks(candle: _Candle) -> Spent:
    """The wicks of one trial's candle, or of its turn on a shared pour."""
    facts = candle.facts
    number = (facts.wicking.number if facts.wicking else None) or 1
    if facts.wick is None:
        return Spent(candles=0, missing=(f"the wick of {facts.name}: none is on the shelf",))
    if facts.wick.price is None:
        missing = f"the price of wick {facts.wick.name}"
        lines = (CostLine(what=WICK, used=number, complete=False),)
        return Spent(candles=0, lines=lines, missing=(missing,))
    line = CostLine(what=WICK, used=number, amount=number * facts.wick.price)
    return Spent(candles=0, lines=(line,))


def _without_wicks(candle: _Candle) -> Spent:
    lines: list[CostLine] = []
    missing: list[str] = []
    vessel, wax_g = candle.facts.vessel, candle.wax_g
    if vessel is None:
        missing.append(f"the vessel of {candle.facts.name}: none is on the shelf")
    elif vessel.price is None:
        lines.append(CostLine(what=VESSEL, used=1, complete=False))
        missing.append(f"the price of vessel {vessel.name}")
    else:
        lines.append(CostLine(what=VESSEL, used=1, amount=vessel.price))
    if wax_g is None:
        missing.append(f"how much wax candle {candle.code} was poured with")
    elif candle.facts.formula is None:
        missing.append(f"the formula of {candle.facts.name}: none is on the shelf")
    else:
        for line, gap in _of_formula(candle.facts.formula, wax_g):
            lines.append(line)
            missing += [gap] if gap else []
    return Spent(candles=1, lines=tuple(lines), missing=tuple(missing))


def _of_formula(formula: FormulaRecord, mass_g: float) -> Iterator[tuple[CostLine, str]]:
    """Each part of it, and what is missing to price that; one unknown share is the rest."""
    shares = dict(formula.shares_percent) or {"wax": None}
    unknown = [part for part, share in shares.items() if share is None]
    if len(unknown) == 1:
        shares[unknown[0]] = 100.0 - formula.total_percent
    for part, share in shares.items():
        price = getattr(formula, f"{part.replace(' ', '_')}_price")
        what = PARTS[part]
        if share is None:
            yield (
                CostLine(what=what, complete=False),
                f"the share of {part} in formula {formula.name}",
            )
            continue
        part_g = mass_g * share / 100.0
        if price is None and part_g > 0.0:
            yield (
                CostLine(what=what, used=part_g, complete=False),
                f"the price of {part} in formula {formula.name}",
            )
            continue
        yield CostLine(what=what, used=part_g, amount=part_g / 1000.0 * (price or 0.0)), ""


def _sum(spent: Iterable[Spent]) -> Spent:
    """All together, each thing that is missing named once."""
    found = list(spent)
    lines: Mapping[str, list[CostLine]] = {what: [] for what in COST_LINES}
    for one in found:
        for line in one.lines:
            lines[line.what].append(line)
    return Spent(
        candles=sum(one.candles for one in found),
        lines=tuple(_one_line(what, several) for what, several in lines.items() if several),
        missing=tuple(dict.fromkeys(gap for one in found for gap in one.missing)),
    )


def _one_line(what: str, lines: Sequence[CostLine]) -> CostLine:
    return CostLine(
        what=what,
        used=math.fsum(one.used for one in lines),
        amount=math.fsum(one.amount for one in lines),
        complete=all(one.complete for one in lines),
    )
