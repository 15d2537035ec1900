from django.db import migrations

from config.append_only import frozen_columns

FROZEN = [
    "id",
    "contractor_id",
    "room_id",
    "element_id",
    "client_id",
    "method",
    "construction",
    "measured_from",
    "fraction",
    "tolerance",
    "loop_ohms",
    "found_at",
    "received_at",
    "found_by_id",
    "note",
]


class Migration(migrations.Migration):
    dependencies = [("readings", "0006_faults_found")]
    operations = [
        frozen_columns(
            "readings_faultfound",
            "faultfound_frozen",
            FROZEN,
            once=["voided_at", "voided_by_id", "void_reason"],
        ),
    ]
