"""The effective piston area of a jack: by type, stated and measured kept apart."""

from math import pi

import pytest

from fleet.core.typed import Typed
from fleet.gauges.areas import JackArea, effective_area_of, measured_area
from fleet.gauges.models import AreaCounts, Jack, JackKind


def mm(text: str) -> Typed:
    return Typed.read(text, "mm")


def jack(**given: object) -> Jack:
    return Jack(**{"kind": JackKind.PLAIN, "area_counts": AreaCounts.STATED, **given})


# Expected areas worked here from the diameters by the formulas for a circle and a ring (elementary geometry).
@pytest.mark.parametrize(
    ("kind", "given", "expected_mm2"),
    [
        (JackKind.PLAIN, {"bore": mm("95.25")}, pi / 4 * 95.25**2),
        (JackKind.PULL, {"bore": mm("100"), "rod_or_hole": mm("60")}, pi / 4 * (100**2 - 60**2)),
        (JackKind.HOLLOW, {"bore": mm("120"), "rod_or_hole": mm("55")}, pi / 4 * (120**2 - 55**2)),
        (JackKind.RAM, {"plunger": mm("90")}, pi / 4 * 90**2),
    ],
)
def test_the_measured_area_follows_the_type_of_jack(
    kind: JackKind, given: dict[str, Typed], expected_mm2: float
) -> None:
    assert measured_area(kind=kind, **given) == pytest.approx(expected_mm2 * 1e-6, rel=1e-12)


def test_a_missing_or_impossible_diameter_gives_no_measured_area() -> None:
    assert measured_area(kind=JackKind.PULL, bore=mm("100")) is None
    assert measured_area(kind=JackKind.PULL, bore=mm("60"), rod_or_hole=mm("60")) is None
    assert measured_area(kind=JackKind.RAM, bore=mm("60")) is None


def test_the_maker_s_figure_counts_and_the_measured_one_is_kept_beside_it() -> None:
    area = effective_area_of(
        jack(bore=mm("95.25"), stated_area=Typed.read("71.26", "cm2"), stated_area_document="plate")
    )
    assert area.counts_m2 == area.stated_m2 == 0.007126
    assert area.measured_m2 == pytest.approx(0.0071256, rel=1e-4)
    assert area.document == "plate"
    assert area.difference == pytest.approx(area.measured_m2 / 0.007126 - 1)  # type: ignore[operator]


def test_the_measured_area_counts_once_the_piston_was_changed() -> None:
    area = effective_area_of(
        jack(bore=mm("90"), stated_area=Typed.read("71.26", "cm2"), area_counts=AreaCounts.MEASURED)
    )
    assert area.counts_m2 == pytest.approx(pi / 4 * 0.09**2)
    assert area.stated_m2 == 0.007126
    assert area.document == "measured aboard"


def test_without_measures_a_changed_piston_leaves_no_area_and_the_maker_s_never_slips_in() -> None:
    area = effective_area_of(jack(stated_area=Typed.read("71.26", "cm2"), area_counts=AreaCounts.MEASURED))
    assert area.counts_m2 is None
    assert area == JackArea(0.007126, None, None, "")
