"""A comparison of a channel with something better, as it is entered."""

import re
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from logger.burn import entries
from logger.burn.entries import Entry
from logger.conditioning import calibration
from logger.conditioning.calibration import Correction, Point
from logger.errors import DataError
from logger.intake.bodies import SubjectBody, example
from logger.intake.fields import Figure
from logger.quantities import Quantity
from logger.timestamps import parse_day_or_at
from logger.units import Dimension, parse_difference, parse_quantity, unit_of

FARTHEST_OFF_K = 10.0  # a probe that is off by more is broken, or a unit was mistaken (our choice)
# Standard uncertainties of the air pressure, hPa: of a phone's or weather station's barometer; of
# one reduced to sea level, brought back to an altitude; of the weather itself where only the
# altitude is known (common practice; the last for temperate latitudes, from memory).
BAROMETER_HPA, REDUCED_HPA, WEATHER_HPA = 1.0, 3.0, 10.0


class ChannelBody(SubjectBody):
    """What is posted to a channel."""


class Compared(BaseModel):
    """One comparison: what the reference said, and what the channel showed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    reference: Figure
    shown: Figure


class CalibrationBody(ChannelBody):
    """A channel was compared with something better: by an offset, in ice and boiling, at points.

    What it showed is meant without any calibration: as the instrument gives it.
    """

    model_config = example(
        by="Ines",
        reference="ice bath; boiling water",
        ice="0.2 degC",
        boiling="99.1 degC",
        pressure="1002 hPa",
    )

    reference: Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)] = Field(
        min_length=1, description="against what: an ice bath, glass thermometer no. 4"
    )
    quantity: Quantity = Quantity.TEMPERATURE
    offset: str | None = Field(default=None, description='to add: "-0.3 delta_degC"')
    ice: str | None = Field(default=None, description='shown in melting ice: "0.2 degC"')
    boiling: str | None = Field(default=None, description='shown in boiling water: "99.1 degC"')
    pressure: str | None = Field(default=None, description='of the air: "1002 hPa"')
    altitude: str | None = Field(
        default=None, description='"430 m", where `pressure` is reduced to sea level, or unknown'
    )
    points: tuple[Compared, ...] = Field(default=(), max_length=200)
    unit: str | None = Field(default=None, description="of the points; the quantity's own")
    uncertainty: str | None = Field(
        default=None, description='standard uncertainty of the comparison: "0.1 delta_degC"'
    )

    def stamps(self, now_s: float) -> dict[str, Any]:
        """The fields that every entry has; a day alone may be given."""
        at_s = parse_day_or_at(self.at, now_s)
        return {"id": self.id, "at_s": at_s, "entered_s": now_s, "by": self.by}

    def entry(self, now_s: float, channel: str) -> Entry:
        """As the core takes it. Raises DataError for what makes no calibration."""
        if not self.by:
            raise DataError("by: say who compared it")
        correction, method = self._correction()
        points = (0.0, 100.0) if self.quantity is Quantity.TEMPERATURE else ()
        farthest = max((abs(correction.at(x)) for x in points), default=0.0)
        if farthest > FARTHEST_OFF_K:
            raise DataError(
                "this correction is larger than any that a sound probe needs: check the unit and "
                "the signs, or replace the probe"
            )
        return entries.Calibrated(
            **self.stamps(now_s),
            channel=channel,
            quantity=self.quantity,
            reference=self.reference,
            method=method,
            correction=correction,
        )

    def _correction(self) -> tuple[Correction, str]:
        ways = [self.offset is not None, bool(self.ice or self.boiling), bool(self.points)]
        if sum(ways) != 1:
            raise DataError("give one of: offset; ice and boiling; points")
        usual, uncertainty = calibration.USUAL[self.quantity], 0.0
        if self.uncertainty is not None:
            uncertainty = parse_difference(_as_difference(self.uncertainty), self.quantity)
            if not 0.0 <= uncertainty <= FARTHEST_OFF_K:
                raise DataError(f'uncertainty: "{self.uncertainty}" calibrates nothing')
        stated = uncertainty > 0.0
        if self.offset is not None:
            offset = parse_difference(_as_difference(self.offset), self.quantity)
            u = uncertainty if stated else usual.offset
            return Correction(offset=offset, offset_uncertainty=u, assumed=not stated), "offset"
        if self.points:
            unit = unit_of(self.unit or self.quantity.unit, self.quantity)
            points = [
                Point(
                    shown=unit.inside(point.shown),
                    reference=unit.inside(point.reference),
                    standard_uncertainty=uncertainty,
                )
                for point in self.points
            ]
            count = len(points)
            many = f"{count} point{'s' if count > 1 else ''}"
            return calibration.from_points(points, None if stated else usual), many
        if self.ice is None or self.boiling is None or self.quantity is not Quantity.TEMPERATURE:
            raise DataError("ice and boiling are two temperatures that go together")
        pressure_hpa, pressure_u = self._pressure()
        correction = calibration.from_ice_and_boiling(
            parse_quantity(self.ice, Quantity.TEMPERATURE),
            parse_quantity(self.boiling, Quantity.TEMPERATURE),
            pressure_hpa=pressure_hpa,
            pressure_uncertainty_hpa=pressure_u,
            standard_uncertainty_k=uncertainty if stated else usual.noise,
        )
        return correction, f"ice, and boiling at {pressure_hpa:.0f} hPa"

    def _pressure(self) -> tuple[float, float]:
        """At the bench, and its standard uncertainty; hPa."""
        known = self.pressure is not None
        hpa = parse_quantity(self.pressure or "1013.25 hPa", Dimension.PRESSURE)
        if self.altitude is not None:
            metres = parse_quantity(self.altitude, Dimension.LENGTH) / 1000.0
            return calibration.bench_pressure_hpa(
                hpa, metres
            ), REDUCED_HPA if known else WEATHER_HPA
        if not known:
            raise DataError(
                'pressure: water boils at a lower temperature under less of it; give "1002 hPa" as '
                "it is at the bench, or the altitude"
            )
        return hpa, BAROMETER_HPA


def _as_difference(text: str) -> str:
    """People write "-0.3 degC" for a difference too; here it can be nothing else."""
    return re.sub(r"(?<![a-z_])(deg|°)([CF])\b", r"delta_deg\2", text)
