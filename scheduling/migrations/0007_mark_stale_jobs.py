from django.db import migrations

from config.marking import marks

OF_JOB = "SELECT contractor_id, job_id FROM changed"
OF_ROOM = "SELECT r.contractor_id, r.job_id FROM changed c JOIN jobs_room r ON r.id = c.room_id"
JOBS_OF = {
    "jobs_job": "SELECT contractor_id, id FROM changed",
    "jobs_room": OF_JOB,
    "jobs_element": OF_ROOM,
    "readings_check": OF_ROOM,
    "scheduling_layer": OF_ROOM,
    "scheduling_decision": OF_ROOM,
    "scheduling_energizing": OF_ROOM,
    "scheduling_booking": OF_JOB,
    "scheduling_visit": OF_JOB,
    "scheduling_notice": "SELECT v.contractor_id, v.job_id FROM changed c "
    "JOIN scheduling_visit v ON v.id = c.visit_id",
    "scheduling_signoff": OF_JOB,
    "scheduling_certificate": OF_JOB,
    "scheduling_crew": "SELECT b.contractor_id, b.job_id FROM changed c "
    "JOIN scheduling_booking b ON b.crew_id = c.id "
    "WHERE b.cancelled_at IS NULL AND b.day >= CURRENT_DATE - 2",
}


def mark(table, jobs):
    return marks(table, jobs, into="scheduling_stalejob", name=f"{table}_marks_job")


class Migration(migrations.Migration):
    dependencies = [
        ("scheduling", "0006_what_jobs_wait_for"),
        ("jobs", "0002_laying_search"),
        ("readings", "0004_check_content_as_text"),
    ]
    operations = [
        *(mark(table, jobs) for table, jobs in JOBS_OF.items()),
        migrations.RunSQL(
            sql="""INSERT INTO scheduling_stalejob (id, contractor_id, job_id)
                   SELECT gen_random_uuid(), contractor_id, id FROM jobs_job
                   WHERE closed_at IS NULL""",
            reverse_sql=migrations.RunSQL.noop,
        ),
    ]
