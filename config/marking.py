"""Triggers that mark the jobs of which something was written, to be worked out anew."""

from django.db import migrations


def marks(table: str, jobs: str, *, into: str, name: str) -> migrations.RunSQL:
    """A migration step: each statement that writes `table` adds one row to `into` for each job.

    `jobs` selects contractor and job from the rows written, which are called `changed`. Nothing is
    locked by it.
    """
    return migrations.RunSQL(
        sql=f"""
        CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            INSERT INTO {into} (id, contractor_id, job_id)
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
