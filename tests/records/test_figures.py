from datetime import date
from decimal import Decimal

import pytest

from fleet.calculation import units
from fleet.core.typed import Typed
from fleet.records.figures import FiguresMissing, figures_for, particulars_on
from fleet.vessels.models import policy_for
from tests.factories import DrumParticularsFactory, GaugeFactory, JackFactory, KitFactory, figure

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 20)


def test_the_target_is_the_constructed_case_c4() -> None:
    # Constructed with g0 and recomputed independently in tests/calculation; 637 kN × 60 %, D 610, d 36, S 71.26 cm².
    drum = DrumParticularsFactory().drum
    kit = KitFactory(vessel=drum.vessel)
    figures = figures_for(
        drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy_for(drum.vessel, DAY)
    )
    assert units.shown_quantity(figures.aim.reading_si, "bar", 2) == "173.24"
    assert figures.mark.shown == "173 bar"
    assert round(figures.mark.share, 4) == 0.5992
    assert figures.stop.limit == "gauge_usable_part"  # 75 % of 250 bar lies just below the ceiling's 187.7
    assert figures.stop_mark.reading == 187


def test_what_is_missing_is_said_in_sentences() -> None:
    drum = DrumParticularsFactory(figures={}).drum
    kit = KitFactory(vessel=drum.vessel)
    with pytest.raises(FiguresMissing) as caught:
        figures_for(drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy_for(drum.vessel, DAY))
    assert len(caught.value.sentences) == 2


def test_a_base_load_that_is_not_sdmbl_is_never_called_so_in_the_working() -> None:
    drum = DrumParticularsFactory(
        drum__winch__vessel__base_load_kind="line_mbl", drum__winch__vessel__base_load_document="mooring plan"
    ).drum
    kit = KitFactory(vessel=drum.vessel)
    figures = figures_for(
        drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy_for(drum.vessel, DAY)
    )
    words = " ".join(f"{step.formula_in_words} {[value.name for value in step.values]}" for step in figures.aim.steps)
    assert "MBL of the line from the mooring plan × share" in words
    assert "ship design" not in words


def test_the_arm_measured_at_the_drum_counts_for_every_jack_without_one_of_its_own() -> None:
    # 382.2 kN at 0.323 m over two jacks of 71.26 cm² at 1.2 m: 382200 × 0.323 ÷ (2 × 0.007126 × 1.2) Pa = 72.18 bar.
    particulars = DrumParticularsFactory()
    particulars.figures["lever_arm"] = figure("1200", "mm", "measured", "")
    particulars.save()
    vessel = particulars.drum.vessel
    kit = KitFactory(vessel=vessel, jacks=[JackFactory(vessel=vessel), JackFactory(vessel=vessel)])
    figures = figures_for(drum=particulars.drum, particulars=particulars, kit=kit, policy=policy_for(vessel, DAY))
    assert [row.lever_arm_shown for row in figures.jacks] == ["1200 mm", "1200 mm"]
    assert units.shown_quantity(figures.aim.reading_si, "bar", 2) == "72.18"


def test_no_mark_above_stop_is_named_as_the_one_to_read() -> None:
    # Divisions of 50 bar and a target of 176.1: the nearest mark, 200 bar, would lie beyond STOP at 187.7.
    drum = DrumParticularsFactory().drum
    coarse = GaugeFactory(
        vessel=drum.vessel, full_scale=Typed.read("400", "bar"), smallest_division=Typed.read("50", "bar")
    )
    kit = KitFactory(vessel=drum.vessel, gauge=coarse)
    policy = policy_for(drum.vessel, DAY)
    policy.share = Decimal("0.61")
    figures = figures_for(drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy)
    assert figures.stop_mark.reading == 150
    assert figures.mark.reading <= figures.stop_mark.reading


def test_a_gauge_so_coarse_that_its_stop_mark_lies_below_the_target_is_not_for_this_test() -> None:
    drum = DrumParticularsFactory().drum
    gauge = GaugeFactory(
        vessel=drum.vessel, full_scale=Typed.read("400", "bar"), smallest_division=Typed.read("20", "bar")
    )
    kit = KitFactory(vessel=drum.vessel, gauge=gauge)
    figures = figures_for(
        drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy_for(drum.vessel, DAY)
    )
    assert figures.stop.target_is_above_stop is False  # by the exact figures: 173.2 against 187.7
    assert figures.stop_mark.reading == 180
    coarser = GaugeFactory(
        vessel=drum.vessel, full_scale=Typed.read("400", "bar"), smallest_division=Typed.read("50", "bar")
    )
    kit = KitFactory(vessel=drum.vessel, gauge=coarser)
    figures = figures_for(
        drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy_for(drum.vessel, DAY)
    )
    assert figures.stop_mark.reading == 150
    assert figures.aim_lies_above_stop
