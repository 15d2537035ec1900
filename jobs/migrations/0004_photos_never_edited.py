from django.db import migrations

from config.append_only import never_edited


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_doorways_and_photos")]
    operations = [
        never_edited("jobs_roomphoto", "roomphoto_never_edited"),
        never_edited("jobs_photoscale", "photoscale_never_edited"),
    ]
