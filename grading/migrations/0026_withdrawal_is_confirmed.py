"""A student confirms once that they have read the withdrawal of their release."""

from django.db import migrations, models

PATH = "SET search_path = public, pg_temp"
SEAL_KINDS = [
    ("lesson", "lesson"),
    ("acknowledgement", "student's signature"),
    ("release", "release"),
    ("withdrawal", "withdrawal of a release"),
    ("confirmed", "student's confirmation of a withdrawal"),
    ("sheet", "printed sheet"),
    ("endorsement", "endorsement"),
    ("test", "written test"),
    ("review", "review of a written test"),
    ("unendorsed", "withdrawal of an endorsement"),
    ("set_aside", "requirement set aside"),
    ("asked_again", "requirement asked for again"),
    ("end", "end of training"),
    ("discarded", "discarded lesson"),
    ("received", "record received"),
    ("erasure", "erasure after retention"),
    ("register", "opening of the register"),
    ("fact", "fact of the school"),
    ("journal", "entries of the journal"),
]
# The confirmation is an update of its own: nothing else changes with it, and it is never taken back.
CONFIRMED_ONCE = """
    IF TG_OP = 'UPDATE' AND OLD.withdrawn_at IS NOT NULL AND OLD.withdrawal_read_at IS NULL
        AND NEW.withdrawal_read_at IS NOT NULL
        AND (to_jsonb(OLD) - 'withdrawal_read_at') = (to_jsonb(NEW) - 'withdrawal_read_at') THEN
        RETURN NEW;
    END IF;"""


def release_guard(confirmed: str) -> str:
    return f"""
CREATE OR REPLACE FUNCTION grading_release_withdrawn_once() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
BEGIN
    IF TG_OP = 'DELETE' AND record_is_being_erased(TG_RELID) THEN
        RETURN OLD;
    END IF;{confirmed}
    IF TG_OP = 'DELETE' OR OLD.withdrawn_at IS NOT NULL
        OR (to_jsonb(OLD) - 'withdrawn_at' - 'withdrawn_by_id' - 'withdrawal_reason')
            IS DISTINCT FROM (to_jsonb(NEW) - 'withdrawn_at' - 'withdrawn_by_id' - 'withdrawal_reason') THEN
        RAISE EXCEPTION 'the decision is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
"""


class Migration(migrations.Migration):
    dependencies = [("grading", "0025_logbook_lines")]

    operations = [
        migrations.AlterField("seal", "kind", models.CharField(choices=SEAL_KINDS, max_length=15)),
        migrations.AddField(
            "release",
            "withdrawal_read_at",
            models.DateTimeField(blank=True, null=True, verbose_name="withdrawal confirmed by the student"),
        ),
        migrations.AddConstraint(
            "release",
            models.CheckConstraint(
                condition=models.Q(("withdrawal_read_at", None), ("withdrawn_at__isnull", False), _connector="OR"),
                name="release_read_if_withdrawn",
            ),
        ),
        migrations.RunSQL(release_guard(CONFIRMED_ONCE), release_guard("")),
    ]
