"""Least hours against 14 CFR 61.109(a), read in a copy of the eCFR: 40, 20, 10, 3 at night, 3 by instruments."""

from lessons.rules.minima import compare_with_minima


def test_the_hours_of_the_paragraph() -> None:
    flown = {"dual_minutes": 754, "solo_minutes": 630, "night_minutes": 0, "instrument_minutes": 60}
    rows = compare_with_minima("us", flown)
    assert [row.needed // 60 for row in rows] == [40, 20, 10, 3, 3]
    assert [row.flown for row in rows] == [1384, 754, 630, 0, 60]
    assert [row.missing for row in rows] == [1016, 446, 0, 180, 120]


def test_rules_whose_hours_were_not_verified_give_none() -> None:
    assert compare_with_minima("eu", {"dual_minutes": 600}) == []
