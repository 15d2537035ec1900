import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.heatloss import (
    Surface,
    UnusableHeat,
    answer,
    floor_limit_c,
    floor_output,
    room_loss,
    surface_excess_k,
    surface_output_w_per_m2,
)

BATH = {"room_c": 24.0, "outdoor_c": -10.0}
SURFACES = [
    Surface(construction="cavity wall, filled", area_m2=6),
    Surface(construction="double glazing, old", area_m2=1.2),
    Surface(construction="floor over unheated room", area_m2=7.2, other_c=8),
]


def loss_of(surfaces=SURFACES, **changed):
    return room_loss(
        surfaces, **{"volume_m3": 17.3, "air_changes_per_hour": 1.0, **BATH, **changed}
    )


def output_of(**changed):
    return floor_output(**{
        "watts": 620, "heated_m2": 4.0, "room_c": 24, "floor_limit": 33,
        "covering_m2k_per_w": 0.02, "insulation_m2k_per_w": 0.5, "below_c": 12, **changed,
    })  # fmt: skip


def test_a_loss_is_the_sum_of_its_parts():
    """6 x 0.5 x 34 + 1.2 x 2.8 x 34 + 7.2 x 1.0 x 16 + 0.34 x 17.3 x 34, by hand."""
    loss = loss_of()
    assert dict(loss.parts) == pytest.approx({
        "cavity wall, filled": 102.0,
        "double glazing, old": 114.24,
        "floor over unheated room": 115.2,
        "air change": 199.988,
    })  # fmt: skip
    assert loss.watts == pytest.approx(531.428)
    assert [watts for _, watts in loss.parts] == sorted((w for _, w in loss.parts), reverse=True)


def test_a_stated_u_value_rules():
    stated = Surface(construction="straw bales", area_m2=10, u_w_per_m2k=0.12)
    assert dict(loss_of([stated]).parts)["straw bales"] == pytest.approx(10 * 0.12 * 34)
    with pytest.raises(UnusableHeat, match="No U-value is known for “straw bales”") as refused:
        loss_of([Surface(construction="straw bales", area_m2=10)])
    assert refused.value.pointer == "#/surfaces/0/u_w_per_m2k"


@given(st.floats(-30, 20), st.floats(0, 20))
def test_colder_outside_never_loses_less(outdoor, colder):
    warm = loss_of(outdoor_c=outdoor).watts
    assert loss_of(outdoor_c=outdoor - colder).watts >= warm


@given(st.floats(0, 60))
def test_excess_and_output_are_each_others_way_back(excess):
    assert surface_excess_k(surface_output_w_per_m2(excess)) == pytest.approx(excess, abs=1e-9)


def test_what_goes_up_and_down_is_what_is_supplied():
    found = output_of(floor_limit=45)
    assert found.limited_by == "element"
    assert found.watts + found.downward_watts == pytest.approx(620, abs=0.01)
    assert found.surface_c == pytest.approx(24 + surface_excess_k(found.w_per_m2))
    assert found.under_c == pytest.approx(found.surface_c + found.w_per_m2 * 0.02)


def test_the_floor_limit_holds_the_output():
    found = output_of()
    assert found.limited_by == "floor limit"
    assert found.surface_c == pytest.approx(33, abs=1e-6)
    assert found.w_per_m2 == pytest.approx(100.01, abs=0.01)  # EN 1264-2 at 9 K


def test_the_covering_may_hold_it_sooner():
    found = output_of(under_limit_c=28)
    assert found.limited_by == "covering limit"
    assert found.under_c == pytest.approx(28, abs=1e-6)
    assert found.surface_c < 28


@given(st.floats(0, 0.2), st.floats(0.001, 0.2))
def test_a_thicker_covering_never_gives_more(covering, more):
    thin = output_of(covering_m2k_per_w=covering, floor_limit=60)
    thick = output_of(covering_m2k_per_w=covering + more, floor_limit=60)
    assert thick.watts <= thin.watts + 1e-6


@given(st.floats(50, 900), st.floats(0.05, 3), st.floats(0.01, 3))
def test_more_insulation_never_gives_less(watts, insulation, more):
    bare = output_of(watts=watts, insulation_m2k_per_w=insulation)
    insulated = output_of(watts=watts, insulation_m2k_per_w=insulation + more)
    assert insulated.watts >= bare.watts - 1e-6


@pytest.mark.parametrize(
    ("zone", "covering", "limit"),
    [("occupied", "tile", 29), ("edge", "tile", 33), ("bathroom", "tile", 33),
     ("occupied", "wood", 27), ("bathroom", "unheard of", 27)],
)  # fmt: skip
def test_the_lowest_limit_counts(zone, covering, limit):
    assert floor_limit_c(zone, room_c=24, covering=covering) == limit


def test_the_office_can_say_comfort_or_main():
    small = answer(loss_of(), output_of(), **BATH)
    assert small.role == "comfort only"
    assert small.says == (
        "This floor is for comfort; the room needs other heat besides. "
        "It gives 400 W; the room loses 531 W at -10 °C outside and 24 °C inside."
    )
    assert "Output is 75% of the loss; 110% is asked of a main heating" in small.because
    assert any("written for water-based systems" in line for line in small.because)
    mild = answer(loss_of(outdoor_c=12), output_of(), room_c=24, outdoor_c=12)
    assert mild.role == "main heating"
    assert mild.not_checked


@pytest.mark.parametrize(
    "ask",
    [
        lambda: output_of(heated_m2=0),
        lambda: output_of(insulation_m2k_per_w=0),
        lambda: output_of(watts=-1),
        lambda: output_of(covering_m2k_per_w=-0.1),
        lambda: output_of(floor_limit=24),
        lambda: output_of(room_c=float("nan")),
        lambda: loss_of(volume_m3=-1),
        lambda: loss_of(air_changes_per_hour=float("inf")),
        lambda: loss_of([Surface(construction="single glazing", area_m2=-1)]),
        lambda: floor_limit_c("attic", room_c=20),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(UnusableHeat):
        ask()
