"""A release is in force on a day by one meaning: as a function of plain days and as SQL, which must never differ."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal

from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grading.models import Release
from grading.reading.fact_mapping import was_in_force
from grading.rules.in_force import is_in_force
from tests.cast import Cast

DAYS = st.integers(-4, 4)
# Around midnight, where a day in UTC and a day elsewhere differ.
MOMENTS = st.tuples(
    DAYS,
    st.sampled_from([time(0), time(0, 30), time(12), time(23, 59, 59, 999999)]),
    st.sampled_from([UTC, timezone(timedelta(hours=-9)), timezone(timedelta(hours=11))]),
)
RELEASES = st.tuples(DAYS, st.integers(0, 4), st.none() | MOMENTS)


def build_release(cast: Cast, begins: int, length: int, withdrawn: tuple[int, time, timezone] | None) -> Release:
    release = Release(
        enrolment=cast.enrolment, aircraft_type=cast.type, aerodrome=cast.runway.aerodrome, runways="18",
        max_wind_kt=12, max_crosswind_kt=5, min_visibility_sm=Decimal(5), min_ceiling_ft=2000,
        valid_from=cast.today + timedelta(days=begins), valid_until=cast.today + timedelta(days=begins + length),
        training_on=cast.today, endorsed_by=cast.bert, verdict={}, decided_at=cast.at(13), decided_by=cast.amelia,
    )  # fmt: skip
    if withdrawn:
        day, hour, zone = withdrawn
        release.withdrawn_at = datetime.combine(cast.today + timedelta(days=day), hour, zone)
        release.withdrawn_by, release.withdrawal_reason = cast.amelia, "Wind."
    return release


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(rows=st.lists(RELEASES, min_size=1, max_size=6), asked=DAYS)
def test_function_and_sql_agree(
    cast: Cast, rows: list[tuple[int, int, tuple[int, time, timezone] | None]], asked: int
) -> None:
    on = cast.today + timedelta(days=asked)
    with transaction.atomic():
        releases = Release.objects.bulk_create(build_release(cast, *row) for row in rows)
        by_sql = set(Release.objects.in_force(on).values_list("pk", flat=True))
        # As they were built, with their own time zones, and as the database gives them back.
        assert {row.pk for row in releases if was_in_force(row, on, UTC)} == by_sql
        assert {row.pk for row in Release.objects.all() if was_in_force(row, on, UTC)} == by_sql
        transaction.set_rollback(True)


def test_a_day_is_judged_at_its_end() -> None:
    first, last = date(2026, 3, 2), date(2026, 3, 6)
    days = [first + timedelta(days=number) for number in range(-1, 6)]
    withdrawn = date(2026, 3, 4)
    assert [is_in_force(first, last, None, on) for on in days] == [False, True, True, True, True, True, False]
    assert [is_in_force(first, last, withdrawn, on) for on in days] == [False, True, True, False, False, False, False]
