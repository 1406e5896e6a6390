"""Triggers that let the audit table only grow."""

from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "core_auditentry"
MESSAGE = "the audit table only grows"


def raise_guard(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers in place (again)."""
    lift_guard(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION audit_only_grows() RETURNS trigger LANGUAGE plpgsql AS "
                f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
            )
            cursor.execute(
                f"CREATE TRIGGER audit_no_change BEFORE UPDATE OR DELETE ON {TABLE} "
                "FOR EACH ROW EXECUTE FUNCTION audit_only_grows()"
            )
            cursor.execute(
                f"CREATE TRIGGER audit_no_truncate BEFORE TRUNCATE ON {TABLE} "
                "FOR EACH STATEMENT EXECUTE FUNCTION audit_only_grows()"
            )
        else:
            for verb in ("UPDATE", "DELETE"):
                cursor.execute(
                    f"CREATE TRIGGER audit_no_{verb.lower()} BEFORE {verb} ON {TABLE} "
                    f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
                )


def lift_guard(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away: for the tests' clean-up and for a migration that must rebuild the table."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for name in ("audit_no_change", "audit_no_truncate"):
                cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {TABLE}")
        else:
            for name in ("audit_no_update", "audit_no_delete"):
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
