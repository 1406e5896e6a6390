from datetime import date

import pytest

from fleet.calculation import units
from fleet.records.figures import FiguresMissing, figures_for, particulars_on
from fleet.vessels.models import policy_for
from tests.factories import DrumParticularsFactory, KitFactory

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
