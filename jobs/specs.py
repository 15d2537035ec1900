"""The shape of what a data sheet says of a material, as the API takes it and pages ask for it."""

from typing import Any

from rest_framework import serializers

from config.fields import Input, Number, Text


class Hours(Number):
    """Hours that a sheet may or may not print."""

    def __init__(self) -> None:
        super().__init__(min_value=0, max_value=20_000, required=False, allow_null=True)


class Celsius(Number):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=-40, max_value=70, **kwargs)


class ElementSpec(Input):
    """One heating mat or cable as it is sold; it cannot be shortened."""

    kind = serializers.ChoiceField(choices=[("mat", "mat"), ("cable", "cable")])
    wire_mm = Number(min_value=100, max_value=1_000_000)
    spacing_mm = Number(min_value=10, max_value=1000)
    spacing_least_mm = Number(min_value=10, max_value=1000)
    spacing_most_mm = Number(min_value=10, max_value=1000)
    watts = Number(min_value=1, max_value=100_000)
    volts = Number(min_value=1, max_value=1000)
    min_bend_mm = Number(min_value=0, max_value=1000)
    ends = serializers.ChoiceField(choices=[("one", "one"), ("both", "both")])
    width_mm = Number(min_value=50, max_value=5000, required=False, allow_null=True)
    length_mm = Number(min_value=50, max_value=1_000_000, required=False, allow_null=True)
    cold_lead_mm = Number(min_value=0, max_value=1_000_000, required=False)
    alpha_per_k = Number(min_value=-0.01, max_value=0.01, required=False)


class SensorSpec(Input):
    """An NTC by its table `[[°C, ohms], ...]`: two points are read by beta, three by
    Steinhart-Hart, more by interpolation."""

    points = serializers.ListField(
        child=serializers.ListField(child=Number(), min_length=2, max_length=2),
        min_length=2,
        max_length=400,
    )


class ControlSpec(Input):
    volts = Number(min_value=1, max_value=1000)
    max_amps = Number(min_value=0.1, max_value=1000)
    leakage_trip_ma = Number(min_value=1, max_value=1000, required=False, allow_null=True)


class LawSpec(Input):
    kind = serializers.ChoiceField(
        choices=[("arrhenius", "arrhenius"), ("ec2", "ec2"), ("nurse-saul", "nurse-saul")]
    )
    activation_k = Number(min_value=1, max_value=20_000, required=False)
    reference_c = Celsius(required=False)
    datum_c = Celsius(required=False)


class MoistureSpec(Input):
    method = Text(max_length=40)
    limit = Number(min_value=0, max_value=100)
    unit = Text(max_length=20)


class ThicknessSpec(Input):
    """What every millimetre over a thickness adds to the hours before heat."""

    over_mm = Number(min_value=0, max_value=1000)
    hours_per_mm = Number(min_value=0, max_value=1000)


class DryingSpec(Input):
    """Hours of drying for each millimetre, up to a thickness and above, in the sheet's climate."""

    hours_per_mm = Number(min_value=0, max_value=1000)
    over_mm = Number(min_value=0, max_value=1000)
    hours_per_mm_over = Number(min_value=0, max_value=1000)
    reference_c = Celsius()
    reference_rh_percent = Number(min_value=0, max_value=99)


class CuringSpec(Input):
    """What the sheet prints about hardening: °C, hours, millimetres."""

    law = LawSpec()
    lowest_c = Celsius()
    highest_c = Celsius(required=False, allow_null=True)
    reference_rh_percent = Number(min_value=0, max_value=100, required=False, allow_null=True)
    walk_after_hours = Hours()
    next_layer_after_hours = Hours()
    grout_after_hours = Hours()
    heat_after_hours = Number(min_value=0, max_value=20_000)
    full_after_hours = Hours()
    frost_watch_hours = Number(min_value=0, max_value=1000, required=False)
    least_mm = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    most_mm = Number(min_value=0, max_value=1000, required=False, allow_null=True)
    thickness = ThicknessSpec(required=False, allow_null=True)
    moisture = MoistureSpec(required=False, allow_null=True)
    drying = DryingSpec(required=False, allow_null=True)
    service_most_c = Celsius(
        required=False, allow_null=True, help_text="The warmest that it may be heated for good."
    )


class PackageSpec(Input):
    """How it is bought: `covers` of `unit` in one package at `thickness_mm`, if any."""

    name = Text(max_length=40)
    covers = Number(min_value=0.001, max_value=1_000_000)
    unit = serializers.ChoiceField(choices=[("m2", "m2"), ("m", "m"), ("piece", "piece")])
    thickness_mm = Number(min_value=0.1, max_value=1000, required=False, allow_null=True)
    waste_fraction = Number(min_value=0, max_value=1, required=False)


# Specification -> its shape; which kind needs which says `jobs.materials.KINDS`.
SPECS: dict[str, type[Input]] = {
    "element": ElementSpec,
    "sensor": SensorSpec,
    "control": ControlSpec,
    "curing": CuringSpec,
    "package": PackageSpec,
}
