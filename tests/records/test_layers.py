"""The line on other layers: on Prepare, on the worksheet and in the record."""

import io
from typing import Any

import pikepdf
import pytest
from django.test import Client
from django.urls import reverse

from fleet.drums.models import Drum
from fleet.records.assess import assess
from fleet.records.canonical import read_content
from fleet.records.record_rows import sections_of
from tests.cast import Cast
from tests.factories import DrumParticularsFactory, PolicyFactory, figure
from tests.records.scenario import confirm_and_submit, filled_test, submitted
from tests.records.ship import make_ship
from tests.records.test_prepare_page import look, wide_drum, words
from tests.records.test_worksheet import sheet, text_of

pytestmark = pytest.mark.django_db

# 576 mm and 36 mm, layer 3: 382.2 kN × 378 mm ÷ (71.26 cm² × 1200 mm) = 168.9 bar at 60 % (moment balance).
READINGS = (
    ("as_found_untouched", "53.8", "153", True, False),
    ("adjusting", "51", "161", True, True),
    ("verification", "49", "168", True, True),
    ("verification", "49", "169", True, True),
)
# Facts of the trade, D = 16 d: 65 % on layer 3 is 80.3 % on layer 1.
AT_STOP = (
    "STOP is 65.0 % of SDMBL on layer 3. With the line down to layer 1 that setting holds 80.3 %, above the brake's "
    "design holding load of 80.0 %."
)


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    client.force_login(cast.officer)
    return client


def undivided(cast: Cast, **columns: Any) -> Drum:
    drum: Drum = DrumParticularsFactory(
        drum__winch__vessel=cast.vessel,
        drum__kind="undivided",
        author=cast.officer,
        **{"reference_layer": 3, "figures": wide_drum() | {"lever_arm": figure("1200", "mm")}, **columns},
    ).drum
    return drum


def test_prepare_and_worksheet_warn_where_stop_means_too_much_on_the_first_layer(officer: Client, cast: Cast) -> None:
    make_ship(cast.vessel)
    drum = undivided(cast)
    text = look(officer, drum)
    assert AT_STOP in text
    # STOP itself stays the operator's ceiling on the layer of the test: 65 % of 637 kN, 183.0 bar.
    assert "Set by the operator's ceiling: 414.1 kN, 65.0 % of SDMBL" in text
    content = sheet(officer, drum)
    assert AT_STOP in text_of(content)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert len(pdf.pages) == 1


def test_the_fullest_sheet_with_the_warning_still_fits_one_page(officer: Client, cast: Cast) -> None:
    make_ship(cast.vessel)
    plain = {**figure("1", "mm"), "unit": "ratio"}
    band = {"lining_friction": {**plain, "text": "0.3", "si": 0.3}, "mark_per_band_travel": {**plain, "si": 1.0}}
    line = {"line_wll": figure("330", "kN"), "line_residual": figure("95", "percent"), "line_mbl": figure("660", "kN")}
    rest = {"wrap_angle": figure("290", "deg"), "lining_new": figure("12", "mm"), "lining_minimum": figure("7", "mm")}
    marks = {name: figure("40", "mm") for name in ("mark_least", "mark_most", "movement_per_turn")}
    lever = {"lever_arm": figure("1200", "mm"), "flange_diameter": figure("1100", "mm")}
    drum = undivided(cast, figures={**wide_drum(), **lever, **band, **line, **rest, **marks})
    content = sheet(officer, drum)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert len(pdf.pages) == 1
    text = text_of(content)
    assert AT_STOP in text
    assert "Breaking load of the fitted line" in text
    assert "Friction of the lining" not in text
    assert "Friction of the lining" in look(officer, drum)


@pytest.mark.parametrize("ceiling", ["0.64", "0.65"])
def test_there_is_no_warning_below_the_design_holding_load(officer: Client, cast: Cast, ceiling: str) -> None:
    # 64 % × 378 ÷ 306 = 79.1 %.
    PolicyFactory(company=cast.vessel.company, band_high="0.64", ceiling=ceiling)
    make_ship(cast.vessel)
    assert ("With the line down to layer 1" in look(officer, undivided(cast))) == (ceiling == "0.65")
    # A drum set on its first layer holds less on every other one.
    assert "With the line down to" not in look(officer, undivided(cast, reference_layer=1))


def test_prepare_names_an_estimate_an_estimate(officer: Client, cast: Cast) -> None:
    make_ship(cast.vessel)
    text = look(officer, undivided(cast))
    assert "Reeled the wrong way round: an estimate" in text
    assert "a band brake set to 60.0 % of SDMBL would hold about 10.0 % to 18.5 %" in text
    assert "ours, common practice, no published source" in text
    disc = undivided(cast, drum__brake_kind="disc")
    assert "wrong way round" not in look(officer, disc)


def test_the_record_keeps_every_layer_for_the_load_as_left(officer: Client, cast: Cast) -> None:
    make_ship(cast.vessel)
    test = filled_test(cast, drum=undivided(cast), readings=READINGS)
    sent = confirm_and_submit(cast, test)
    part = read_content(sent)["layers"]
    # Mean of 168 and 169 bar: 168.5 bar × 71.26 cm² × 1200 mm ÷ 378 mm = 381.2 kN.
    assert (part["load_of"], part["load_shown"], part["set_layer"]) == ("as_left", "381.2 kN", 3)
    assert [row["layer"] for row in part["rows"]] == [1, 2, 3, 4, 5]
    # × 378 ÷ 306 on layer 1.
    assert part["rows"][0]["on_line_load_shown"] == "470.9 kN"
    assert part["rows"][2]["nested_load_shown"] == "381.2 kN"
    assert part["at_stop"].startswith(AT_STOP)
    page = words(officer.get(reverse("records:record", args=[test.pk])).content)
    assert "The line on every layer" in page
    assert "381.2 kN, 59.8 % line on line; 381.2 kN, 59.8 % nested (the layer of the test)" in page
    assert AT_STOP in page


def test_before_any_slip_the_draft_reckons_with_the_target(cast: Cast) -> None:
    content = assess(filled_test(cast, drum=undivided(cast), readings=READINGS[:2])).content
    assert content is not None
    assert (content["layers"]["load_of"], content["layers"]["load_shown"]) == ("target", "382.2 kN")


def test_a_split_drum_s_record_and_one_from_before_say_nothing_of_layers(cast: Cast) -> None:
    content = read_content(submitted(cast))
    assert "layers" not in content
    section = next(part for part in sections_of(content) if part.title == "The line on every layer")
    assert section.rows == ()


def test_a_kit_whose_jacks_act_against_each_other_is_not_drawn(officer: Client, cast: Cast) -> None:
    ship = make_ship(cast.vessel)
    jack = ship.kit.kit_jacks.get().jack
    assert "The jack's side" in look(officer, ship.drums[0])
    jack.pk, jack.serial_number, jack.name, jack.kind = None, "P-1", "puller", "pull"
    jack._state.adding = True
    jack.save()
    ship.kit.kit_jacks.create(jack=jack, position=2)
    text = look(officer, ship.drums[0])
    assert "One jack of this kit pushes and the other pulls" in text
    assert "The jack's side" not in text
