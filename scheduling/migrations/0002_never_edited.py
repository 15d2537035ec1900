from django.db import migrations

from config.append_only import frozen_columns, never_edited


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0001_tables")]
    operations = [
        never_edited("scheduling_evidence", "evidence_never_edited"),
        never_edited("scheduling_decision", "decision_never_edited"),
        never_edited("scheduling_energizing", "energizing_never_edited"),
        never_edited("scheduling_signoff", "signoff_never_edited"),
        frozen_columns(
            "scheduling_certificate",
            "certificate_frozen",
            ["job_id", "number", "data", "data_digest", "issued_at", "issued_by_id"],
            once=["made_at", "pdf", "pdf_digest", "voided_at", "voided_by_id", "void_reason"],
        ),
    ]
