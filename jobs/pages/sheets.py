"""Entries of the catalogue typed in from their data sheets, or taken as generic ones."""

from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework import serializers

from config.errors import DomainError
from config.fields import Input, Number
from config.forms import ConfirmForm, NumberField, PageForm, PlainChoice, PlainChoices
from config.pages import page
from config.tenancy import editable, may_write
from config.wording import in_language
from jobs.actions import materials
from jobs.catalogue import GENERIC
from jobs.materials import KINDS
from jobs.models import Material
from jobs.pages.filling import filled, offer, sent
from jobs.requests import PageRequest
from jobs.specification import NAMES, unit
from jobs.specs import SPECS, PackageSpec

PART = "-"


class PointsField(forms.CharField):
    """Rows of two numbers, °C and ohms."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.Textarea(attrs={"rows": 4, "class": "low"}),
            help_text=gettext_lazy("One a line: °C, then ohms. For example: 25 10000"),
            **kwargs,
        )

    def clean(self, value: Any) -> list[list[float]]:
        try:
            rows = [line.replace(",", ".").split() for line in super().clean(value).splitlines()]
            return [[float(celsius), float(ohms)] for celsius, ohms in filter(None, rows)]
        except ValueError as error:
            raise forms.ValidationError(_("Each line has two numbers: °C, then ohms.")) from error


class SheetForm(PageForm):
    """Name and sheet of an entry, and a field for each figure that its kind has."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    sheet = forms.CharField(
        label=gettext_lazy("Data sheet that prints these figures"),
        max_length=200,
        help_text=gettext_lazy("Its title and edition, so that anybody can look it up."),
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.needed = KINDS[kind]
        self.specs: dict[str, type[Input]] = {
            self.needed: SPECS[self.needed],
            "package": PackageSpec,
        }
        self.figures: dict[str, Any] = {}
        for spec, shape in self.specs.items():
            for name, field in _fields(shape(), spec, needed=spec == self.needed):
                self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        """Put the specifications together as the catalogue keeps them, in `figures`."""
        given = super().clean() or {}
        if self.errors:
            return given
        for spec, shape in self.specs.items():
            tree = _tree(given, shape(), spec)
            if not tree and spec != self.needed:
                self.figures[spec] = None
                continue
            checked = shape(data=tree)
            if checked.is_valid():
                self.figures[spec] = checked.validated_data
            else:
                self._tell(checked.errors, spec)
        return given

    def refuse(self, refused: DomainError) -> None:
        at = refused.pointer.removeprefix("#/").replace("/", PART)
        if at in self.fields:
            self.add_error(at, in_language(refused.detail))
        else:
            super().refuse(refused)

    def _tell(self, errors: Mapping[str, Any], path: str) -> None:
        for name, wrong in errors.items():
            if isinstance(wrong, Mapping):
                self._tell(wrong, f"{path}{PART}{name}")
                continue
            field = f"{path}{PART}{name}"
            self.add_error(field if field in self.fields else None, [str(each) for each in wrong])


def _fields(shape: Input, path: str, *, needed: bool) -> Iterator[tuple[str, forms.Field]]:
    for name, field in shape.fields.items():
        at = f"{path}{PART}{name}"
        required = needed and field.required
        label = _label("law" if at.endswith(f"law{PART}kind") else name)
        if isinstance(field, Input):
            yield from _fields(field, at, needed=required)
        elif isinstance(field, Number):
            yield (
                at,
                NumberField(
                    label=label,
                    required=required,
                    low=field.min_value if field.min_value is not None else float("-inf"),
                    high=field.max_value if field.max_value is not None else float("inf"),
                ),
            )
        elif isinstance(field, serializers.ChoiceField):
            words = [(key, _(NAMES.get(f"{name}:{key}", key))) for key in field.choices]
            choices = words if required else [("", "–"), *words]
            yield (
                at,
                forms.ChoiceField(
                    label=label, required=required, choices=choices, widget=PlainChoice
                ),
            )
        elif isinstance(field, serializers.ListField):
            yield at, PointsField(label=label, required=required)
        elif isinstance(field, serializers.CharField):
            yield at, forms.CharField(label=label, required=required, max_length=field.max_length)


def _label(name: str) -> str:
    label = _(NAMES.get(name, name))
    return f"{label}, {unit(name)}" if unit(name) else label


def _tree(given: Mapping[str, Any], shape: Input, path: str) -> dict[str, Any]:
    """What was typed as the API would take it; what was left empty is left out."""
    found: dict[str, Any] = {}
    for name, field in shape.fields.items():
        at = f"{path}{PART}{name}"
        value = _tree(given, field, at) if isinstance(field, Input) else given.get(at)
        if value not in (None, "", {}, []):
            found[name] = value
    return found


def _typed(tree: Mapping[str, Any] | None, path: str) -> dict[str, Any]:
    """A specification as its form shows it."""
    found: dict[str, Any] = {}
    for name, value in (tree or {}).items():
        at = f"{path}{PART}{name}"
        if isinstance(value, Mapping):
            found |= _typed(value, at)
        elif isinstance(value, list):
            found[at] = "\n".join(f"{celsius:g} {ohms:g}" for celsius, ohms in value)
        elif isinstance(value, float):
            found[at] = f"{value:g}" if f"{value:g}".find("e") < 0 else repr(value)
        else:
            found[at] = value
    return found


@page("GET", "POST")
def material_add(request: PageRequest, kind: str) -> HttpResponse:
    if kind not in KINDS:
        raise Http404
    may_write(Material, request.user)
    form = SheetForm(sent(request), kind=kind)

    def do(given: dict[str, Any]) -> HttpResponse:
        fields = {"name": given["name"], "sheet": given["sheet"], "kind": kind, **form.figures}
        row = materials.add_material(by=request.user, fields=fields)
        return redirect("material", material_id=row.pk)

    title = _("From a data sheet: %(kind)s") % {"kind": _(kind)}
    return filled(request, form, do, title=title, act=_("Take it in"), here="catalogue")


@page("GET", "POST")
def material_edit(request: PageRequest, material_id: UUID) -> HttpResponse:
    row = editable(Material.objects.all(), request.user, pk=material_id)
    kept = {"name": row.name, "sheet": row.sheet, "version": row.version}
    for spec in SPECS:
        kept |= _typed(getattr(row, spec), spec)
    form = SheetForm(sent(request), kind=row.kind, initial=kept)

    def do(given: dict[str, Any]) -> HttpResponse:
        # With a sheet at hand its figures are assumptions no longer.
        fields = {"name": given["name"], "sheet": given["sheet"], "generic": False, **form.figures}
        materials.change_material(material=row, version=given["version"] or 0, fields=fields)
        return redirect("material", material_id=row.pk)

    lead = _("What was built with it keeps the figures of its day.")
    return filled(
        request, form, do, title=row.name, act=_("Keep these"), lead=lead, here="catalogue"
    )


@page("GET", "POST")
def material_retire(request: PageRequest, material_id: UUID) -> HttpResponse:
    row = editable(Material.objects.all(), request.user, pk=material_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        retired = {"retired_at": request.now}
        materials.change_material(material=row, version=row.version, fields=retired)
        return redirect("catalogue")

    lead = _("Nobody can choose it any more. What was built with it keeps its figures.")
    title = _("Retire %(name)s") % {"name": row.name}
    form = ConfirmForm(sent(request))
    return filled(request, form, do, title=title, act=_("Retire it"), lead=lead, here="catalogue")


class GenericForm(PageForm):
    keys = forms.MultipleChoiceField(
        label=gettext_lazy("Which ones?"), choices=[], widget=PlainChoices
    )


@page("GET", "POST")
def generic_add(request: PageRequest) -> HttpResponse:
    may_write(Material, request.user)
    form = GenericForm(sent(request))
    offer(form, keys={key: _(entry.name) for key, entry in GENERIC.items()})

    def do(given: dict[str, Any]) -> HttpResponse:
        materials.add_generic_materials(by=request.user, keys=given["keys"])
        return redirect("catalogue")

    lead = _(
        "Their figures are common practice, on the cautious side. Every page and paper that rests "
        "on one calls it an assumption, until you type in the sheet of the product at hand."
    )
    title = _("Take in generic materials")
    return filled(request, form, do, title=title, act=_("Take in"), lead=lead, here="catalogue")
