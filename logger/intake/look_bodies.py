"""What was seen of a candle, as it is entered: bodies made of the table of what is looked at."""

from typing import Annotated, Any, cast

from pydantic import BaseModel, Field, StringConstraints, create_model

from logger.burn import entries
from logger.burn.entries import Danger, Entry
from logger.burn.look import LOOK_FIELDS, Look
from logger.errors import DataError
from logger.intake.bodies import BurnBody, duration_s_of, example
from logger.intake.fields import Line
from logger.intake.sheet_bodies import type_of, value_of


def look_of(body: BaseModel) -> Look:
    """What `body` says was seen."""
    written = {one: getattr(body, one.key) for one in LOOK_FIELDS}
    values = {
        one.attribute: value_of(one, text)
        for one, text in written.items()
        if text not in (None, "")
    }
    return Look(**values)


class _Observation(BurnBody):
    """What was seen: a look at the candle, a note, or an emergency."""

    model_config = example(mark="1 h", pool="62 mm, 60 mm", soot=1, text="steady", by="Ines")

    text: Annotated[str, StringConstraints(strip_whitespace=True, max_length=4000)] = ""
    emergency: Danger | None = None
    mark: Line = Field(default="", description="time of being lit when it was seen, not with `at`")

    def entry(self, now_s: float, station: str) -> Entry:
        """As the core takes it. Raises DataError when there is nothing in it."""
        stamps, look = self.stamps(now_s), look_of(self)
        mark_s = duration_s_of("mark", self.mark) if self.mark else None
        if mark_s is not None and self.at != "now":
            raise DataError("mark: give the mark or the time (at), not both")
        if self.emergency is not None:
            if look:
                raise DataError("emergency: record it by itself, and what you saw afterwards")
            return entries.Emergency(**stamps, station=station, what=self.emergency, text=self.text)
        if look or mark_s is not None:
            return entries.Observed(
                **stamps, station=station, look=look, text=self.text, mark_s=mark_s
            )
        if not self.text:
            raise DataError("text: write what was seen, or name an emergency")
        return entries.Note(**stamps, station=station, text=self.text)


_FIELDS: dict[str, Any] = {
    one.key: (type_of(one) | None, Field(default=None, description=one.words))
    for one in LOOK_FIELDS
}


def with_look(name: str, base: type[BaseModel], **more: Any) -> Any:
    """`base` with the fields of a look."""
    make = cast("Any", create_model)
    return make(name, __base__=base, __doc__=base.__doc__, **_FIELDS, **more)


ObservationBody: type[BurnBody] = with_look("ObservationBody", _Observation)
