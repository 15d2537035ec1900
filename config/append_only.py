"""Triggers for rows that are written once: the database refuses to edit or delete them."""

from django.db import migrations


def never_edited(table: str, constraint: str) -> migrations.RunSQL:
    """A migration step: no row of `table` is updated or deleted; refused under `constraint`."""
    return migrations.RunSQL(
        sql=f"""
        CREATE FUNCTION {constraint}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            RAISE EXCEPTION 'rows of {table} are never edited or deleted'
                USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = '{constraint}';
        END $$;
        CREATE TRIGGER {constraint} BEFORE UPDATE OR DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION {constraint}();
        """,
        reverse_sql=f"""
        DROP TRIGGER {constraint} ON {table};
        DROP FUNCTION {constraint}();
        """,
    )


def frozen_columns(
    table: str, constraint: str, columns: list[str], *, once: list[str]
) -> migrations.RunSQL:
    """A migration step: `columns` never change, those in `once` only while empty; no deletes."""
    changed = " OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in columns)
    rewritten = " OR ".join(
        f"(COALESCE(OLD.{name}::text, '') <> '' AND NEW.{name} IS DISTINCT FROM OLD.{name})"
        for name in once
    )
    return migrations.RunSQL(
        sql=f"""
        CREATE FUNCTION {constraint}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP = 'UPDATE' THEN
                IF NOT ({changed} OR {rewritten}) THEN
                    RETURN NEW;
                END IF;
            END IF;
            RAISE EXCEPTION 'rows of {table} are frozen'
                USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = '{constraint}';
        END $$;
        CREATE TRIGGER {constraint} BEFORE UPDATE OR DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION {constraint}();
        """,
        reverse_sql=f"""
        DROP TRIGGER {constraint} ON {table};
        DROP FUNCTION {constraint}();
        """,
    )
