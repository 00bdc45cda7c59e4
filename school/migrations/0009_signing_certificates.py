"""Every certificate the school ever signed with: added once, never changed."""

from django.db import migrations, models

FORWARD = """
CREATE TRIGGER school_signingcertificate_is_final BEFORE UPDATE OR DELETE ON school_signingcertificate
    FOR EACH ROW EXECUTE FUNCTION record_is_final();
CREATE TRIGGER school_signingcertificate_is_kept BEFORE TRUNCATE ON school_signingcertificate
    FOR EACH STATEMENT EXECUTE FUNCTION record_is_final();
"""
BACK = """
DROP TRIGGER school_signingcertificate_is_kept ON school_signingcertificate;
DROP TRIGGER school_signingcertificate_is_final ON school_signingcertificate;
"""


class Migration(migrations.Migration):
    dependencies = [("school", "0008_calendar_key")]
    operations = [
        migrations.CreateModel(
            name="SigningCertificate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fingerprint",
                    models.CharField(max_length=64, unique=True, verbose_name="SHA-256 of the certificate, in hex"),
                ),
                ("pem", models.TextField()),
                ("demonstration", models.BooleanField()),
                ("first_used_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pem", ""), _negated=True), name="signingcertificate_pem"
                    )
                ],
            },
        ),
        migrations.RunSQL(FORWARD, BACK),
    ]
