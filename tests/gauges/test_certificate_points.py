"""Points of a calibration, taken rising and falling, from the form to the gauge's own page."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.gauges.models import GaugeCalibration, Kit
from tests.cast import Cast
from tests.factories import KitFactory
from tests.gauges.test_pages import calibration_sent

pytestmark = pytest.mark.django_db


@pytest.fixture
def kit(cast: Cast) -> Kit:
    made: Kit = KitFactory(vessel=cast.vessel)
    return made


def test_points_taken_falling_show_that_the_gauge_hangs(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    falling = {"falling-0-reading": "50", "falling-0-reference": "49,6", "falling-0-U": "0.8"}
    falling |= {"falling-1-reading": "150", "falling-1-reference": "146", "falling-1-U": "0.8"}
    sent = calibration_sent(("50", "50,4", "0.8"), ("150", "151", "0.8"), ("200", "200", "0.8"), **falling)
    assert client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent).status_code == 302
    row = GaugeCalibration.objects.get(certificate_number="C-9")
    assert [point["direction"] for point in row.points] == ["rising"] * 3 + ["falling"] * 2
    page = client.get(reverse("gauges:gauge", args=[kit.gauge_id])).content.decode()
    assert "Farthest off, the gauge reads 1.0 bar low, at 150.0 bar." in page
    assert "Readings from 50.0 to 200.0 bar are corrected by these points" in page
    # 151 going up and 146 coming down at 150 on the dial, far more than the certificate's own 0.8.
    assert "Rising and falling differ by 5.0 bar at 150.0 bar" in page
    assert "Points with falling pressure, as typed" in page


def test_falling_points_alone_are_refused_beside_the_rows(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    falling = {"falling-0-reading": "50", "falling-0-reference": "49,6"}
    falling |= {"falling-1-reading": "150", "falling-1-reference": "146"}
    page = client.post(
        reverse("gauges:calibration_new", args=[kit.gauge_id]), calibration_sent(k="", **falling)
    ).content.decode()
    assert "a test is read while the pressure rises" in page
    assert 'value="49,6"' in page
    assert not GaugeCalibration.objects.filter(certificate_number="C-9").exists()


def test_a_gauge_that_hangs_within_its_certificate_is_not_blamed(client: Client, cast: Cast, kit: Kit) -> None:
    client.force_login(cast.engineer)
    falling = {"falling-0-reading": "50", "falling-0-reference": "49,8", "falling-0-U": "0.8"}
    falling |= {"falling-1-reading": "150", "falling-1-reference": "150.5", "falling-1-U": "0.8"}
    sent = calibration_sent(("50", "50,4", "0.8"), ("150", "151", "0.8"), **falling)
    client.post(reverse("gauges:calibration_new", args=[kit.gauge_id]), sent)
    page = client.get(reverse("gauges:gauge", args=[kit.gauge_id])).content.decode()
    assert "Rising and falling it shows the same" in page
