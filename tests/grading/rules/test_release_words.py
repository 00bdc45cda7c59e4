"""The limits of a release read alike wherever they are shown."""

from decimal import Decimal

import pytest

from grading.rules.release_words import limits_words, runway_words


@pytest.mark.parametrize(
    ("runways", "words"),
    [("07", "runway 07"), ("07, 25", "runways 07 and 25"), ("07 25,11L", "runways 07, 25 and 11L")],
)
def test_runways(runways: str, words: str) -> None:
    assert runway_words(runways) == words


@pytest.mark.parametrize(("metric", "visibility"), [(False, "5 SM"), (True, "8.1 km (5 SM)")])
def test_limits(metric: bool, visibility: str) -> None:
    said = limits_words(
        runways="07, 25", wind_kt=12, crosswind_kt=5, visibility_sm=Decimal("5.0"), ceiling_ft=2000, metric=metric
    )
    assert said == (
        "runways 07 and 25, wind up to 12 kt, crosswind up to 5 kt,"
        f" visibility at least {visibility}, cloud base at least 2,000 ft"
    )
