from django.db import migrations

JOBS_OF = {
    "scheduling_datemove": "SELECT r.contractor_id, r.job_id FROM changed c "
    "JOIN jobs_room r ON r.id = c.room_id",
    "scheduling_warmupstep": "SELECT r.contractor_id, r.job_id FROM changed c "
    "JOIN scheduling_energizing e ON e.id = c.energizing_id "
    "JOIN jobs_room r ON r.id = e.room_id",
}


def mark(table, jobs):
    name = f"{table}_marks_job"
    return migrations.RunSQL(
        sql=f"""
        CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            INSERT INTO scheduling_stalejob (id, contractor_id, job_id)
            SELECT gen_random_uuid(), m.* FROM (SELECT DISTINCT * FROM ({jobs}) j) m;
            RETURN NULL;
        END $$;
        CREATE TRIGGER {name}_made AFTER INSERT ON {table}
            REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION {name}();
        CREATE TRIGGER {name}_changed AFTER UPDATE ON {table}
            REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION {name}();
        """,
        reverse_sql=f"""
        DROP TRIGGER {name}_made ON {table};
        DROP TRIGGER {name}_changed ON {table};
        DROP FUNCTION {name}();
        """,
    )


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0010_told_moves_and_stops")]
    operations = [mark(table, jobs) for table, jobs in JOBS_OF.items()]
