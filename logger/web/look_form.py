"""[pure] The form in which a person enters what is seen of a candle, with the last values."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.burn.entries import Entry, Observed
from logger.burn.look import AFTER_OUT, LOOK_FIELDS, WHILE_LIT
from logger.field_table import FormField, filled
from logger.web.field_views import FieldView, unit_of
from logger.web.texts import gettext as _
from logger.words import Words, duration

_SCENT = ("hot_throw", "rater", "away", "room_size", "other_scent")
_CLOSER = (
    "pools_merged",
    "pool_depth_mm",
    "hang_up_mm",
    "wax_level_mm",
    "wet_spots",
    "cracks",
    "reignited",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldGroup:
    """Fields that are looked at together."""

    title: str  # empty: they are always open
    fields: tuple[FieldView, ...]


def look_form(
    entries: Iterable[Entry | None], words: Words, *, lit: bool, now_s: float | None
) -> tuple[FieldGroup, ...]:
    """The groups in the order in which a person looks; `entries` are those that count.

    Beside each field stands what was seen last, and how long before `now_s` that was.
    """
    looks = sorted((one for one in entries if isinstance(one, Observed)), key=lambda one: -one.at_s)
    alien = AFTER_OUT if lit else WHILE_LIT
    shown = [one for one in LOOK_FIELDS if one.attribute not in alien]
    rest = [one for one in shown if one.attribute not in (*_SCENT, *_CLOSER)]
    if not lit:
        rest.sort(key=lambda one: one.attribute not in AFTER_OUT)
    groups = (
        (
            _("Scent: rate it first, as you come in"),
            [one for one in shown if one.attribute in _SCENT],
        ),
        ("", rest),
        (_("More of wax and glass"), [one for one in shown if one.attribute in _CLOSER]),
    )
    return tuple(
        FieldGroup(title=title, fields=tuple(_view(one, looks, words, now_s) for one in fields))
        for title, fields in groups
        if fields
    )


def _view(
    field: FormField, looks: Sequence[Observed], words: Words, now_s: float | None
) -> FieldView:
    found = next(
        (
            (one.at_s, value)
            for one in looks
            if (value := dict(filled(one.look)).get(field)) is not None
        ),
        None,
    )
    last, count = "", 1
    if found is not None:
        at_s, value = found
        last = field.said(value, words)
        if now_s is not None:
            last = _("%(value)s, %(age)s ago", value=last, age=duration(max(now_s - at_s, 0.0)))
        count = len(value) if isinstance(value, tuple) else 1
    inputs = min(field.most, 2 if field.most == 2 else count + 1)
    return FieldView(
        field=field,
        unit=unit_of(field, words),
        values=("",) * inputs,
        options=field.choices,
        last=last,
    )
