from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('scheduling', '0015_stops_move_calendars'),
    ]

    operations = [
        migrations.AddField(
            model_name='jobneed',
            name='assumed',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='jobwait',
            name='assumed',
            field=models.BooleanField(default=False),
        ),
        migrations.RunSQL(
            sql="""INSERT INTO scheduling_stalejob (id, contractor_id, job_id)
                   SELECT gen_random_uuid(), contractor_id, id FROM jobs_job
                   WHERE closed_at IS NULL""",
            reverse_sql=migrations.RunSQL.noop,
        ),
    ]
