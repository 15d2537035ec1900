from django.db import migrations, models

from config.append_only import frozen_columns

TABLE, NAME = "scheduling_certificate", "certificate_frozen"
FROZEN = ["job_id", "number", "data", "data_digest", "issued_at", "issued_by_id"]
ONCE = ["made_at", "pdf", "pdf_digest", "voided_at", "voided_by_id", "void_reason"]
BEFORE = frozen_columns(TABLE, NAME, FROZEN, once=ONCE)


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0008_calendar_entries_and_visiting_trades")]
    operations = [
        migrations.AddField(
            model_name="certificate", name="signature", field=models.JSONField(null=True)
        ),
        migrations.RunSQL(sql=BEFORE.reverse_sql, reverse_sql=BEFORE.sql),
        frozen_columns(TABLE, NAME, FROZEN, once=[*ONCE, "signature"]),
    ]
