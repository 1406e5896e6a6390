"""Entering particulars: what is typed is read, refused, asked about or kept, beside its own field."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.core.models import AuditEntry
from fleet.drums import checks
from fleet.drums.models import Drum, DrumParticulars, SettingKind, TargetBasis
from tests.cast import Cast
from tests.factories import DrumFactory, DrumParticularsFactory, PolicyFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def drum(cast: Cast) -> Drum:
    made: Drum = DrumFactory(winch__vessel=cast.vessel)
    return made


def sent(**changed: str) -> dict[str, str]:
    """A complete entry in mm, as a browser sends it."""
    given = {
        "valid_from": "2026-01-01",
        "reason": "measured at the berth",
        "target_basis": "geometry",
        "line_material": "wire",
        "lining_held": "bonded",
        "table-TOTAL_FORMS": "24",
        "table-INITIAL_FORMS": "0",
    }
    for name, text in (("drum_diameter", "610"), ("line_diameter", "36"), ("flange_diameter", "1100")):
        given |= {name: text, f"{name}_unit": "mm", f"{name}_origin": "drawing", f"{name}_document": "W-1"}
    return {**given, **changed}


def address(drum: Drum) -> str:
    return reverse("drums:particulars_new", args=[drum.pk])


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    client.force_login(cast.officer)
    return client


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [("36", "mm", 0.036), ("3,6", "cm", 0.036), ("3.6", "cm", 0.036), ("1,417", "in", 1.417 * 0.0254)],
)
def test_a_figure_is_read_with_comma_or_point_and_kept_as_typed(
    officer: Client, drum: Drum, text: str, unit: str, metres: float
) -> None:
    answer = officer.post(address(drum), sent(line_diameter=text, line_diameter_unit=unit))
    assert answer.status_code == 302, answer.context["form"].errors
    figure = DrumParticulars.objects.get().figure("line_diameter")
    assert figure is not None
    assert (figure.typed.text, figure.typed.unit) == (text, unit)
    # NIST SP 811, Appendix B: 1 in = 0.0254 m exactly
    assert figure.typed.si == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"line_diameter": "18,2,3"}, "line_diameter", "Use one decimal comma or one decimal point"),
        ({"line_diameter_unit": ""}, "line_diameter", "Choose the unit of the figure you typed."),
        ({"line_diameter_unit": "kN"}, "line_diameter", "Choose one of the units in the list."),
        ({"line_diameter": ""}, "line_diameter", "this field cannot stay empty"),
        ({"line_diameter_origin": ""}, "line_diameter_origin", checks.ORIGIN_NEEDED),
        ({"line_diameter_document": ""}, "line_diameter_document", checks.DOCUMENT_NEEDED),
        ({"drum_diameter": "6100"}, "drum_diameter", "6100.0 mm cannot be right"),
        ({"drum_diameter": "610", "drum_diameter_unit": "in"}, "drum_diameter", "cannot be right"),
        ({"line_diameter": "620"}, "line_diameter", "cannot be right"),
        ({"flange_diameter": "600"}, "flange_diameter", checks.FLANGE_NOT_ABOVE_DRUM),
        ({"reason": ""}, "reason", "Write something here"),
        ({"valid_from": "1.1.2026"}, "valid_from", "Write the date as"),
        ({"line_material": ""}, "line_material", "Choose one."),
    ],
)
def test_a_bad_entry_is_refused_beside_its_field_and_everything_typed_stays(
    officer: Client, drum: Drum, changed: dict[str, str], field: str, words: str
) -> None:
    answer = officer.post(address(drum), sent(**changed))
    page = answer.content.decode()
    errors = answer.context["form"].errors
    assert any(str(words) in str(error) for error in errors[field]), errors
    anchor = f"id_{field}_0" if field.endswith("diameter") else f"id_{field}"
    assert f'href="#{anchor}"' in page
    assert 'value="W-1"' in page
    for text in changed.values():
        assert not text or text in page
    assert not DrumParticulars.objects.exists()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"drum_diameter": "305"}, "Probably the radius was entered"),
        ({"drum_diameter": "1098", "flange_diameter": ""}, "Probably the flange was measured"),
    ],
)
def test_a_figure_measured_at_the_wrong_place_is_asked_about_in_words(
    officer: Client, drum: Drum, changed: dict[str, str], words: str
) -> None:
    page = officer.post(address(drum), sent(**changed)).content.decode()
    assert words in page
    assert "I have checked this figure" in page
    assert not DrumParticulars.objects.exists()


def tick(answer: Any) -> dict[str, str]:
    """What the boxes of a page send when ticked."""
    fields = answer.context["form"].fields
    return {name: fields[name].widget.attrs["value"] for name in fields if name.startswith("checked_")}


def test_a_ticked_figure_is_kept_and_the_answer_recorded(officer: Client, drum: Drum) -> None:
    odd = sent(drum_diameter="950")
    ticks = tick(officer.post(address(drum), odd))
    assert ticks
    assert officer.post(address(drum), {**odd, **ticks}).status_code == 302
    figure = DrumParticulars.objects.get().figure("drum_diameter")
    assert figure is not None
    assert figure.typed.text == "950"
    entry = AuditEntry.objects.get()
    assert entry.after is not None
    assert entry.after["checked"] == sorted(name.removeprefix("checked_") for name in ticks)


def test_a_tick_does_not_outlive_a_change_of_the_figure(officer: Client, drum: Drum) -> None:
    ticks = tick(officer.post(address(drum), sent(drum_diameter="950")))
    page = officer.post(address(drum), {**sent(drum_diameter="960"), **ticks}).content.decode()
    assert "960" in page
    assert not DrumParticulars.objects.exists()


def test_a_tick_stays_ticked_while_something_else_is_put_right(officer: Client, drum: Drum) -> None:
    ticks = tick(officer.post(address(drum), sent(drum_diameter="950")))
    answer = officer.post(address(drum), {**sent(drum_diameter="950"), **ticks, "reason": " "})
    assert answer.status_code == 200
    assert "reason" in answer.context["form"].errors


def test_tonnes_typed_as_kilonewtons_in_the_line_s_strength_are_noticed(officer: Client, drum: Drum) -> None:
    line = {"line_mbl_origin": "certificate", "line_mbl_document": "L-1"}
    page = officer.post(address(drum), sent(line_mbl="66", line_mbl_unit="kN", **line)).content.decode()
    assert "weaker than the base load" in page
    assert officer.post(address(drum), sent(line_mbl="66", line_mbl_unit="tf", **line)).status_code == 302
    figure = DrumParticulars.objects.get().figure("line_mbl")
    assert figure is not None
    # NIST SP 811, Appendix B: 1 tonne-force = 9 806.65 N
    assert figure.typed.si == pytest.approx(66 * 9806.65, rel=1e-12)


def test_what_a_worn_line_has_left_is_kept_and_shown_with_its_document(officer: Client, drum: Drum) -> None:
    line = {"line_residual_origin": "certificate", "line_residual_document": "R-7", "line_residual_unit": "percent"}
    refused = officer.post(address(drum), sent(line_residual="120", **line)).content.decode()
    assert "at most 100 % of its new strength" in refused
    assert officer.post(address(drum), sent(line_residual="82,5", **line)).status_code == 302
    page = officer.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    assert "trength left in the line" in page
    assert "82,5 %" in page
    assert "R-7" in page


def test_the_form_starts_from_the_row_in_force_with_origin_and_document(officer: Client, drum: Drum) -> None:
    DrumParticularsFactory(drum=drum)
    page = officer.get(address(drum)).content.decode()
    for words in ('value="610"', 'value="36"', 'value="line certificate"', "starts from what is in force"):
        assert words in page, words


def test_the_form_of_a_new_drum_starts_empty(officer: Client, drum: Drum) -> None:
    form = officer.get(address(drum)).context["form"]
    assert not any(form[kind.name].initial for kind in form.kinds)


def test_what_the_other_drums_have_stands_beside_each_figure(officer: Client, cast: Cast, drum: Drum) -> None:
    for _count in range(3):
        DrumParticularsFactory(drum__winch__vessel=cast.vessel)
    DrumParticularsFactory(drum__winch__vessel=cast.sister)
    assert "610 mm (3)" in officer.get(address(drum)).content.decode()


def test_an_earlier_row_is_never_touched(officer: Client, drum: Drum) -> None:
    first = DrumParticularsFactory(drum=drum, valid_from=date(2025, 1, 1))
    before = DrumParticulars.objects.filter(pk=first.pk).values().get()
    assert officer.post(address(drum), sent(drum_diameter="612")).status_code == 302
    assert DrumParticulars.objects.filter(pk=first.pk).values().get() == before
    page = officer.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    assert page.index("612 mm") < page.index("Earlier particulars") < page.index("610 mm")


def test_an_undivided_drum_insists_on_its_layer_and_a_split_one_never_asks(
    officer: Client, cast: Cast, drum: Drum
) -> None:
    undivided = DrumFactory(winch__vessel=cast.vessel, kind="undivided")
    answer = officer.post(address(undivided), sent(nesting="line_on_line"))
    assert answer.context["form"].errors["reference_layer"] == [checks.NAME_THE_LAYER]
    layered = sent(nesting="nested", reference_layer="3")
    assert officer.post(address(undivided), layered).status_code == 302
    row = DrumParticulars.objects.get()
    assert (row.reference_layer, row.nesting) == (3, "nested")
    assert 'name="reference_layer"' not in officer.get(address(drum)).content.decode()


@pytest.mark.parametrize("kind", SettingKind.values)
def test_the_limits_are_asked_for_in_the_drum_s_own_kind_of_setting(officer: Client, cast: Cast, kind: str) -> None:
    drum = DrumFactory(winch__vessel=cast.vessel, setting_kind=kind, brake_kind="spring_applied")
    limits = {"mark_least": "12", "mark_most": "90", "mark_least_origin": "measured", "mark_most_origin": "measured"}
    start = {"marker_distance": "mm", "spring_length": "mm", "applied_pressure": "bar"}.get(kind, "")
    answer = officer.post(address(drum), sent(**limits, mark_least_unit=start, mark_most_unit=start))
    assert answer.status_code == 302, answer.context["form"].errors
    unit = {"spindle_torque": "N_m", "shims": "count"}.get(kind, start)
    figure = DrumParticulars.objects.get().figure("mark_most")
    assert figure is not None
    assert (figure.typed.text, figure.typed.unit) == ("90", unit)


def table_sent(*rows: tuple[str, str], **changed: str) -> dict[str, str]:
    given = {
        "target_basis": TargetBasis.MAKERS_TABLE,
        "table_pressure_unit": "kgf/cm2",
        "table_load_unit": "tf",
        "maker_table_jack": "HC-5512",
        "maker_table_document": "manual, sheet 4",
    }
    for number, (pressure, load) in enumerate(rows):
        given |= {f"table-{number}-pressure": pressure, f"table-{number}-load": load}
    without = {name: "" for name in sent() if "diameter" in name}
    return sent(**{**without, **given, **changed})


def test_a_maker_s_table_is_typed_in_rows_with_its_units_once(officer: Client, drum: Drum) -> None:
    answer = officer.post(address(drum), table_sent(("50", "11,2"), ("150", "33.7")))
    assert answer.status_code == 302, answer.context["form"].errors
    row = DrumParticulars.objects.get()
    assert [(line["pressure"]["text"], line["load"]["unit"]) for line in row.maker_table] == [
        ("50", "tf"),
        ("150", "tf"),
    ]
    assert row.maker_table[0]["load"]["text"] == "11,2"
    page = officer.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    assert "for the jack with serial number HC-5512 only" in page


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (table_sent(("50", "11"), ("150", "9")), "table-1-load"),
        (table_sent(("50", "11"), ("50", "33")), "table-1-pressure"),
        (table_sent(("50", "11"), ("150", "")), "table-1-load"),
        (table_sent(("50", "11"), ("15,0,0", "33")), "table-1-pressure"),
        (table_sent(("50", "11"), ("150", "33"), maker_table_jack=""), "maker_table_jack"),
        (table_sent(("50", "11"), ("150", "33"), table_load_unit=""), "table_load_unit"),
        (table_sent(("50", "11"), ("150", "33"), maker_table_document=""), "maker_table_document"),
    ],
)
def test_a_table_that_does_not_rise_or_names_no_jack_leads_to_the_place(
    officer: Client, drum: Drum, given: dict[str, str], field: str
) -> None:
    page = officer.post(address(drum), given).content.decode()
    assert f'href="#id_{field}"' in page
    assert 'value="50"' in page
    assert not DrumParticulars.objects.exists()


def test_a_table_of_one_row_is_no_table(officer: Client, drum: Drum) -> None:
    page = officer.post(address(drum), table_sent(("50", "11"))).content.decode()
    assert "Type at least two rows." in page
    assert not DrumParticulars.objects.exists()


BAND = {"wrap_angle": "290", "lining_friction": "0,32", "mark_per_band_travel": "7.5", "line_wll": "320"}


def band_sent(**changed: str) -> dict[str, str]:
    given = {**sent(), "line_wll_unit": "kN"}
    for name, text in BAND.items():
        given |= {name: text, f"{name}_origin": "maker", f"{name}_document": "manual 4.2"}
    return {**given, **changed}


def test_the_band_s_figures_are_kept_as_typed_with_their_document(officer: Client, drum: Drum) -> None:
    assert officer.post(address(drum), band_sent()).status_code == 302
    row = DrumParticulars.objects.get()
    assert [(row.figures[name]["text"], row.figures[name]["document"]) for name in BAND] == [
        (text, "manual 4.2") for text in BAND.values()
    ]
    assert row.si("lining_friction") == 0.32
    assert row.si("wrap_angle") == pytest.approx(290 * 3.141592653589793 / 180)
    page = officer.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    for words in ("290 °", "<strong>0,32</strong>", "<strong>7.5</strong>", "320 kN"):
        assert words in page, words
    assert 'value="0,32"' in officer.get(address(drum)).content.decode()


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("wrap_angle", "27", "between 90.0 ° and 720.0 ° is possible"),
        ("lining_friction", "32", "between 0.0500 and 0.8000 is possible"),
        ("mark_per_band_travel", "0", "between 0.2000 and 40.0000 is possible"),
        ("lining_friction", "about 0.3", "Type digits only"),
    ],
)
def test_a_band_s_figure_that_cannot_be_is_refused_beside_its_field(
    officer: Client, drum: Drum, name: str, text: str, words: str
) -> None:
    answer = officer.post(address(drum), band_sent(**{name: text}))
    assert words in str(answer.context["form"].errors[name])
    assert f'value="{text}"' in answer.content.decode()


def test_a_working_load_limit_above_the_breaking_load_is_refused(officer: Client, drum: Drum) -> None:
    line = {"line_mbl": "660", "line_mbl_unit": "kN", "line_mbl_origin": "certificate", "line_mbl_document": "L-1"}
    answer = officer.post(address(drum), band_sent(**line, line_wll="670"))
    assert answer.context["form"].errors["line_wll"] == [checks.LIMIT_NOT_BELOW_BREAKING]


def test_figures_of_a_band_are_asked_of_band_brakes_only(officer: Client, cast: Cast) -> None:
    disc = DrumFactory(winch__vessel=cast.vessel, brake_kind="disc")
    torque = DrumFactory(winch__vessel=cast.vessel, setting_kind=SettingKind.SPINDLE_TORQUE)
    page = officer.get(address(disc)).context["form"].fields
    assert not {"wrap_angle", "lining_friction", "mark_per_band_travel"} & set(page)
    page = officer.get(address(torque)).context["form"].fields
    assert "mark_per_band_travel" not in page
    assert "wrap_angle" in page


def test_a_worn_line_is_asked_about_at_entry_by_the_operator_s_share(officer: Client, cast: Cast, drum: Drum) -> None:
    # 637 kN × 60 % = 382.2 kN; 70 % of 637 kN is 445.9 kN, of which it takes 85.7 % (three quarters at most: ours).
    worn = {"line_residual_origin": "certificate", "line_residual_document": "R-7", "line_residual": "70"}
    answer = officer.post(address(drum), sent(**worn))
    (asked,) = answer.context["form"].errors["line_residual"]
    assert "about 445.9 kN left, and the brake renders at 382.2 kN, 85.7 % of that; 75.0 % at most" in asked
    PolicyFactory(company=cast.vessel.company, share="0.50", band_low="0.45", band_high="0.55", ceiling="0.55")
    assert officer.post(address(drum), sent(**worn)).status_code == 302
