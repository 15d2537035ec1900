from django.db import migrations

from config.append_only import never_edited


class Migration(migrations.Migration):
    dependencies = [("jobs", "0005_exports_and_erasures")]
    operations = [never_edited("jobs_erasure", "erasure_never_edited")]
