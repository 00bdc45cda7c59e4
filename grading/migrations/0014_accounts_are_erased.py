"""What hangs on an account goes with the last record of its student: addresses, second steps, sessions, invitations."""

from pathlib import Path

from django.db import migrations

# A migration never follows later code: the plan as it was then.
ERASURE_PLAN = (Path(__file__).parent / "sql" / "0014_erasure_plan.sql").read_text()


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0013_tablet"),
        ("school", "0010_accounts"),
        ("sessions", "0001_initial"),
        ("account", "0009_emailaddress_unique_primary_email"),
        ("mfa", "0003_authenticator_type_uniq"),
        ("usersessions", "0001_initial"),
    ]
    operations = [migrations.RunSQL(ERASURE_PLAN, migrations.RunSQL.noop)]
