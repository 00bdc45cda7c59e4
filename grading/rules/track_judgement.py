"""Judge a reading of a flight track with its uncertainty: inside its tolerance, outside, or not to be told. Pure."""

from dataclasses import dataclass

from grading.rules.flown import NumberTarget
from lessons.rules.flight_track import Reading
from lessons.rules.units import convert

READ_IN = {"height": "ft", "distance": "ft", "speed": "kt", "bank": "deg"}
WORDS = {"inside": "inside", "outside": "outside", "unsure": "not certain"}


@dataclass(frozen=True)
class TrackNumber:
    """A reading in the unit of its target; place: "inside" and "outside" only where the uncertainty leaves no doubt."""

    value: float
    uncertainty: float
    place: str

    @property
    def words(self) -> str:
        return WORDS[self.place]


def judge_reading(reading: Reading, target: NumberTarget) -> TrackNumber:
    """Convert a reading that has a value and judge it; a value just on the edge is inside."""
    assert reading.value is not None
    factor = float(convert(1, READ_IN[reading.quantity], target.unit))
    value, error = reading.value * factor, reading.error * factor
    # Rounded far below what a reading tells, so that the edge in metres is the edge in feet.
    low, high, least, most = (
        round(edge, 6)
        for edge in (target.value - target.under, target.value + target.over, value - error, value + error)
    )
    if low <= least and most <= high:
        return TrackNumber(value, error, "inside")
    return TrackNumber(value, error, "outside" if most < low or least > high else "unsure")
