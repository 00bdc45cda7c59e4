"""An erasure takes the pictures of a student's documents, with the texts of their seals."""

from pathlib import Path

from django.db import migrations

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0032_erasure_plan.sql").read_text()
PATH = "SET search_path = public, pg_temp"


def _erasure_seals(pictures: str) -> str:
    return f"""
CREATE OR REPLACE FUNCTION erasure_seals(enrolment bigint) RETURNS SETOF bigint LANGUAGE plpgsql STABLE {PATH} AS $$
DECLARE
    part record;
    student bigint := (SELECT student_id FROM lessons_enrolment WHERE id = enrolment);
BEGIN
    FOR part IN SELECT s.tbl, s.condition FROM erasure_steps(enrolment) s WHERE EXISTS (
        SELECT 1 FROM pg_attribute WHERE attrelid = s.tbl::regclass AND attname = 'uid' AND NOT attisdropped
    ) LOOP
        RETURN QUERY EXECUTE format(
            'SELECT number FROM grading_seal WHERE kind <> ''erasure'' AND subject IN (SELECT uid FROM %I WHERE %s)',
            part.tbl, part.condition) USING enrolment;
    END LOOP;
    RETURN QUERY SELECT number FROM grading_seal
        WHERE kind = 'fact' AND subject = md5('lessons_enrolment:' || enrolment)::uuid;
    IF erasure_frees_person(enrolment) THEN
        RETURN QUERY SELECT number FROM grading_seal WHERE kind = 'fact' AND subject IN (
            SELECT md5('school_person:' || student)::uuid
            UNION ALL SELECT md5('school_paper:' || p.id)::uuid FROM school_paper p WHERE p.person_id = student
            {pictures});
    END IF;
END $$;
"""  # noqa: S608 - words of this module


PICTURES = """UNION ALL SELECT md5('school_attachment:' || a.id)::uuid
                FROM school_attachment a JOIN school_paper p ON p.id = a.paper_id WHERE p.person_id = student"""


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0031_findings_are_settled"),
        ("school", "0018_documents_of_aircraft_and_attachments"),
    ]

    operations = [
        migrations.RunSQL(_erasure_seals(PICTURES), _erasure_seals("")),
        migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop),
    ]
