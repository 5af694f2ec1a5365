"""[pure] Every burn stays findable: by trial, vessel, wick, tester and date, withdrawn ones too."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.model import Burn
from logger.burn.trials import name_key
from logger.errors import DataError
from logger.messages import BurnHeadMessage, burn_head, rounded
from logger.timestamps import parse_day_or_at

NAMED = ("trial", "vessel", "wick", "tester")
_DAY, _DAY_S = len("2031-05-04"), 86_400.0
_END_S = 253_402_300_799.0  # the last second of the year 9999


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnFilter:
    """Which burns are looked for; what is empty does not matter."""

    named: Mapping[str, str]  # by field of NAMED, capitals or not
    from_s: float = 0.0
    to_s: float | None = None

    def takes(self, burn: Burn) -> bool:
        """Whether `burn` is one of them."""
        in_time = self.from_s <= burn.lit_s and (self.to_s is None or burn.lit_s < self.to_s)
        return in_time and all(
            name_key(getattr(burn, field)) == name_key(name)
            for field, name in self.named.items()
            if name.strip()
        )


def burn_filter(asked: Mapping[str, str], now_s: float) -> BurnFilter:
    """As a person asks for them, by names and with "from" and "to", a day or a time.

    A day that ends it is a part of it. Raises DataError for what is no time.
    """
    times: dict[str, float] = {}
    for name in ("from", "to"):
        text = asked.get(name, "").strip()
        if text:
            try:
                # a day may lie ahead; "2 h ago" is from now
                times[name] = parse_day_or_at(text, _END_S if len(text) == _DAY else now_s)
            except DataError as exc:
                raise DataError(f"{name}: {exc}") from None
    if "to" in times and len(asked["to"].strip()) == _DAY:
        times["to"] += _DAY_S
    return BurnFilter(
        named={field: asked.get(field, "") for field in NAMED},
        from_s=times.get("from", 0.0),
        to_s=times.get("to"),
    )


class ListedBurnMessage(BurnHeadMessage):
    """A burn in the list."""

    elapsed_s: Annotated[float | None, Doc("null while it burns")]
    page: Annotated[str, Doc("its address on the bench")]
    record: Annotated[str, Doc("that of its record")]


class BurnListMessage(TypedDict):
    """Burns that were found, the latest first."""

    burns: list[ListedBurnMessage]


def wanted_burns(burns: Iterable[Burn], wanted: BurnFilter) -> list[Burn]:
    """Those of `burns` that are wanted, the latest first."""
    return sorted(filter(wanted.takes, burns), key=lambda one: one.lit_s, reverse=True)


def burn_list(found: Iterable[Burn]) -> BurnListMessage:
    """What was found, as JSON."""
    return {"burns": [_listed(one) for one in found]}


def _listed(burn: Burn) -> ListedBurnMessage:
    page = f"/burns/{burn.short_id}"
    return {
        **burn_head(burn),
        "elapsed_s": None if burn.out_s is None else rounded(burn.elapsed_s(burn.out_s)),
        "page": page,
        "record": f"{page}/record",
    }
