"""The pages of instruments for every kind of person."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.core.typed import Typed
from fleet.gauges.calibration import calibration_said
from fleet.gauges.models import Footing, Gauge, GaugeCalibration, Jack, JackKind, Kit, Lever
from fleet.vessels.models import Policy
from fleet.vessels.permissions import ALLOWED
from tests.cast import Cast
from tests.factories import (
    FootingFactory,
    GaugeCalibrationFactory,
    GaugeFactory,
    JackFactory,
    KitFactory,
    LeverFactory,
)

pytestmark = pytest.mark.django_db
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer<<>>\n%%EOF\n"
NO_ROWS = {"force-TOTAL_FORMS": "0", "force-INITIAL_FORMS": "0"}


@pytest.fixture
def kit(cast: Cast) -> Kit:
    made: Kit = KitFactory(vessel=cast.vessel)
    return made


def pages(kit: Kit) -> dict[str, tuple[str, str]]:
    """Every page: name → (address, the act it needs)."""
    vessel, gauge = kit.vessel_id, kit.gauge_id
    jack = kit.kit_jacks.get().jack_id
    edit = "edit_instruments"
    found = {
        "instrument_list": (reverse("gauges:instrument_list", args=[vessel]), "view"),
        "gauge": (reverse("gauges:gauge", args=[gauge]), "view"),
        "calibration_new": (reverse("gauges:calibration_new", args=[gauge]), edit),
        "jack": (reverse("gauges:jack", args=[jack]), "view"),
    }
    rows = {"gauge": gauge, "jack": jack, "lever": kit.lever_id, "footing": kit.footing_id, "kit": kit.pk}
    for what, row in rows.items():
        found[f"{what}_new"] = (reverse(f"gauges:{what}_new", args=[vessel]), edit)
        found[f"{what}_edit"] = (reverse(f"gauges:{what}_edit", args=[row]), edit)
        found[f"{what}_retire"] = (reverse(f"gauges:{what}_retire", args=[row]), edit)
    return found


# --- access


@pytest.mark.parametrize("method", ["get", "post"])
def test_every_role_of_the_vessel_gets_what_the_table_of_acts_says(
    client: Client, cast: Cast, kit: Kit, method: str
) -> None:
    for role, person in cast.people.items():
        client.force_login(person)
        for name, (address, act) in pages(kit).items():
            answer = getattr(client, method)(address)
            assert answer.status_code == (200 if role in ALLOWED[act] else 403), (role, name)


def test_people_of_other_vessels_and_companies_find_nothing(client: Client, cast: Cast, kit: Kit) -> None:
    for person in (*cast.foreign.values(), cast.sister_officer, cast.nobody):
        client.force_login(person)  # type: ignore[arg-type]
        for name, (address, _act) in pages(kit).items():
            assert client.get(address).status_code == 404, (person, name)
            assert client.post(address).status_code == 404, (person, name)


def test_who_is_not_signed_in_is_sent_to_sign_in(client: Client, kit: Kit) -> None:
    for address, _act in pages(kit).values():
        answer = client.get(address)
        assert answer.status_code == 302
        assert reverse("account_login") in answer["Location"]


# --- gauges and calibrations


def gauge_sent(**changed: str) -> dict[str, str]:
    return {
        "name": "PG-7",
        "serial_number": "A-1",
        "unit": "kgf/cm2",
        "full_scale": "400",
        "smallest_division": "2,5",
        "accuracy_class": "1.6",
        **changed,
    }


def test_full_scale_and_division_are_read_in_the_unit_of_the_dial(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    answer = client.post(reverse("gauges:gauge_new", args=[cast.vessel.pk]), gauge_sent())
    gauge = Gauge.objects.get()
    assert answer["Location"] == reverse("gauges:gauge", args=[gauge.pk])
    assert gauge.smallest_division == Typed("2,5", "kgf/cm2", 2.5 * 98066.5)
    assert str(gauge.accuracy_class) == "1.60"


def test_a_gauge_without_a_unit_is_asked_for_it_and_nothing_typed_is_lost(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    answer = client.post(reverse("gauges:gauge_new", args=[cast.vessel.pk]), gauge_sent(unit="", full_scale="18,2,3"))
    page = answer.content.decode()
    assert 'href="#id_unit"' in page
    assert 'value="18,2,3"' in page
    assert "Use one decimal comma or one decimal point" in page
    assert not Gauge.objects.exists()


def test_the_unit_is_not_offered_again_and_not_taken_from_the_browser(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    address = reverse("gauges:gauge_edit", args=[kit.gauge_id])
    assert 'name="unit"' not in client.get(address).content.decode()
    client.post(address, gauge_sent(unit="MPa", full_scale="300", smallest_division="2"))
    gauge = Gauge.objects.get()
    assert (gauge.unit, gauge.full_scale.as_typed) == ("bar", "300 bar")


def calibration_sent(*rows: tuple[str, str, str], **changed: Any) -> dict[str, Any]:
    sent: dict[str, Any] = {
        "calibrated_on": "2026-03-01",
        "certificate_number": "C-9",
        "laboratory": "Quay workshop",
        "k": "2",
        "points-TOTAL_FORMS": "24",
        "points-INITIAL_FORMS": "0",
        "falling-TOTAL_FORMS": "24",
        "falling-INITIAL_FORMS": "0",
    }
    for number, (reading, reference, uncertainty) in enumerate(rows):
        sent |= {f"points-{number}-reading": reading, f"points-{number}-reference": reference}
        sent |= {f"points-{number}-U": uncertainty}
    return {**sent, **changed}


def test_a_calibration_is_recorded_with_points_and_certificate(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    sent = calibration_sent(
        ("50", "50,4", "0.8"),
        ("150", "151", "0.8"),
        document=SimpleUploadedFile("c.pdf", PDF, content_type="application/pdf"),
    )
    answer = client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent)
    assert answer.status_code == 302
    row = GaugeCalibration.objects.get(certificate_number="C-9")
    assert row.points[0]["reference"]["text"] == "50,4"
    assert row.points[0]["U"]["unit"] == "bar"
    assert row.points[0]["k"] == 2
    address = reverse("gauges:calibration_document", args=[row.pk])
    given = client.get(address)
    assert b"".join(given.streaming_content) == PDF  # type: ignore[attr-defined]
    assert given["Content-Disposition"].startswith("attachment")
    assert given["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in given["Content-Security-Policy"]
    for person in (cast.sister_officer, cast.foreign["engineer"], cast.nobody):
        client.force_login(person)  # type: ignore[arg-type]
        assert client.get(address).status_code == 404
    client.logout()
    assert client.get(address).status_code == 302


def test_points_that_do_not_rise_are_refused_in_their_row(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    sent = calibration_sent(("150", "151", ""), ("50", "50,4", ""), ("60", "", ""), k="")
    page = client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent).content.decode()
    assert 'href="#id_points-2-reference"' in page
    sent = calibration_sent(("150", "151", ""), ("50", "50,4", ""), k="")
    page = client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent).content.decode()
    assert 'href="#id_points-1-reading"' in page
    assert "above the figure in the row before it (150)" in page
    assert 'value="50,4"' in page
    assert GaugeCalibration.objects.count() == 1


def test_an_uncertainty_without_its_k_is_asked_for(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    sent = calibration_sent(("50", "50", "0,8"), ("150", "151", ""), k="")
    page = client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent).content.decode()
    assert 'href="#id_k"' in page


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<html>hello</html>", "neither a PDF nor a JPEG"),
        (PDF[:20], "cut short"),
        (b"", "empty"),
        (b"%PDF-1.7" + b"0" * 10_000_001, "larger than 10 MB"),
    ],
)
def test_a_certificate_file_is_checked_by_what_it_holds(
    client: Client, cast: Cast, kit: Kit, content: bytes, words: str
) -> None:
    client.force_login(cast.engineer)
    sent = calibration_sent(document=SimpleUploadedFile("c.pdf", content, content_type="application/pdf"))
    page = client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent).content.decode()
    assert words in page
    assert 'value="C-9"' in page
    assert GaugeCalibration.objects.count() == 1


def test_the_gauge_s_state_follows_its_certificate_or_the_policy(cast: Cast) -> None:
    gauge, policy = GaugeFactory(vessel=cast.vessel), Policy(calibration_months=12, due_soon_days=45)
    assert calibration_said(gauge, policy, date(2026, 11, 25)).code == "never_tested"
    GaugeCalibrationFactory(gauge=gauge, calibrated_on=date(2025, 12, 1))
    states = {
        day: calibration_said(Gauge.objects.get(), policy, day).code
        for day in (date(2026, 10, 16), date(2026, 10, 17), date(2026, 12, 1), date(2026, 12, 2))
    }
    assert list(states.values()) == ["in_date", "due", "due", "overdue"]
    GaugeCalibrationFactory(gauge=gauge, calibrated_on=date(2026, 6, 1), valid_until=date(2026, 8, 1))
    said = calibration_said(Gauge.objects.get(), policy, date(2026, 11, 25))
    assert (said.code, said.until) == ("overdue", date(2026, 8, 1))
    assert said.word == "out of date since 1 August 2026"


# --- jacks


def jack_sent(**changed: str) -> dict[str, str]:
    return {
        "name": "J-9",
        "serial_number": "77",
        "stated_area": "71,26",
        "stated_area_unit": "cm2",
        "stated_area_document": "plate",
        "area_counts": "stated",
        "nominal_capacity": "50",
        "nominal_capacity_unit": "tf",
        "rated_pressure": "700",
        "rated_pressure_unit": "bar",
        **NO_ROWS,
        **changed,
    }


@pytest.mark.parametrize(
    ("kind", "asked"),
    [
        ("plain", {"bore"}),
        ("pull", {"bore", "rod_or_hole"}),
        ("hollow", {"bore", "rod_or_hole"}),
        ("ram", {"plunger"}),
    ],
)
def test_only_the_diameters_of_the_type_are_asked_for(client: Client, cast: Cast, kind: str, asked: set[str]) -> None:
    client.force_login(cast.engineer)
    page = client.get(reverse("gauges:jack_new", args=[cast.vessel.pk]), {"kind": kind}).content.decode()
    assert {name for name in ("bore", "rod_or_hole", "plunger") if f'name="{name}"' in page} == asked


def test_the_type_is_chosen_first(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    page = client.get(reverse("gauges:jack_new", args=[cast.vessel.pk])).content.decode()
    assert all(f"?kind={kind}" in page for kind in JackKind.values)
    assert 'name="serial_number"' not in page


def test_the_computed_area_stands_beside_the_stated_one_with_the_difference(client: Client, cast: Cast) -> None:
    jack = JackFactory(vessel=cast.vessel, bore=Typed.read("97", "mm"))
    client.force_login(cast.auditor)
    page = client.get(reverse("gauges:jack", args=[jack.pk])).content.decode()
    # π/4 · 97² mm² = 73.898 cm²; against the stated 71.26 cm² that is 3.7 % more (elementary geometry)
    for words in ("71.26", "73.90", "3.7 %"):
        assert words in page, words


def test_an_odd_area_is_asked_about_and_kept_once_ticked(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    address = reverse("gauges:jack_new", args=[cast.vessel.pk]) + "?kind=plain"
    answer = client.post(address, jack_sent(stated_area="50,27"))
    page = answer.content.decode()
    assert "I have checked this figure: Effective piston area stated by the maker 50,27 cm²" in page
    assert 'value="50,27"' in page
    tick = next(name for name in answer.context["form"].fields if name.startswith("checked_"))
    token = answer.context["form"].fields[tick].widget.attrs["value"]
    # the tick belongs to this figure: with another one it is asked again
    answer = client.post(address, jack_sent(stated_area="40", **{tick: token}))
    assert not Jack.objects.exists()
    assert client.post(address, jack_sent(stated_area="50,27", **{tick: token})).status_code == 302
    assert Jack.objects.get().stated_area == Typed.read("50,27", "cm2")


def test_a_wrong_kind_of_unit_is_not_taken_from_the_browser(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    address = reverse("gauges:jack_new", args=[cast.vessel.pk]) + "?kind=plain"
    page = client.post(address, jack_sent(stated_area_unit="mm", rated_pressure_unit="")).content.decode()
    assert "Choose one of the units in the list." in page
    assert "Choose the unit of the figure you typed." in page
    assert not Jack.objects.exists()


def test_a_force_table_is_typed_in_rows_with_its_units_once(client: Client, cast: Cast) -> None:
    client.force_login(cast.engineer)
    address = reverse("gauges:jack_new", args=[cast.vessel.pk]) + "?kind=plain"
    rows = {"force-TOTAL_FORMS": "24", "force-0-reading": "50", "force-0-force": "35,6"}
    rows |= {"force-1-reading": "200", "force-1-force": "142", "force_table_document": "F-3"}
    page = client.post(address, jack_sent(**rows)).content.decode()
    assert "Choose the unit the table is in." in page
    assert 'value="35,6"' in page
    answer = client.post(address, jack_sent(**rows, table_reading_unit="bar", table_force_unit="kN"))
    assert answer.status_code == 302
    assert Jack.objects.get().force_table[0]["force"] == {"text": "35,6", "unit": "kN", "si": 35600.0}


def test_changing_the_type_empties_what_does_not_belong_to_it(client: Client, cast: Cast) -> None:
    jack = JackFactory(vessel=cast.vessel)
    client.force_login(cast.engineer)
    answer = client.post(
        reverse("gauges:jack_edit", args=[jack.pk]) + "?kind=ram", jack_sent(plunger="95,25", plunger_unit="mm")
    )
    assert answer.status_code == 302
    jack.refresh_from_db()
    assert (jack.kind, jack.bore, jack.plunger.text) == ("ram", None, "95,25")


# --- levers, footings, kits


def test_a_lever_and_a_footing_are_registered(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    client.post(
        reverse("gauges:lever_new", args=[cast.vessel.pk]),
        {"name": "L-1", "arm": "1,2", "arm_unit": "m", "safe_load": "20", "safe_load_unit": "tf"},
    )
    client.post(
        reverse("gauges:footing_new", args=[cast.vessel.pk]),
        {"name": "Plate, forecastle", "allowed_load": "25", "allowed_load_unit": "tf"},
    )
    assert Lever.objects.get().arm.si == pytest.approx(1.2)
    assert Footing.objects.get().allowed_load.as_typed == "25 t (tonne-force)"


def test_a_kit_offers_only_this_vessel_s_instruments_in_use(client: Client, cast: Cast) -> None:
    own, gone, other = (
        GaugeFactory(vessel=cast.vessel),
        GaugeFactory(vessel=cast.vessel, retired_on=date(2026, 1, 1)),
        GaugeFactory(vessel=cast.sister),
    )
    client.force_login(cast.superintendent)
    page = client.get(reverse("gauges:kit_new", args=[cast.vessel.pk])).content.decode()
    assert str(own.pk) in page
    assert str(gone.pk) not in page
    assert str(other.pk) not in page


def test_a_kit_of_two_unequal_jacks_is_put_together_and_shown(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    one, two = JackFactory(vessel=cast.vessel), JackFactory(vessel=cast.vessel)
    sent = {
        "name": "Aft kit",
        "gauge": GaugeFactory(vessel=cast.vessel).pk,
        "lever": LeverFactory(vessel=cast.vessel).pk,
        "first_jack": one.pk,
        "second_arm": "1150",
        "second_arm_unit": "mm",
    }
    page = client.post(reverse("gauges:kit_new", args=[cast.vessel.pk]), sent).content.decode()
    assert "Choose the second jack, or empty this field." in page
    client.post(reverse("gauges:kit_new", args=[cast.vessel.pk]), {**sent, "second_jack": two.pk})
    assert [row.jack for row in Kit.objects.get().kit_jacks.all()] == [one, two]
    page = client.get(reverse("gauges:instrument_list", args=[cast.vessel.pk])).content.decode()
    assert "1150 mm" in page


def test_a_retired_instrument_leaves_the_list_and_stays_readable(client: Client, cast: Cast) -> None:
    gauge = GaugeFactory(vessel=cast.vessel, name="PG-OLD")
    client.force_login(cast.engineer)
    client.post(reverse("gauges:gauge_retire", args=[gauge.pk]), {"retired_on": "2026-02-02", "reason": "pointer bent"})
    page = client.get(reverse("gauges:instrument_list", args=[cast.vessel.pk])).content.decode()
    assert "1 out of use" in page
    assert "Out of use since 2 February 2026" in client.get(reverse("gauges:gauge", args=[gauge.pk])).content.decode()


def test_the_list_says_first_what_is_not_in_date(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.officer)
    GaugeFactory(vessel=cast.vessel, name="PG-LATE")
    page = client.get(reverse("gauges:instrument_list", args=[cast.vessel.pk])).content.decode()
    assert "Not in date: PG-LATE" in page
    assert "never calibrated" in page


# --- how much is asked of the database


@pytest.mark.parametrize("name", ["instrument_list", "gauge", "kit_new"])
def test_no_page_asks_more_of_the_database_with_more_rows(
    client: Client, cast: Cast, kit: Kit, name: str, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    client.force_login(cast.superintendent)
    address = reverse(f"gauges:{name}", args=[kit.gauge_id if name == "gauge" else cast.vessel.pk])
    client.get(address)
    with django_assert_max_num_queries(40) as with_one:
        client.get(address)
    for count in range(19):
        KitFactory(vessel=cast.vessel)
        FootingFactory(vessel=cast.vessel)
        GaugeCalibrationFactory(gauge=kit.gauge, calibrated_on=date(2024, 1, 1) + timedelta(days=count))
    with django_assert_max_num_queries(len(with_one)):
        client.get(address)
