"""What hangs on an account goes with the last record of its student: addresses, second steps, sessions, invitations."""

from django.db import migrations

from grading.erasure_plan import plan_sql


class Migration(migrations.Migration):
    dependencies = [
        ("grading", "0013_tablet"),
        ("school", "0010_accounts"),
        ("sessions", "0001_initial"),
        ("account", "0009_emailaddress_unique_primary_email"),
        ("mfa", "0003_authenticator_type_uniq"),
        ("usersessions", "0001_initial"),
    ]
    operations = [migrations.RunSQL(plan_sql(), migrations.RunSQL.noop)]
