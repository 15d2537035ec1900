from django.db import migrations

from config.marking import marks

JOBS_OF = {
    "scheduling_datemove": "SELECT r.contractor_id, r.job_id FROM changed c "
    "JOIN jobs_room r ON r.id = c.room_id",
    "scheduling_warmupstep": "SELECT r.contractor_id, r.job_id FROM changed c "
    "JOIN scheduling_energizing e ON e.id = c.energizing_id "
    "JOIN jobs_room r ON r.id = e.room_id",
}


def mark(table, jobs):
    return marks(table, jobs, into="scheduling_stalejob", name=f"{table}_marks_job")


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0010_told_moves_and_stops")]
    operations = [mark(table, jobs) for table, jobs in JOBS_OF.items()]
