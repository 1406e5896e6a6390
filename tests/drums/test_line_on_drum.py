"""The drum's page on the line: other layers, another line since the last test, reeled the wrong way round."""

from datetime import date, timedelta
from math import exp, radians
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.drums.models import Drum
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumParticularsFactory, PolicyFactory, figure
from tests.records.sent import send
from tests.records.test_prepare_page import words

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    client.force_login(cast.officer)
    return client


def made(cast: Cast, line: str = "36", valid_from: date = date(2025, 1, 1), **columns: Any) -> Drum:
    """D = 16 d for a line of 36 mm, as MEG's own comparison of layers has it."""
    figures = {"drum_diameter": figure("576", "mm"), "line_diameter": figure(line, "mm"), **columns.pop("more", {})}
    drum: Drum = DrumParticularsFactory(
        drum__winch__vessel=cast.vessel, valid_from=valid_from, figures=figures, **columns
    ).drum
    return drum


def undivided(cast: Cast, **columns: Any) -> Drum:
    return made(cast, drum__kind="undivided", reference_layer=3, **columns)


def new_line(drum: Drum, line: str, since: date, **columns: Any) -> None:
    figures = {"drum_diameter": figure("576", "mm"), "line_diameter": figure(line, "mm")}
    DrumParticularsFactory(drum=drum, valid_from=since, figures=figures, **columns)


def look(client: Client, drum: Drum) -> str:
    answer = client.get(reverse("drums:drum", args=[drum.pk]))
    assert answer.status_code == 200
    return words(answer.content)


def test_an_untested_undivided_drum_shows_the_layers_for_what_it_is_to_be_set_to(officer: Client, cast: Cast) -> None:
    text = look(officer, undivided(cast))
    assert "Reckoned for what the brake is to be set to: 382.2 kN, 60.0 % of SDMBL." in text
    # Facts of the trade, D = 16 d: 60 % set on layer 3 is 74 % on layer 1.
    assert "1 472.1 74.1 460.1 72.2" in text
    assert "3 382.2 60.0 382.2 60.0 the layer of the test" in text
    # WLL of a wire, 55 % of SDMBL (MEG4, published summary): layers 4 and 5 hold less.
    assert "From layer 4 upwards the brake renders below the line's working load limit of 55.0 %" in text


def test_the_table_follows_the_operator_s_share_and_then_the_last_test(officer: Client, cast: Cast) -> None:
    drum = undivided(cast)
    PolicyFactory(company=cast.vessel.company, share="0.58", band_low="0.53", band_high="0.63", ceiling="0.63")
    assert "set to: 369.5 kN, 58.0 % of SDMBL." in look(officer, drum)
    send(drum, TODAY() - timedelta(days=30), as_left_share=0.62, as_left_load_n=0.62 * 637e3)
    text = look(officer, drum)
    assert "what the brake rendered at when tested on" in text
    assert "394.9 kN, 62.0 % of SDMBL." in text


def test_the_line_s_own_limit_is_the_one_that_counts(officer: Client, cast: Cast) -> None:
    limit = {"line_wll": figure("331.24", "kN", "certificate", "L-3")}  # 52 % of 637 kN
    text = look(officer, undivided(cast, more=limit))
    assert "Working load limit of the line: 52.0 % of SDMBL" in text
    # D = 16 d: 60 % × 378 ÷ 450 = 50.4 % on layer 5; layer 4 holds 54.8 %.
    assert "With the line on layer 5 the brake renders at 50.4 % of SDMBL, below the line's working load limit" in text


def test_a_split_drum_has_one_layer_and_no_table(officer: Client, cast: Cast) -> None:
    assert "the load on every layer" not in look(officer, made(cast))


def test_a_worn_line_is_held_against_what_is_left_of_it(officer: Client, cast: Cast) -> None:
    text = look(officer, made(cast, more={"line_residual": figure("75", "percent")}))
    # Facts of the trade (retirement from memory): at 75 % left a brake at 60 % takes 80 % of it.
    assert "The brake renders at 80.0 % of what is left of this line (75.0 % of SDMBL)." in text
    assert "usually retired at 75.0 % (from memory)" in text
    assert "Reckoned for what the brake is to be set to: 382.2 kN" in text
    assert "Worn line" not in look(officer, made(cast))
    weak = look(officer, made(cast, more={"line_residual": figure("55", "percent")}))
    assert "the line may part before the brake slips. Take it out of use." in weak


def test_another_base_load_is_not_called_sdmbl(officer: Client, cast: Cast) -> None:
    cast.vessel.base_load_kind = "line_mbl"
    cast.vessel.save()
    text = look(officer, undivided(cast))
    assert "60.0 % of the base load" in text
    assert "SDMBL" not in text


def test_the_wrong_direction_is_an_estimate_and_says_what_it_assumes(officer: Client, cast: Cast) -> None:
    text = look(officer, made(cast))
    # Euler-Eytelwein over 270 degrees: 60 % ÷ e^(0.38 × 4.712) and ÷ e^(0.25 × 4.712), 10.0 % and 18.5 %.
    assert (round(60 / exp(0.38 * radians(270)), 1), round(60 / exp(0.25 * radians(270)), 1)) == (10.0, 18.5)
    assert "Estimate only: with the line reeled the wrong way round, a band brake set to 60.0 % of SDMBL" in text
    assert "about 10.0 % to 18.5 %, for a lining friction of 0.25 to 0.38 and a wrap of 270.0 °" in text
    assert "Wrap and friction are assumed: ours, common practice, no published source." in text


def test_the_drum_s_own_wrap_and_friction_count_and_nothing_is_assumed_then(officer: Client, cast: Cast) -> None:
    band = {"wrap_angle": figure("300", "deg"), "lining_friction": {**figure("1", "mm"), "unit": "ratio"}}
    band["lining_friction"] |= {"text": "0.3", "si": 0.3}
    text = look(officer, made(cast, more=band))
    assert round(60 / exp(0.3 * radians(300)), 1) == 12.5
    assert "would hold about 12.5 %, for a lining friction of 0.30 and a wrap of 300.0 °" in text
    assert "ours, common practice" not in text
    assert "The lining's friction is assumed" in look(officer, made(cast, more={"wrap_angle": band["wrap_angle"]}))


@pytest.mark.parametrize("kind", ["disc", "spring_applied"])
def test_a_brake_without_a_band_has_no_such_estimate(officer: Client, cast: Cast, kind: str) -> None:
    assert "Estimate only" not in look(officer, made(cast, drum__brake_kind=kind))


def test_another_line_says_what_the_old_mark_is_worth_until_the_drum_is_tested_again(
    officer: Client, cast: Cast
) -> None:
    drum = made(cast)
    send(drum, TODAY() - timedelta(days=60), as_left_share=0.6, as_left_load_n=382_200.0)
    assert "Another line" not in look(officer, drum)
    new_line(drum, "44", TODAY() - timedelta(days=10))
    text = look(officer, drum)
    assert "44 mm instead of 36 mm. A retest is due." in text
    # Moment balance: 60 % × (576 + 36) ÷ (576 + 44) = 59.2 %.
    assert round(60 * (576 + 36) / (576 + 44), 1) == 59.2
    assert (
        "At the old mark the brake would render at 59.2 % of SDMBL with the new line, 0.8 points lower than the 60.0 % "
        "it was set to. Do not use the old mark: test again with the new line." in text
    )
    send(drum, TODAY() - timedelta(days=1), particulars=drum.particulars.first(), as_left_load_n=382_200.0)
    assert "Another line" not in look(officer, drum)


def test_a_line_to_come_is_said_before_its_day(officer: Client, cast: Cast) -> None:
    drum = made(cast)
    send(drum, TODAY() - timedelta(days=60), as_left_load_n=382_200.0)
    new_line(drum, "28", TODAY() + timedelta(days=10))
    text = look(officer, drum)
    assert "28 mm instead of 36 mm" in text
    # Moment balance: 60 % × 612 ÷ 604 = 60.8 %.
    assert "60.8 % of SDMBL with the new line, 0.8 points higher" in text


def test_with_another_line_on_layer_three_the_change_is_that_of_layer_three(officer: Client, cast: Cast) -> None:
    drum = undivided(cast)
    send(drum, TODAY() - timedelta(days=60), as_left_load_n=382_200.0)
    new_line(drum, "44", TODAY() - timedelta(days=10), reference_layer=3)
    # Moment balance on layer 3: 576/2 + 2.5 d, so 60 % × 378 ÷ 398 = 57.0 %; the table starts from there.
    text = look(officer, drum)
    assert "At the old mark the brake would render at 57.0 % of SDMBL with the new line, 3.0 points lower" in text
    assert "with the line now on the drum: 363.0 kN, 57.0 % of SDMBL." in text


@pytest.mark.parametrize(("kind", "said"), [("lining_renewed", False), ("wrong_mark", False), ("laid_up", True)])
def test_after_work_on_the_brake_the_old_mark_is_worth_nothing(
    officer: Client, cast: Cast, kind: str, said: bool
) -> None:
    drum = made(cast)
    send(drum, TODAY() - timedelta(days=60), as_left_load_n=382_200.0)
    new_line(drum, "44", TODAY() - timedelta(days=10))
    BrakeEventFactory(drum=drum, happened_on=TODAY() - timedelta(days=5), kind=kind)
    assert ("At the old mark the brake would render" in look(officer, drum)) == said
