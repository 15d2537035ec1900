from django.db import migrations

NAME = "scheduling_warmupstep_marks_calendar"


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0014_crews_keep_holidays")]
    operations = [
        migrations.RunSQL(
            sql=f"""
            CREATE FUNCTION {NAME}() RETURNS trigger LANGUAGE plpgsql AS $$
            BEGIN
                INSERT INTO scheduling_stalecalendar (id, contractor_id, job_id)
                SELECT gen_random_uuid(), m.* FROM (
                    SELECT DISTINCT r.contractor_id, r.job_id FROM changed c
                    JOIN scheduling_energizing e ON e.id = c.energizing_id
                    JOIN jobs_room r ON r.id = e.room_id
                ) m;
                RETURN NULL;
            END $$;
            CREATE TRIGGER {NAME} AFTER UPDATE ON scheduling_warmupstep
                REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION {NAME}();
            """,
            reverse_sql=f"DROP TRIGGER {NAME} ON scheduling_warmupstep; DROP FUNCTION {NAME}();",
        )
    ]
