"""What is built and where: people, places, rooms, materials, elements, papers' links."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from uuid_utils.compat import uuid7

from config.tenancy import (
    FIELD,
    OFFICE,
    VIEWER,
    SameContractor,
    TenantModel,
    TenantQuerySet,
    VersionedModel,
)

UNITS = [("metric", "Metric"), ("imperial", "Imperial")]
LANGUAGES = [("en", "English"), ("es", "Español")]
EITHER: frozenset[str] = frozenset({OFFICE, FIELD})


class Contractor(models.Model):
    """A company that installs floor warming; everything else belongs to one."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    licence_number = models.CharField(max_length=60, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    units = models.CharField(max_length=8, choices=UNITS, default="metric")
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    # Whose public holidays its crews keep (ISO 3166-1 and the part of 3166-2); empty: none.
    country = models.CharField(max_length=2, blank=True)
    subdivision = models.CharField(max_length=10, blank=True)

    objects: ClassVar[models.Manager[Self]] = models.Manager()


class MemberManager(BaseUserManager["Member"]):
    def get_by_natural_key(self, username: str | None) -> "Member":
        return self.get(email=(username or "").lower())

    def create_member(self, *, email: str, password: str | None, **fields: object) -> "Member":
        member = self.model(email=email.lower(), **fields)
        member.set_password(password)
        member.save(using=self._db)
        return member


class Member(AbstractBaseUser):
    """A person in a company; logs in by e-mail."""

    ROLES: ClassVar = [(OFFICE, "Office"), (FIELD, "Field"), (VIEWER, "Viewer")]

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    contractor = models.ForeignKey(
        Contractor, on_delete=models.PROTECT, related_name="members", db_index=False
    )
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=8, choices=ROLES)
    licence_number = models.CharField(max_length=60, blank=True)
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    scheme = models.CharField(
        max_length=5,
        choices=[("", "As the device"), ("light", "Light"), ("dark", "Dark")],
        blank=True,
    )
    is_active = models.BooleanField(default=True)

    objects: ClassVar[MemberManager] = MemberManager()

    # On arrival elsewhere nobody has a password yet: each asks for a link and sets one.
    stays_behind: ClassVar = {"password": "!", "last_login": None}

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar = ["name", "role"]

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["contractor", "id"], name="jobs_member_of_contractor"),
            models.CheckConstraint(
                condition=Q(role__in=[OFFICE, FIELD, VIEWER]), name="member_role_known"
            ),
        ]


class Digits(models.Func):
    """The digits of a text, as whoever dials them types them."""

    function = "regexp_replace"
    template = "%(function)s(%(expressions)s, '[^0-9]', '', 'g')"
    output_field = models.TextField()


def looked_for_in(field: str, *, name: str) -> GinIndex:
    """An index that finds any part of a text, in upper or lower case."""
    return GinIndex(OpClass(Upper(field), name="gin_trgm_ops"), name=name)


class Customer(VersionedModel):
    """Who the floor is for."""

    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    note = models.TextField(blank=True)
    client_id = models.UUIDField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="customer_once_per_client_id"
            ),
        ]
        indexes: ClassVar = [
            looked_for_in("name", name="customer_by_part_of_name"),
            looked_for_in("email", name="customer_by_part_of_email"),
            GinIndex(
                OpClass(Digits("phone"), name="gin_trgm_ops"), name="customer_by_part_of_phone"
            ),
        ]


class Job(VersionedModel):
    """The work for one customer at one site address, in one time zone."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=120)
    street = models.CharField(max_length=160)
    postcode = models.CharField(max_length=20, blank=True)
    city = models.CharField(max_length=80)
    country = models.CharField(max_length=2)
    time_zone = models.CharField(max_length=64)
    units = models.CharField(max_length=8, choices=UNITS)
    supply_volts = models.FloatField()
    code_profile = models.CharField(max_length=16)
    # Nobody knows a temperature that was not measured: it counts as this cold at most.
    assume_c = models.FloatField(default=5.0)
    release_on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    weight = models.PositiveSmallIntegerField(default=1)
    closed_at = models.DateTimeField(null=True)
    note = models.TextField(blank=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="customer", name="job_customer_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "number"], name="job_number_once_per_contractor"
            ),
            models.CheckConstraint(condition=Q(supply_volts__gt=0), name="job_supply_above_zero"),
            models.CheckConstraint(
                condition=Q(assume_c__gte=-40) & Q(assume_c__lte=70), name="job_assume_c_plausible"
            ),
            models.CheckConstraint(
                condition=Q(due_on__isnull=True)
                | Q(release_on__isnull=True)
                | Q(due_on__gte=F("release_on")),
                name="job_due_after_release",
            ),
        ]
        indexes: ClassVar = [
            looked_for_in("street", name="job_by_part_of_street"),
            looked_for_in("title", name="job_by_part_of_title"),
        ]


class Room(VersionedModel):
    """One heated room: outline in millimetres, x right, y up, counter-clockwise."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="rooms")
    name = models.CharField(max_length=80)
    outline = models.JSONField()
    joints = models.JSONField(default=list)
    # Overrides of the margins of common practice, by kind of edge; see jobs.area.
    margins_mm = models.JSONField(default=dict)
    # Where the control sits on a wall, and the two ends of the door's gap.
    control_mm = models.JSONField(null=True)
    door_mm = models.JSONField(null=True)
    # Stretches of wall that stand open to a heated neighbour: pairs of ends.
    doorways = models.JSONField(default=list, db_default=models.Value([], models.JSONField()))
    max_w_per_m2 = models.FloatField(default=160.0)
    covering = models.CharField(max_length=40, blank=True)
    # The survey's facts (substrate, heights, recess, box, who supplies what); see jobs.survey.
    survey = models.JSONField(default=dict)
    # What the energize decision must see proven in this room; see scheduling.energize.
    required = ArrayField(models.CharField(max_length=40), default=list)
    note = models.TextField(blank=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="job", name="room_job_same_contractor"),
            models.UniqueConstraint(fields=["job", "name"], name="room_name_once_per_job"),
            models.CheckConstraint(
                condition=Q(max_w_per_m2__gt=0), name="room_power_limit_above_zero"
            ),
        ]


class KeepOut(TenantModel):
    """A shape in a room where no heat may go."""

    KINDS: ClassVar = [
        (kind, kind) for kind in ("fixture", "toilet", "drain", "vent", "built_in", "door_swing")
    ]

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="keep_outs")
    kind = models.CharField(max_length=12, choices=KINDS)
    name = models.CharField(max_length=80, blank=True)
    outline = models.JSONField()
    margin_mm = models.FloatField(null=True)
    position = models.PositiveSmallIntegerField()

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="keepout_room_same_contractor"),
            models.UniqueConstraint(fields=["room", "position"], name="keepout_once_per_position"),
            models.CheckConstraint(
                condition=Q(margin_mm__isnull=True) | Q(margin_mm__gte=0),
                name="keepout_margin_not_negative",
            ),
        ]


class Material(VersionedModel):
    """An entry of the contractor's catalogue: one product, or a generic one marked as such.

    Exactly the specifications that its kind asks for are set (see `jobs.materials`):
    `element`, `sensor`, `control`, `curing` (what hardens), `package` (what is bought by area).
    """

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=24)
    # Where its figures come from. A generic entry rests on assumptions and says so everywhere.
    sheet = models.CharField(max_length=200, blank=True)
    generic = models.BooleanField(default=False)
    element = models.JSONField(null=True)
    sensor = models.JSONField(null=True)
    control = models.JSONField(null=True)
    curing = models.JSONField(null=True)
    package = models.JSONField(null=True)
    retired_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "name"],
                condition=Q(retired_at__isnull=True),
                name="material_name_once_per_contractor",
            ),
            models.CheckConstraint(
                condition=Q(generic=True) | ~Q(sheet=""), name="material_has_sheet_or_is_generic"
            ),
        ]


class InstalledModel(VersionedModel):
    """Something of the catalogue that is put into a room."""

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="%(class)ss")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=40)
    serial = models.CharField(max_length=60, blank=True)
    removed_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        abstract = True


class Element(InstalledModel):
    """One heating mat or cable, with its serial and what its tag says."""

    tag_ohms = models.FloatField()
    # Fractions of the tag: 0.1 and 0.05 mean +10 % and −5 %.
    tolerance_above = models.FloatField(default=0.1)
    tolerance_below = models.FloatField(default=0.05)
    tag_c = models.FloatField(default=20.0)
    alpha_per_k = models.FloatField(default=0.0)
    lead_ohms = models.FloatField(default=0.0)
    # A repair joint is a new thing on the element's record: [{chainage_mm, joined_at, note}].
    joints = models.JSONField(default=list)

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="element_room_same_contractor"),
            SameContractor(field="material", name="element_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="element_label_once_per_room",
            ),
            models.UniqueConstraint(
                fields=["contractor", "serial"],
                condition=~Q(serial=""),
                name="element_serial_once_per_contractor",
            ),
            models.CheckConstraint(condition=Q(tag_ohms__gt=0), name="element_tag_above_zero"),
            models.CheckConstraint(
                condition=Q(tolerance_above__gt=0)
                & Q(tolerance_below__gt=0)
                & Q(tolerance_below__lt=1),
                name="element_tolerance_plausible",
            ),
        ]
        indexes: ClassVar = [looked_for_in("serial", name="element_by_part_of_serial")]


class FloorSensor(InstalledModel):
    """The NTC probe in the floor; a second one may lie beside it as a spare."""

    spare = models.BooleanField(default=False)

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="floorsensor_room_same_contractor"),
            SameContractor(field="material", name="floorsensor_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="floorsensor_label_once_per_room",
            ),
        ]


class Control(InstalledModel):
    """The thermostat of a room."""

    class Meta(InstalledModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="control_room_same_contractor"),
            SameContractor(field="material", name="control_material_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "label"],
                condition=Q(removed_at__isnull=True),
                name="control_label_once_per_room",
            ),
        ]


class LayingPlanQuerySet(TenantQuerySet["LayingPlan"]):
    def counting(self, room: Room) -> "LayingPlan | None":
        """The drawing that counts for a room: the newest as laid, else the newest plan."""
        return self.filter(room=room).order_by("basis", "-drawn_at", "-pk").first()


class LayingPlan(TenantModel):
    """Where the elements lie or are to lie, in the plan format of `jobs.laying`.

    Never changed: another drawing is another row, and the newest of a basis counts.
    """

    written_by: ClassVar[frozenset[str]] = EITHER
    BASES: ClassVar = [("planned", "Planned"), ("as_laid", "As laid")]

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="laying_plans")
    basis = models.CharField(max_length=8, choices=BASES)
    plan = models.JSONField()
    tolerance_mm = models.FloatField()
    # The photograph with its points that places were read from, if they were.
    scale = models.ForeignKey("PhotoScale", on_delete=models.PROTECT, null=True, related_name="+")
    room_version = models.PositiveIntegerField()
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    objects = LayingPlanQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="layingplan_room_same_contractor"),
            SameContractor(field="drawn_by", name="layingplan_member_same_contractor"),
            SameContractor(field="scale", name="layingplan_scale_same_contractor"),
            models.CheckConstraint(
                condition=Q(tolerance_mm__gt=0), name="layingplan_tolerance_above_zero"
            ),
        ]


class RoomPhoto(TenantModel):
    """A photograph of a floor before it is covered, without place or camera in it.

    Never edited: the picture lies in its row, so that the trigger holds it too. The same picture
    sent twice is one row.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="photos")
    jpeg = models.BinaryField()
    digest = models.CharField(max_length=64)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    received_at = models.DateTimeField()
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="roomphoto_room_same_contractor"),
            SameContractor(field="taken_by", name="roomphoto_member_same_contractor"),
            models.UniqueConstraint(fields=["room", "digest"], name="roomphoto_once_per_room"),
        ]


class PhotoScale(TenantModel):
    """Points of a photograph whose place on the floor is known; the newest of a photo counts.

    Never edited. `points` are `{"pixel", "floor_mm"}`; `matrix` maps pixels to the floor.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    photo = models.ForeignKey(RoomPhoto, on_delete=models.CASCADE, related_name="scales")
    points = models.JSONField()
    matrix = models.JSONField()
    tolerance_mm = models.FloatField()
    because = models.CharField(max_length=200)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="photo", name="photoscale_photo_same_contractor"),
            SameContractor(field="set_by", name="photoscale_member_same_contractor"),
        ]


class LayingSearchQuerySet(TenantQuerySet["LayingSearch"]):
    def waiting(self, *, at: datetime) -> Self:
        """Searches that nobody works on, or whose worker is gone."""
        gone = at - LayingSearch.CLAIM_LASTS
        return self.filter(finished_at=None).filter(Q(claimed_at=None) | Q(claimed_at__lt=gone))

    def claim(self, search_id: UUID | str, *, at: datetime) -> bool:
        """Take a search to work on it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=search_id).update(claimed_at=at) == 1


class LayingSearch(TenantModel):
    """A search for ways to lay a room: asked for, worked on by a worker, then a few alternatives.

    `found` are `{"name", "plan", "measures"}`, the best first; `refused` says why there are none.
    """

    CLAIM_LASTS: ClassVar = timedelta(minutes=3)

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="laying_searches")
    room_version = models.PositiveIntegerField()
    # What to lay, frozen as it was asked: the room and the catalogue's elements as plain data.
    problem = models.JSONField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    stop_asked_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    found = models.JSONField(default=list)
    refused = models.TextField(blank=True)

    objects = LayingSearchQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="layingsearch_room_same_contractor"),
            SameContractor(field="asked_by", name="layingsearch_member_same_contractor"),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["asked_at"],
                condition=Q(finished_at__isnull=True),
                name="layingsearch_waiting",
            )
        ]


class JobImportQuerySet(TenantQuerySet["JobImport"]):
    def waiting(self, *, at: datetime) -> Self:
        """Lists that are to be taken in and that nobody works on, or whose worker is gone."""
        gone = at - JobImport.CLAIM_LASTS
        return self.filter(done_at=None, confirmed_at__isnull=False).filter(
            Q(claimed_at=None) | Q(claimed_at__lt=gone)
        )

    def claim(self, import_id: UUID, *, at: datetime) -> bool:
        """Take a list to work on it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=import_id).update(claimed_at=at) == 1


class JobImport(TenantModel):
    """A list of jobs as it was read: its good rows, its bad ones, and how far it is taken in."""

    CLAIM_LASTS: ClassVar = timedelta(seconds=60)

    travels = False  # what came of it are customers and jobs

    # Trees of `jobs.job_list.ListedJob`; of a bad row its line, text and reason.
    rows = models.JSONField()
    bad = models.JSONField()
    looked_at = models.DateTimeField()
    looked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True)
    confirmed_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    worked = models.PositiveIntegerField(default=0)
    opened = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True)

    objects = JobImportQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="looked_by", name="jobimport_looker_same_contractor"),
            SameContractor(field="confirmed_by", name="jobimport_confirmer_same_contractor"),
            models.CheckConstraint(
                condition=Q(confirmed_at__isnull=True, confirmed_by__isnull=True)
                | Q(confirmed_at__isnull=False, confirmed_by__isnull=False),
                name="jobimport_confirmed_at_and_by",
            ),
        ]


class LinkQuerySet(TenantQuerySet["Link"]):
    def open(self, *, purpose: str, digest: str, at: object) -> Self:
        """The link of that digest, if it has neither run out nor been revoked."""
        return self.filter(
            purpose=purpose, digest=digest, expires_at__gt=at, revoked_at__isnull=True
        )


class Link(TenantModel):
    """A private address that shows one job, or one thing of it, to somebody without an account."""

    travels = False  # it opens this installation only
    PURPOSES: ClassVar = [
        (purpose, purpose)
        for purpose in ("owner", "certificate", "verify", "notice", "label", "feed", "trade")
    ]

    job = models.ForeignKey(Job, on_delete=models.CASCADE, null=True, related_name="links")
    purpose = models.CharField(max_length=12, choices=PURPOSES)
    # The row that it opens, of the kind that the purpose names; the job itself if empty.
    subject_id = models.UUIDField(null=True)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)

    objects = LinkQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="link_job_same_contractor"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="link_expires_after_made"
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contractor", "purpose", "subject_id"], name="link_by_subject")
        ]


class ExportQuerySet(TenantQuerySet["Export"]):
    def open(self) -> Self:
        return self.filter(made_at=None, failed_at=None)

    def waiting(self, *, at: datetime) -> Self:
        """Exports that nobody works on, or whose worker is gone."""
        gone = at - Export.CLAIM_LASTS
        return self.open().filter(Q(claimed_at=None) | Q(claimed_at__lt=gone))

    def claim(self, export_id: UUID, *, at: datetime) -> bool:
        """Take an export to make it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=export_id).update(claimed_at=at) == 1

    def expired(self, *, at: datetime) -> Self:
        """Exports whose file has lain here for long enough."""
        return self.filter(expires_at__lte=at).exclude(file="")


class Export(TenantModel):
    """Everything of the contractor in one file: asked for, made by a worker, kept for a week."""

    travels = False  # its file lies here
    CLAIM_LASTS: ClassVar = timedelta(minutes=2)  # a worker that works on renews it
    KEPT_FOR: ClassVar = timedelta(days=7)

    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    # {"step", "of", "rows", "files"} while it is made.
    progress = models.JSONField(default=dict)
    made_at = models.DateTimeField(null=True)
    failed_at = models.DateTimeField(null=True)
    failure = models.CharField(max_length=200, blank=True)
    expires_at = models.DateTimeField(null=True)
    # Empty again once it has expired.
    file = models.FileField(upload_to="exports", blank=True)
    size_bytes = models.BigIntegerField(null=True)
    digest = models.CharField(max_length=64, blank=True)
    # Files that rows name and that were not found: whoever leaves has to know.
    missing_files = models.JSONField(default=list)

    objects = ExportQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="asked_by", name="export_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor"],
                condition=Q(made_at__isnull=True, failed_at__isnull=True),
                name="export_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True) | Q(expires_at__isnull=False),
                name="export_expires_once_made",
            ),
        ]

    @property
    def state(self) -> str:
        """How far it is: waiting, making, made, expired, failed."""
        if self.made_at:
            return "made" if self.file else "expired"
        if self.failed_at:
            return "failed"
        return "making" if self.claimed_at else "waiting"


class Erasure(TenantModel):
    """That, when and by whom a customer's personal data was erased; never edited."""

    customer = models.OneToOneField(Customer, on_delete=models.PROTECT, related_name="erasure")
    erased_at = models.DateTimeField()
    erased_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="customer", name="erasure_customer_same_contractor"),
            SameContractor(field="erased_by", name="erasure_member_same_contractor"),
        ]


class Webhook(VersionedModel):
    """An address that another system gave, and the events that are sent to it.

    Its secret is not kept: it follows from the installation's key, the id and `generation`.
    """

    travels = False  # it is signed with the key of this installation

    url = models.CharField(max_length=500)
    events = ArrayField(models.CharField(max_length=30))
    generation = models.PositiveSmallIntegerField(default=1)
    rotated_at = models.DateTimeField(null=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    # Since when nothing came through, and until when it is left in peace.
    failing_since = models.DateTimeField(null=True)
    failures = models.PositiveSmallIntegerField(default=0)
    quiet_until = models.DateTimeField(null=True)
    # Given up after a long failure; the office is told once.
    disabled_at = models.DateTimeField(null=True)
    told_at = models.DateTimeField(null=True)
    removed_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="made_by", name="webhook_maker_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "url"],
                condition=Q(removed_at__isnull=True),
                name="webhook_once_per_url",
            ),
        ]


class DeliveryQuerySet(TenantQuerySet["Delivery"]):
    def due(self, at: datetime) -> Self:
        """Deliveries that wait for a sender, and of which the receiver is not left in peace."""
        return self.filter(
            Q(claimed_at__isnull=True) | Q(claimed_at__lt=at - Delivery.CLAIM_LASTS),
            Q(webhook__quiet_until__isnull=True) | Q(webhook__quiet_until__lte=at),
            settled_at__isnull=True,
            send_after__lte=at,
            webhook__disabled_at__isnull=True,
            webhook__removed_at__isnull=True,
        )

    def claim(self, delivery_id: UUID, *, at: datetime) -> bool:
        """Take a delivery for sending; False means that another worker was first."""
        due = self.due(at).filter(pk=delivery_id).values("pk")
        return self.filter(pk__in=due).update(claimed_at=at) == 1


class Delivery(TenantModel):
    """One event on its way to one webhook; its id stays the same however often it is sent."""

    travels = False  # sent from this installation

    CLAIM_LASTS: ClassVar = timedelta(seconds=60)
    OUTCOMES: ClassVar = [(name, name) for name in ("delivered", "given-up")]

    webhook = models.ForeignKey(Webhook, on_delete=models.PROTECT, related_name="deliveries")
    event = models.CharField(max_length=30)
    # What is sent, to the byte: the signature is over it.
    body = models.TextField()
    made_at = models.DateTimeField()
    send_after = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    settled_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=10, choices=OUTCOMES, blank=True)

    objects = DeliveryQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="webhook", name="delivery_webhook_same_contractor"),
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True, outcome="")
                | (Q(settled_at__isnull=False) & ~Q(outcome="")),
                name="delivery_settled_with_outcome",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["send_after"], condition=Q(settled_at__isnull=True), name="delivery_open"
            ),
            models.Index(fields=["webhook", "-id"], name="delivery_by_webhook"),
        ]


class DeliveryAttempt(TenantModel):
    """One try to deliver: what the receiver answered, or why there was no answer."""

    travels = False  # sent from this installation

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="tries")
    at = models.DateTimeField()
    took_ms = models.PositiveIntegerField()
    status = models.PositiveSmallIntegerField(null=True)
    error = models.CharField(max_length=200, blank=True)
    # The beginning of what it answered.
    answer = models.CharField(max_length=500, blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="delivery", name="deliveryattempt_delivery_same_contractor"),
        ]
