"""Whose row it is: every query starts at its contractor, and the database holds the line."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, ClassVar, Protocol, Self, TypeVar
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, models, transaction
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.ddl_references import Columns, ForeignKeyName, Statement, Table
from django.http import Http404
from uuid_utils.compat import uuid7

from config.errors import DomainError

OFFICE, FIELD, VIEWER = "office", "field", "viewer"
EITHER: frozenset[str] = frozenset({OFFICE, FIELD})


class UnknownId(DomainError):
    slug = "unknown-id"


class Asker(Protocol):
    """Whoever looks at rows of one contractor: a member, or the bearer of one of its links."""

    contractor_id: UUID


class Actor(Asker, Protocol):
    """A member of one contractor, in one role."""

    role: str


class TenantQuerySet(models.QuerySet["M"]):
    """Rows of one contractor, as somebody may see or change them."""

    def visible_to(self, member: Asker) -> Self:
        return self.filter(contractor_id=member.contractor_id)

    def editable_by(self, member: Actor) -> Self:
        if member.role not in self.model.written_by:
            return self.none()
        return self.visible_to(member)


class TenantModel(models.Model):
    """A row of one contractor. `written_by` are the roles that may change it.

    A contractor who leaves takes along every table that `travels`, but for the fields of
    `stays_behind`, in which these values stand wherever the rows arrive.
    """

    written_by: ClassVar[frozenset[str]] = frozenset({OFFICE})
    travels: ClassVar[bool] = True
    stays_behind: ClassVar[Mapping[str, Any]] = {}

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    # The unique constraint below starts with the contractor and serves as the index.
    contractor = models.ForeignKey(
        "jobs.Contractor", on_delete=models.PROTECT, related_name="+", db_index=False
    )

    objects = TenantQuerySet.as_manager()

    class Meta:
        abstract = True
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["contractor", "id"], name="%(app_label)s_%(class)s_of_contractor"
            )
        ]


class VersionedModel(TenantModel):
    """A row that several people edit: its version is the ETag."""

    version = models.PositiveIntegerField(default=1)

    class Meta(TenantModel.Meta):
        abstract = True


M = TypeVar("M", bound=TenantModel)


class SameContractor(models.BaseConstraint):
    """A composite foreign key: (contractor, field) points at a row of the same contractor."""

    def __init__(self, *, field: str, name: str) -> None:
        super().__init__(name=name)
        self.field = field

    def constraint_sql(
        self, model: type[models.Model] | None, schema_editor: BaseDatabaseSchemaEditor | None
    ) -> Any:
        return self.create_sql(model, schema_editor)

    def create_sql(
        self, model: type[models.Model] | None, schema_editor: BaseDatabaseSchemaEditor | None
    ) -> Any:
        """Leave the statement for the end of the migration, when every table is there."""
        assert model is not None
        assert schema_editor is not None
        field = model._meta.get_field(self.field)
        target = field.related_model
        assert isinstance(field, models.ForeignKey)
        assert isinstance(target, type)
        columns = ["contractor_id", field.column]

        def named(*_: object) -> str:
            return schema_editor.quote_name(self.name)

        schema_editor.deferred_sql.append(
            Statement(
                "ALTER TABLE %(table)s ADD CONSTRAINT %(name)s FOREIGN KEY (%(column)s) "
                "REFERENCES %(to_table)s (%(to_column)s)",
                table=Table(model._meta.db_table, schema_editor.quote_name),
                name=ForeignKeyName(
                    model._meta.db_table,
                    columns,
                    target._meta.db_table,
                    ["contractor_id", "id"],
                    "",
                    named,
                ),
                column=Columns(model._meta.db_table, columns, schema_editor.quote_name),
                to_table=Table(target._meta.db_table, schema_editor.quote_name),
                to_column=Columns(
                    target._meta.db_table, ["contractor_id", "id"], schema_editor.quote_name
                ),
            )
        )

    def remove_sql(
        self, model: type[models.Model] | None, schema_editor: BaseDatabaseSchemaEditor | None
    ) -> Any:
        assert model is not None
        assert schema_editor is not None
        return Statement(
            "ALTER TABLE %(table)s DROP CONSTRAINT %(name)s",
            table=Table(model._meta.db_table, schema_editor.quote_name),
            name=schema_editor.quote_name(self.name),
        )

    def validate(self, *args: object, **kwargs: object) -> None:
        """The database decides; see `violated`."""

    def deconstruct(self) -> tuple[str, tuple[()], dict[str, Any]]:
        return "config.tenancy.SameContractor", (), {"field": self.field, "name": self.name}

    def __eq__(self, other: object) -> bool:
        if isinstance(other, SameContractor):
            return self.name == other.name and self.field == other.field
        return NotImplemented

    def __hash__(self) -> int:
        return hash((self.name, self.field))


def visible(rows: TenantQuerySet[M], member: Asker, **lookup: object) -> M:
    """The one row that matches, else 404: whether it exists elsewhere is not told."""
    if row := rows.visible_to(member).filter(**lookup).first():
        return row
    raise Http404


def editable(rows: TenantQuerySet[M], member: Actor, **lookup: object) -> M:
    """The one row that matches: 403 if `member` may only look at it, 404 if not even that."""
    if row := rows.editable_by(member).filter(**lookup).first():
        return row
    visible(rows, member, **lookup)
    raise PermissionDenied


def referred(rows: TenantQuerySet[M], member: Actor, row_id: object, *, pointer: str) -> M:
    """The row that an id in a body names; raises UnknownId, whether it is foreign or nothing."""
    if row := rows.visible_to(member).filter(pk=row_id).first():
        return row
    raise UnknownId("Nothing of yours has this id. Look it up again.", pointer=pointer)


def may_write(model: type[TenantModel], member: Actor) -> None:
    """Refuse with 403 before a body is read if `member` may not make such rows."""
    if member.role not in model.written_by:
        raise PermissionDenied


def violated(error: IntegrityError) -> str:
    """The name of the constraint that the database refused by; empty if it told none."""
    diagnosis = getattr(error.__cause__, "diag", None)
    return getattr(diagnosis, "constraint_name", None) or ""


@contextmanager
def told(refusals: Mapping[str, DomainError]) -> Iterator[None]:
    """Run in a savepoint; say in words what the database refuses, by the constraint's name."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        if refusal := refusals.get(violated(error)):
            raise refusal from error
        raise
