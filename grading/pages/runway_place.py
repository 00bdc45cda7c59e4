"""This module reads where a runway lies as plain values: they name a drawn picture in a cache, and its words."""

from dataclasses import dataclass
from decimal import Decimal

from lessons.rules.unit_words import write_length
from lessons.rules.units import DisplayUnits
from school.formats import write_number
from school.models import Runway


@dataclass(frozen=True)
class RunwayPlace:
    """A runway as it is drawn. heading: magnetic; touchdown_ft: from the threshold to where the landing aims.

    What nobody typed from the chart is None. obstacles: name, feet before the threshold, right of the centreline, high.
    """

    designator: str
    heading: int
    length_ft: int
    touchdown_ft: float
    left: bool
    obstacles: tuple[tuple[str, int, int, int], ...]
    heading_true: Decimal | None = None
    threshold: tuple[Decimal, Decimal] | None = None
    aiming_point_ft: int | None = None

    @classmethod
    def of(cls, runway: Runway) -> "RunwayPlace":
        """Read a runway with its obstacles. One query."""
        rows = runway.obstacles.order_by("pk").values_list("name", "before_ft", "side_ft", "height_ft")
        latitude, longitude = runway.threshold_latitude, runway.threshold_longitude
        return cls(
            runway.designator,
            runway.heading_magnetic,
            runway.length_ft,
            runway.touchdown_ft,
            runway.circuit == Runway.CircuitSide.LEFT,
            tuple(rows),
            runway.heading_true,
            (latitude, longitude) if latitude is not None and longitude is not None else None,
            runway.aiming_point_ft,
        )

    def words(self, units: DisplayUnits) -> str:
        """Return where it lies in a sentence; what nobody typed is left out, or said where it was assumed."""
        true = f"{write_number(self.heading_true)}° true, " if self.heading_true is not None else ""
        said = f"Runway {self.designator}: {true}{self.heading:03d}° magnetic"
        if self.threshold:
            latitude, longitude = self.threshold
            said += f"; threshold {_degrees(latitude, 'N', 'S')} {_degrees(longitude, 'E', 'W')}"
        if self.aiming_point_ft is None:
            return f"{said}; aiming point taken at a sixth of the runway."
        return f"{said}; aiming point {write_length(self.aiming_point_ft, units)} past the threshold."


def _degrees(value: Decimal, positive: str, negative: str) -> str:
    """Return '47.5000° N': a ten-thousandth of a degree of latitude is some 11 m."""
    return f"{abs(value):.4f}° {positive if value >= 0 else negative}"
