"""The time of keeping counts from days of the school's own zone."""

from django.db import migrations

FORWARD = """
CREATE OR REPLACE FUNCTION kept_until(enrolment bigint) RETURNS date LANGUAGE sql STABLE
    SET search_path = public, pg_temp AS $$
    SELECT CASE WHEN e.ended_on IS NOT NULL THEN greatest(
        years_later(e.ended_on, s.retention_years),
        years_later((SELECT max(l.on) FROM lessons_lesson l WHERE l.enrolment_id = e.id), 3),
        years_later((SELECT max(given_on) FROM lessons_endorsement WHERE enrolment_id = e.id), 3),
        years_later(
            (SELECT (max(decided_at) AT TIME ZONE s.time_zone)::date FROM grading_release WHERE enrolment_id = e.id), 3
        )
    ) END
    FROM lessons_enrolment e CROSS JOIN school_school s WHERE e.id = $1
$$;
"""

BACK = """
CREATE OR REPLACE FUNCTION kept_until(enrolment bigint) RETURNS date LANGUAGE sql STABLE
    SET search_path = public, pg_temp AS $$
    SELECT CASE WHEN e.ended_on IS NOT NULL THEN greatest(
        years_later(e.ended_on, s.retention_years),
        years_later((SELECT max(l.on) FROM lessons_lesson l WHERE l.enrolment_id = e.id), 3),
        years_later((SELECT max(given_on) FROM lessons_endorsement WHERE enrolment_id = e.id), 3),
        years_later(
            (SELECT max((decided_at AT TIME ZONE 'UTC')::date) FROM grading_release WHERE enrolment_id = e.id), 3
        )
    ) END
    FROM lessons_enrolment e CROSS JOIN school_school s WHERE e.id = $1
$$;
"""


class Migration(migrations.Migration):
    dependencies = [("grading", "0017_counted_level"), ("school", "0011_time_zone")]
    operations = [migrations.RunSQL(FORWARD, BACK)]
