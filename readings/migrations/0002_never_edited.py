from django.db import migrations

from config.append_only import never_edited


class Migration(migrations.Migration):
    dependencies = [("readings", "0001_tables")]
    operations = [
        never_edited("readings_check", "check_never_edited"),
        never_edited("readings_reading", "reading_never_edited"),
        never_edited("readings_sitetemperature", "sitetemperature_never_edited"),
        never_edited("readings_monitorevent", "monitorevent_never_edited"),
    ]
