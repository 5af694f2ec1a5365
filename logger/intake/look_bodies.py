"""What was seen of a candle, as it is entered: its body has the table of what is looked at."""

from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints

from logger.burn import entries
from logger.burn.entries import Danger, Entry
from logger.burn.look import Look
from logger.errors import DataError
from logger.intake.bodies import BurnBody, duration_s_of, example
from logger.intake.field_forms import given, with_fields
from logger.intake.fields import Line


def look_of(body: BaseModel) -> Look:
    """What `body` says was seen."""
    return Look(**given(Look, body))


@with_fields(Look)
class ObservationBody(BurnBody):
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
