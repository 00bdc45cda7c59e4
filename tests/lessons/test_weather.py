"""The wind of a METAR and what is made of it. The reports are invented; their form is that of ICAO Annex 3, appendix 3
(from memory), in which directions are degrees true."""

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.rules.wind import Wind, to_magnetic, wind_components, worst_crosswind_kt, worst_tailwind_kt
from lessons.weather import MetarReport, UnreadableReport, parse_metar

DAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "direction", "speed", "gust", "varies"),
    [
        ("METAR ZZZZ 251150Z 29012G22KT 260V320 9999 FEW030 12/05 Q1013", 290, 12, 22, (260, 320)),
        ("zzzz 251150z 36006kt cavok 12/05 q1013=", 360, 6, None, None),
        ("ZZZZ 251150Z 00000KT CAVOK", None, 0, None, None),
        ("KXXX 251155Z AUTO VRB03KT 10SM CLR 12/05 A3012 RMK AO2 SLP134 XYZZY", None, 3, None, None),
        ("ZZZZ 251150Z 18006MPS 9999", 180, 12, None, None),
    ],
)
def test_the_wind_of_a_report(
    text: str, direction: int | None, speed: int, gust: int | None, varies: tuple[int, int] | None
) -> None:
    found = parse_metar(text, DAY)
    assert (found.direction, found.speed_kt, found.gust_kt, found.varies) == (direction, speed, gust, varies)


def test_the_day_of_a_report_takes_month_and_year_from_the_lesson() -> None:
    assert parse_metar("ZZZZ 021150Z 18006KT 9999", date(2025, 3, 2)).at == datetime(2025, 3, 2, 11, 50)


@pytest.mark.parametrize("text", ["hello", "29012KT", "ZZZZ 251150Z /////KT 9999", "ZZZZ 991150Z 18006KT", "ZZZZ"])
def test_what_is_no_report_is_refused_with_what_to_do(text: str) -> None:
    with pytest.raises(UnreadableReport, match="by hand"):
        parse_metar(text, DAY)


def test_true_becomes_magnetic_by_the_variation() -> None:
    """East is least, west is best: common practice."""
    assert [to_magnetic(290, east) for east in (0, 10, -10)] == [290, 280, 300]
    assert [to_magnetic(5, 10), to_magnetic(355, -5), to_magnetic(360, 0), to_magnetic(359, -2)] == [355, 360, 360, 1]
    report = MetarReport("ZZZZ", None, 290, 12, 22, (260, 320))
    assert report.wind(3) == Wind(287, 12, 22, (257, 317))


@given(st.integers(1, 360), st.integers(-300, 300))
def test_magnetic_stays_on_the_circle_and_turns_back(true: int, tenths: int) -> None:
    turned = to_magnetic(true, tenths / 10)
    assert 1 <= turned <= 360
    assert to_magnetic(turned, -tenths / 10) in {true, true % 360 + 1, (true - 2) % 360 + 1}


@given(st.integers(1, 360), st.integers(0, 60), st.integers(0, 30), st.integers(1, 360))
def test_the_worst_crosswind_is_never_less_than_that_of_the_wind_or_of_the_gust(
    direction: int, speed: int, more: int, runway: int
) -> None:
    wind = Wind(direction, speed, speed + more)
    worst = worst_crosswind_kt(wind, runway)
    assert worst >= abs(wind_components(wind, runway, in_gust=True).crosswind_kt) >= 0
    swinging = Wind(direction, speed, speed + more, (direction, (direction + 60) % 360))
    assert worst_crosswind_kt(swinging, runway) >= worst - 1e-9
    assert worst_crosswind_kt(Wind(None, speed, speed + more), runway) == speed + more


def test_a_wind_that_swings_across_the_runway_is_all_crosswind() -> None:
    assert worst_crosswind_kt(Wind(30, 10, None, (340, 100)), 360) == 10
    assert round(worst_crosswind_kt(Wind(220, 30), 180)) == 19  # the worked example of test_wind.py


def test_a_swing_may_blow_from_behind() -> None:
    """Runway 27, wind 350 swinging from 300 to 040: 12 kt at 130 degrees are 7.7 kt from behind."""
    swinging = Wind(350, 12, None, (300, 40))
    assert wind_components(swinging, 270).headwind_kt > 0
    assert round(worst_tailwind_kt(swinging, 270), 1) == 7.7
    assert worst_tailwind_kt(Wind(270, 12), 270) == -12
    assert worst_tailwind_kt(Wind(None, 5), 270) == 5
