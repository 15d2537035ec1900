from django.db import migrations

from config.marking import marks

OF_JOB = "SELECT contractor_id, job_id FROM changed"
OF_ROOM = "SELECT r.contractor_id, r.job_id FROM changed c JOIN jobs_room r ON r.id = c.room_id"
JOBS_OF = {
    "jobs_job": "SELECT contractor_id, id FROM changed",
    "jobs_room": OF_JOB,
    "scheduling_layer": OF_ROOM,
    "scheduling_decision": OF_ROOM,
    "scheduling_energizing": OF_ROOM,
    "scheduling_booking": OF_JOB,
    "scheduling_visit": OF_JOB,
}


def mark(table, jobs):
    return marks(table, jobs, into="scheduling_stalecalendar", name=f"{table}_marks_calendar")


class Migration(migrations.Migration):
    dependencies = [
        ("scheduling", "0012_what_calendars_follow"),
        ("jobs", "0007_webhooks_and_trade_links"),
    ]
    operations = [
        *(mark(table, jobs) for table, jobs in JOBS_OF.items()),
        migrations.RunSQL(
            sql="""INSERT INTO scheduling_stalecalendar (id, contractor_id, job_id)
                   SELECT gen_random_uuid(), contractor_id, id FROM jobs_job
                   WHERE closed_at IS NULL""",
            reverse_sql=migrations.RunSQL.noop,
        ),
    ]
