"""Forms for the figures of a room: its survey, its supply, its losses."""

import re
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from config.errors import DomainError
from config.forms import NumberField, PlainChoice
from config.sentence import Sentence
from jobs.forms.lengths import LengthField, MeasuredForm
from jobs.heatloss import U_W_PER_M2K
from jobs.room_form import PLAIN_UNIT, UnreadableRow
from jobs.survey import SUBSTRATES, SUPPLIED, SUPPLIERS
from jobs.units import System, length_mm, square_feet, square_metres

YES_NO = [("", _("Not known")), ("yes", _("Yes")), ("no", _("No"))]
SUBSTRATE_WORDS = {
    "concrete": _("Concrete"),
    "screed": _("Screed"),
    "timber": _("Timber"),
    "old tile": _("Old tile"),
    "board": _("Board"),
}
SUPPLIER_WORDS = {
    "contractor": _("The contractor"),
    "electrician": _("The electrician"),
    "customer": _("The customer"),
}
SUPPLIED_WORDS = {
    "element": _("Who supplies the element?"),
    "control": _("Who supplies the control?"),
    "mortar": _("Who supplies the mortar?"),
    "covering": _("Who supplies the covering?"),
    "electrical work": _("Who supplies the electrical work?"),
}
ZONE_WORDS = {
    "occupied": _("Where people stay"),
    "edge": _("Along outside walls"),
    "bathroom": _("Bathroom"),
}


def _answer(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=YES_NO, required=False, widget=PlainChoice)


def _length(label: Any) -> LengthField:
    return LengthField(label=label, required=False)


def _amount(label: Any, **bounds: float) -> NumberField:
    return NumberField(label=label, required=False, **bounds)  # type: ignore[arg-type]


class SurveyForm(MeasuredForm):
    """The facts of a survey; what is not known stays empty."""

    substrate = forms.ChoiceField(
        label=_("Substrate"),
        required=False,
        widget=PlainChoice,
        choices=[("", _("Not known")), *((name, SUBSTRATE_WORDS[name]) for name in SUBSTRATES)],
    )
    substrate_sound = _answer(_("Sound"))
    substrate_dry = _answer(_("Dry enough"))
    unevenness_mm_per_2m = _length(_("Unevenness under a 2 m straightedge"))
    covering = forms.CharField(label=_("Covering"), max_length=40, required=False)
    layers = forms.CharField(
        label=_("Layers from the substrate up"),
        required=False,
        widget=forms.Textarea,
        help_text=_("One a line: what, then how thick. For example: mortar 8"),
    )
    door_gap_mm = _length(_("Free under the door now"))
    door_can_be_cut = _answer(_("The door can be cut"))
    neighbour_mm = _length(_("Neighbouring floor above this substrate"))
    splice_mm = _length(_("Thickness of the splice"))
    recess_possible = _answer(_("The substrate may be cut"))
    supply_volts = _amount(_("Supply, volts"), low=1, high=1000)
    supply_free_a = _amount(_("Free on the circuit, amperes"), low=0, high=1000)
    control_open = _answer(_("Open to the room’s air"))
    control_behind_door = _answer(_("Behind a door"))
    control_in_cabinet = _answer(_("In a cabinet"))
    control_height_mm = _length(_("Height of the control"))
    box_cm3 = _amount(_("Volume of the box, cm³"), low=0, high=100_000)
    conduits = _amount(_("Conduits"), low=0, high=20)
    lead_mm = _length(_("Length of the lead"))
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    LENGTHS: ClassVar = (
        "unevenness_mm_per_2m", "door_gap_mm", "neighbour_mm", "splice_mm", "control_height_mm",
        "lead_mm",
    )  # fmt: skip
    # The question of the survey -> the fields that answer it.
    ANSWERS: ClassVar[dict[str, tuple[str, ...]]] = {
        "substrate": ("substrate",),
        "substrate-sound": ("substrate_sound",),
        "substrate-dry": ("substrate_dry",),
        "flatness": ("unevenness_mm_per_2m",),
        "covering": ("covering",),
        "build-up": ("layers",),
        "door": ("door_gap_mm", "door_can_be_cut"),
        "step": ("neighbour_mm",),
        "splice": ("splice_mm", "recess_possible"),
        "supply": ("supply_volts", "supply_free_a"),
        "control-open": ("control_open",),
        "control-door": ("control_behind_door",),
        "control-cabinet": ("control_in_cabinet",),
        "control-height": ("control_height_mm",),
        "box": ("box_cm3",),
        "conduits": ("conduits",),
        "lead": ("lead_mm",),
        **{f"supplied-{thing.replace(' ', '-')}": (f"supplied_{thing}",) for thing in SUPPLIED},
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for thing in SUPPLIED:
            self.fields[f"supplied_{thing}"] = forms.ChoiceField(
                label=SUPPLIED_WORDS[thing],
                required=False,
                widget=PlainChoice,
                choices=[
                    ("", _("Not known")),
                    *((who, SUPPLIER_WORDS[who]) for who in SUPPLIERS),
                ],
            )

    def facts(self) -> dict[str, Any]:
        """The facts as they are stored: what is not known is left out. Raises UnreadableRow."""
        given = self.cleaned_data
        facts: dict[str, Any] = {}
        for name, value in given.items():
            if name.startswith("supplied_") or name in ("version", "layers") or value in ("", None):
                continue
            facts[name] = {"yes": True, "no": False}.get(value, value)
        if (conduits := facts.get("conduits")) is not None:
            facts["conduits"] = int(conduits)
        if layers := _layers(given.get("layers", ""), self.system):
            facts["layers"] = layers
        supplied = {thing: given[f"supplied_{thing}"] for thing in SUPPLIED}
        if supplied := {thing: who for thing, who in supplied.items() if who}:
            facts["supplied_by"] = supplied
        return facts


def _layers(text: str, system: System) -> list[dict[str, Any]]:
    found = []
    for at, line in enumerate(filter(None, map(str.strip, text.splitlines()))):
        match = re.fullmatch(r"([^\d½¼¾⅛⅜⅝⅞]{2,24}?)[\s,:]+([\d½¼¾⅛⅜⅝⅞].*)", line)
        try:
            if match is None:
                raise UnreadableRow(line)
            mm = length_mm(match[2], unit=PLAIN_UNIT[system])
        except DomainError as refused:
            raise UnreadableRow(
                Sentence("Line {at} is no layer: “{line}”. Write it as mortar 8.",
                         at=at + 1, line=line),
                pointer="#/layers",
            ) from refused  # fmt: skip
        found.append({"use": match[1].strip().lower(), "mm": mm})
    return found


class SupplyForm(MeasuredForm):
    """What is known of the supply; what is not is told as not checked."""

    one_way_m = _amount(_("Run from panel to control, one way, m"), low=0, high=1000)
    breaker_a = _amount(_("Breaker in place, A"), low=1, high=1000)
    conductor = forms.ChoiceField(label=_("Conductor in place"), required=False)
    other_a = _amount(_("Other load on this circuit, A"), low=0, high=1000)
    leakage_ma = _amount(_("Leakage protection trips at, mA"), low=0.1, high=10_000)

    def __init__(self, *args: Any, conductors: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["conductor"].choices = [  # type: ignore[attr-defined]
            ("", _("Not known")),
            *((one, one) for one in conductors),
        ]

    def known(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if value not in ("", None)}


class AreaField(NumberField):
    """An area in the units of the job; comes as square metres."""

    system: System = "metric"

    def to_python(self, value: Any) -> float | None:
        area = super().to_python(value)
        return square_metres(area) if area is not None and self.system == "imperial" else area


class AreaForm(MeasuredForm):
    """Areas are typed as the job has them; temperatures and resistances are SI everywhere."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = "ft²" if self.system == "imperial" else "m²"
        for field in self.fields.values():
            if isinstance(field, AreaField):
                field.system = self.system
                field.label = f"{field.label}, {unit}"

    @staticmethod
    def typed_area(m2: float, system: System) -> str:
        return f"{square_feet(m2) if system == 'imperial' else m2:.2f}"


class HeatForm(AreaForm):
    """The climate, and what the floor is made of."""

    room_c = NumberField(label=_("Room, °C"), low=-10, high=40, initial="21")
    outdoor_c = NumberField(label=_("Outside on the coldest day, °C"), low=-60, high=50)
    height = LengthField(label=_("Height of the room"))
    floor = AreaField(label=_("Floor of the room"), low=0.01, high=100_000)
    air_changes_per_hour = NumberField(
        label=_("Air changes an hour"), low=0, high=50, initial="0.5"
    )
    zone = forms.ChoiceField(
        label=_("What the floor is used for"),
        choices=list(ZONE_WORDS.items()),
        initial="occupied",
        widget=PlainChoice,
    )
    heated = AreaField(label=_("Floor that is warm"), low=0.01, high=100_000)
    watts = NumberField(
        label=_("Power, W; of the elements here if left empty"),
        required=False, low=0, high=1_000_000,
    )  # fmt: skip
    covering_m2k_per_w = NumberField(
        label=_("Resistance of the covering, m²K/W"), low=0, high=5, initial="0.01"
    )
    insulation_m2k_per_w = NumberField(
        label=_("Resistance of all below the element, m²K/W"), low=0.001, high=50
    )
    below_c = NumberField(label=_("Below the floor, °C"), low=-60, high=60)

    def given(self) -> dict[str, Any]:
        """The figures as the rule takes them."""
        data = dict(self.cleaned_data)
        data["heated_m2"] = data.pop("heated")
        data["volume_m3"] = data.pop("floor") * data.pop("height") / 1000
        return data


class SurfaceForm(AreaForm):
    """One surface that loses heat."""

    construction = forms.ChoiceField(label=_("Surface"), required=False)
    area = AreaField(label=_("Area"), required=False, low=0, high=100_000)
    u_w_per_m2k = NumberField(
        label=_("U-value, W/m²K, if it is known"), required=False, low=0, high=20
    )
    other_c = NumberField(label=_("Behind it, °C, if not outdoors"), required=False,
                          low=-60, high=60)  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["construction"].choices = [  # type: ignore[attr-defined]
            ("", "–"),
            *((name, _(name)) for name in U_W_PER_M2K),
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("construction") and given.get("area") is None and "area" not in self.errors:
            self.add_error("area", _("A surface needs its area."))
        return given

    def surface(self) -> dict[str, Any] | None:
        """The surface as the rule takes it; None for a row that is empty."""
        given = self.cleaned_data
        if not given.get("construction"):
            return None
        return {
            "construction": given["construction"],
            "area_m2": given["area"],
            "u_w_per_m2k": given["u_w_per_m2k"],
            "other_c": given["other_c"],
        }


Surfaces = forms.formset_factory(SurfaceForm, extra=4, max_num=30, absolute_max=40)
