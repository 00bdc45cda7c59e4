"""A flight track is final once its lesson is signed; its positions alone may go, after a time or at somebody's wish."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

PATH = "SET search_path = public, pg_temp"
TABLE = "grading_flighttrack"
GUARD = f"""
CREATE FUNCTION flight_track_is_final() RETURNS trigger LANGUAGE plpgsql {PATH} AS $$
DECLARE
    may_go text[] := ARRAY['positions', 'ways', 'removed_at', 'removed_by_id'];
BEGIN
    IF TG_OP = 'DELETE' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = OLD.lesson_id AND signed_at IS NOT NULL;
        IF NOT FOUND OR record_is_being_erased(TG_RELID) THEN
            RETURN OLD;
        END IF;
    ELSIF NEW.positions = '' AND NEW.ways = '' AND to_jsonb(NEW) - may_go = to_jsonb(OLD) - may_go
        AND (OLD.removed_at IS NULL
            OR (NEW.removed_at = OLD.removed_at AND NEW.removed_by_id = OLD.removed_by_id)) THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'the track is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
DROP TRIGGER {TABLE}_is_final ON {TABLE};
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION flight_track_is_final();
"""
BACK = f"""
DROP TRIGGER {TABLE}_is_final ON {TABLE};
CREATE TRIGGER {TABLE}_is_final BEFORE UPDATE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
DROP FUNCTION flight_track_is_final();
"""
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
    ("track", "flight track"),
    ("track_removed", "removal of a flight track"),
    ("received", "record received"),
    ("erasure", "erasure after retention"),
    ("register", "opening of the register"),
    ("fact", "fact of the school"),
    ("journal", "entries of the journal"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0027_flight_tracks"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField("seal", "kind", models.CharField(choices=SEAL_KINDS, max_length=15)),
        # Those of before stand in no sealed lesson, whenever they were kept.
        migrations.AddField(
            "flighttrack",
            "after_signing",
            models.BooleanField(default=True, verbose_name="kept after the lesson was signed"),
        ),
        migrations.AlterField(
            "flighttrack",
            "after_signing",
            models.BooleanField(default=False, verbose_name="kept after the lesson was signed"),
        ),
        migrations.AddField("flighttrack", "removed_at", models.DateTimeField(blank=True, null=True)),
        migrations.AddField(
            "flighttrack",
            "removed_by",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            "flighttrack",
            models.CheckConstraint(
                condition=models.Q(
                    models.Q(("removed_at", None), ("removed_by", None)),
                    models.Q(("removed_at__isnull", False), ("removed_by__isnull", False)),
                    _connector="OR",
                ),
                name="flighttrack_removed",
            ),
        ),
        migrations.CreateModel(
            name="TrackTerm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("months", models.PositiveSmallIntegerField(verbose_name="months after the lesson")),
                ("decided_at", models.DateTimeField()),
                (
                    "decided_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("months__gte", 1), ("months__lte", 60)), name="trackterm_months"
                    )
                ],
            },
        ),
        migrations.RunSQL(GUARD, BACK),
    ]
