"""Wind and turns against published answers."""

import pytest

from lessons.wind import Wind, best_runway, components, load_factor, turn_radius_ft


def test_wind_220_at_30_on_runway_18() -> None:
    """FAA knowledge-test sample: headwind 23 kt, crosswind 19 kt (exact 22.98 and 19.28)."""
    found = components(Wind(220, 30), 180)
    assert (round(found.headwind_kt), round(found.crosswind_kt)) == (23, 19)
    assert found.words == "crosswind 19 kt from the right, headwind 23 kt"


def test_half_the_gust_factor() -> None:
    """70 kt and a gust factor of 15 kt: 77 kt. The handbook's example is from memory; 77.5 is exact."""
    assert 70 + Wind(180, 10, 25).gust_allowance_kt == 77.5


@pytest.mark.parametrize(
    ("speed", "bank", "radius"), [(120, 30, 2215), (240, 30, 8860), (65, 20, 1031), (80, 30, 984), (100, 45, 888)]
)
def test_turn_radius(speed: int, bank: int, radius: int) -> None:
    """FAA-H-8083-25C chapter 5, formula and answers from memory; recomputed with its constant 11.26."""
    assert turn_radius_ft(speed, bank) == pytest.approx(radius, rel=0.001)


@pytest.mark.parametrize(("bank", "factor"), [(10, 1.015), (30, 1.154), (45, 1.414), (60, 2.0), (80, 5.747)])
def test_load_factor(bank: int, factor: float) -> None:
    """The load-factor table of the FAA testing supplement; its last digits differ from exact ones."""
    assert load_factor(bank) == pytest.approx(factor, rel=0.005)


def test_impossible_wind_is_refused() -> None:
    with pytest.raises(ValueError, match="gust"):
        Wind(180, 20, 10)
    with pytest.raises(ValueError, match="360"):
        Wind(361, 20)


class _Runway:
    def __init__(self, heading: int) -> None:
        self.heading_magnetic = heading


def test_best_runway_has_the_most_headwind() -> None:
    south, north = _Runway(180), _Runway(360)
    assert best_runway(Wind(200, 10), [south, north]) is south
    assert best_runway(Wind(None, 3), [south, north]) is None
