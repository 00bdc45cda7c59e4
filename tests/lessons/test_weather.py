"""The wind of a METAR and what is made of it. The reports are invented; their form is that of ICAO Annex 3, appendix 3
(from memory), in which directions are degrees true."""

from datetime import date, datetime, timedelta

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


# The form of each group is from memory; none of these says anything about the wind.
OTHER_GROUPS = [
    "AUTO", "9999", "0350", "1 1/2SM", "P6SM", "9999NDV", "////", "CAVOK", "R24/P1500N", "-SHRA", "//", "FEW030",
    "SCT///TCU", "//////", "NCD", "NSC", "VV///", "12/05", "M01/M05", "/////", "Q1013", "Q////", "A2992", "RERA",
    "REFZRA", "RE//", "WS R24", "WS ALL RWY", "W15/S4", "WM01/S2", "WM01/S3", "W///S3", "W15/H12", "24//0594",
    "R24/CLRD70", "R88/090060", "R24/750194", "R/SNOCLO", "NOSIG", "TEMPO 25020G35KT", "BECMG FM1200 VRB03KT",
    "RMK AO2 SLP134", "RMK XYZZY",
]  # fmt: skip


@pytest.mark.parametrize("group", OTHER_GROUPS)
def test_no_group_behind_the_wind_makes_a_report_unreadable(group: str) -> None:
    read = parse_metar(f"METAR ZZZZ 251150Z 29012G22KT {group}", DAY)
    assert (read.direction, read.speed_kt, read.gust_kt, read.at) == (290, 12, 22, datetime(2026, 11, 25, 11, 50))


@given(st.lists(st.sampled_from(OTHER_GROUPS), max_size=12))
def test_groups_in_any_order_leave_the_wind_as_it_is(groups: list[str]) -> None:
    report = " ".join(["METAR ZZZZ 251150Z 29012G22KT 260V320", *groups])
    assert parse_metar(report, DAY) == MetarReport("ZZZZ", datetime(2026, 11, 25, 11, 50), 290, 12, 22, (260, 320))


@pytest.mark.parametrize(
    ("wind", "direction", "speed", "gust"),
    [
        ("24010MPS", 240, 19, None),  # 10 × 3,600 / 1,852 = 19.4
        ("24010G15MPS", 240, 19, 29),
        ("24037KMH", 240, 20, None),  # 37 / 1.852 = 19.98
        ("240P49MPS", 240, 95, None),  # at least
        ("240P99KT", 240, 99, None),
        ("24012G//KT", 240, 12, None),
        ("///12KT", None, 12, None),
        ("VRB02KT", None, 2, None),
        ("00000KT", None, 0, None),
        ("36000KT", None, 0, None),
        ("36012KTS", 360, 12, None),
    ],
)
def test_a_wind_in_every_unit_and_form(wind: str, direction: int | None, speed: int, gust: int | None) -> None:
    read = parse_metar(f"ZZZZ 251150Z AUTO {wind} 9999 12/05 Q1013", DAY)
    assert (read.direction, read.speed_kt, read.gust_kt) == (direction, speed, gust)


@pytest.mark.parametrize(
    ("named", "on", "day"),
    [
        (30, date(2026, 12, 1), date(2026, 11, 30)),
        (1, date(2026, 11, 30), date(2026, 12, 1)),
        (31, date(2027, 1, 1), date(2026, 12, 31)),
        (1, date(2026, 12, 31), date(2027, 1, 1)),
        (31, date(2026, 6, 5), date(2026, 5, 31)),
        (29, date(2028, 3, 1), date(2028, 2, 29)),
        (28, date(2027, 3, 1), date(2027, 2, 28)),
        (15, date(2026, 11, 30), date(2026, 11, 15)),
        (16, date(2026, 11, 30), date(2026, 11, 16)),
    ],
)
def test_a_report_is_of_the_nearest_day_that_there_is(named: int, on: date, day: date) -> None:
    assert parse_metar(f"ZZZZ {named:02d}2350Z 18006KT", on).at == datetime(day.year, day.month, day.day, 23, 50)


@pytest.mark.parametrize(("named", "on"), [(31, date(2026, 6, 30)), (30, date(2027, 2, 18)), (32, DAY), (0, DAY)])
def test_a_day_that_no_month_at_hand_has_is_refused(named: int, on: date) -> None:
    with pytest.raises(UnreadableReport, match=rf"of day {named}, which is not near .* by hand"):
        parse_metar(f"ZZZZ {named:02d}1150Z 18006KT", on)


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)), st.integers(-14, 14))
def test_a_report_of_the_last_or_next_fortnight_gets_its_own_day(on: date, shift: int) -> None:
    day = on + timedelta(days=shift)
    at = parse_metar(f"ZZZZ {day:%d}1150Z 18006KT", on).at
    # Across February a day of the fortnight after may be as near as that of the one before.
    assert at is not None
    assert at.date() == day or abs(at.date() - on) <= abs(shift) * timedelta(days=1)


@pytest.mark.parametrize(
    "text",
    [
        "hello", "29012KT", "ZZZZ", "ZZZZ 991150Z 18006KT", "ZZZZ 252450Z 18006KT", "ZZZZ 251160Z 18006KT",
        "ZZZZ 251150Z /////KT 9999", "ZZZZ 251150Z 24///KT 9999", "ZZZZ 251150Z NIL", "ZZZZ 251150Z 24012 9999",
        "ZZZZ 251150Z 37012KT", "ZZZZ 251150Z 24012KT 240V400", "ZZZZ 251150Z 240999KT", "ZZZZ 251150Z 24012G400KT",
        "ZZZZ 251150Z 24012KT ZZZZ 251220Z 24013KT", "the wind at ZZZZ was 24012KT", "",
    ],
)  # fmt: skip
def test_what_is_no_report_is_refused_with_what_to_do(text: str) -> None:
    with pytest.raises(UnreadableReport, match="by hand"):
        parse_metar(text, DAY)


def read_or_refuse(text: str) -> MetarReport | None:
    try:
        return parse_metar(text, DAY)
    except UnreadableReport:
        return None


WIND_LIKE = st.from_regex(r"\A[0-9OVRBMP/]{2,5}(G[0-9P/M]{1,4})?(KT|KTS|MPS|KMH|)( [0-9]{3}V[0-9]{3})?\Z")
METAR_LIKE = st.lists(
    st.sampled_from(["METAR", "SPECI", "COR", "AUTO", "ZZZZ", "251150Z", "311150Z", "VRB02KT", *OTHER_GROUPS])
    | WIND_LIKE
    | st.text("0123456789KTGVPMZRS/+-=", max_size=9),
    max_size=9,
).map(" ".join)


@given(st.text() | METAR_LIKE | WIND_LIKE.map("ZZZZ 251150Z {}".format))
def test_any_text_is_read_or_refused_in_a_sentence(text: str) -> None:
    read = read_or_refuse(text)
    if read is not None:
        wind = read.wind(-3.5)
        assert 0 <= wind.speed_kt <= wind.strongest_kt <= 220


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
