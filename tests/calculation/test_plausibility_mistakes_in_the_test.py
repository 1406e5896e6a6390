"""Each mistake in the test itself, made on an otherwise good record, is named for what it is, at its level.

The list of mistakes and what goes wrong on deck is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import date

import pytest

from fleet.calculation.plausibility import EventFacts, SisterTest
from tests.calculation.good_record import Record, alone, good_record

Mistake = Callable[[Record], Record]

BAR_PER_PSI = 0.06894757293168362  # NIST SP 811
BAR_PER_MPA = 10.0

LINING_RENEWED = EventFacts("lining_renewed", date(2026, 8, 1))


def facts(**changes: object) -> Mistake:
    return lambda record: record.with_test(**changes)


def readings(*bars: float) -> Mistake:
    """All five readings of the good record, in bar."""

    def made(record: Record) -> Record:
        for phase, part in (("as_found_untouched", bars[:1]), ("adjusting", bars[1:3]), ("verification", bars[3:])):
            record = record.with_pressures(phase, *part)
        return record

    return made


def as_found(bars: float) -> Mistake:
    return lambda record: record.with_pressures("as_found_untouched", bars)


def slips(*bars: float) -> Mistake:
    return lambda record: record.with_pressures("verification", *bars)


def lining(*millimetres: float) -> Mistake:
    return lambda record: record.with_test(lining_m=tuple(value / 1000 for value in millimetres))


def events(*added: EventFacts) -> Mistake:
    return lambda record: replace(record, events=(*record.events, *added))


def both(*mistakes: Mistake) -> Mistake:
    def made(record: Record) -> Record:
        for mistake in mistakes:
            record = mistake(record)
        return record

    return made


def on_psi_gauge(record: Record) -> Record:
    """A gauge in psi, but the figures are those of its bar scale."""
    record = record.with_gauge(id="G5", unit="psi", full_scale_pa=6000 * BAR_PER_PSI * 1e5, division_pa=50 * 6894.757)
    scaled = [replace(one, reading_pa=(one.reading_pa or 0.0) * BAR_PER_PSI) for one in record.test.readings]
    return record.with_test(readings=tuple(scaled))


def digital_gauge(record: Record) -> Record:
    """Read to a bar, so that chance repeats nothing."""
    record = record.with_gauge(division_pa=1e5)
    return readings(163, 171, 175, 179, 182)(record)


def copied(record: Record) -> Record:
    """This year's record is last year's, readings, marks and lining."""
    record = digital_gauge(record)
    record = record.with_last(readings=record.test.readings, lining_m=record.test.lining_m)
    return record


def copied_readings_only(record: Record) -> Record:
    """On divisions of 5 bar, and with a lining measured anew, equal readings may be chance."""
    record = readings(165, 170, 175, 180, 180)(record.with_gauge(division_pa=5e5))
    return record.with_last(readings=record.test.readings)


def without_slips(record: Record) -> Record:
    return record.with_test(readings=tuple(one for one in record.test.readings if one.phase != "verification"))


def one_mark(*earlier_mm: float) -> Mistake:
    """Sister drums left at this drum's mark, with their earlier marks."""
    sisters = tuple(
        SisterTest(f"D{number}", "marker_distance", 0.065, before / 1000)
        for number, before in enumerate(earlier_mm, start=2)
    )
    return lambda record: replace(record, sisters=sisters)


def mark_went_slack(record: Record) -> Record:
    """The lining lost 0.6 mm, yet the mark went back 4 mm and the brake renders as before."""
    moved = [replace(one, mark_si=(one.mark_si or 0.0) - 0.007) for one in record.test.readings[1:]]
    return lining(9.8, 9.9, 9.7)(record.with_test(readings=(record.test.readings[0], *moved)))


def mark_stood_still(record: Record) -> Record:
    """The lining lost 2 mm, 9.4 mm of band travel over 270 degrees, and the mark moved 3 mm only."""
    return lining(8.4, 8.5, 8.3)(record)


def moved_by(metres: float) -> Mistake:
    def made(record: Record) -> Record:
        moved = [replace(one, mark_si=(one.mark_si or 0.0) + metres) for one in record.test.readings[1:]]
        return record.with_test(readings=(record.test.readings[0], *moved))

    return made


def mark_went_far(record: Record) -> Record:
    """The mark moves as far as the band's end; the lining lost 0.3 mm and the mark moved 23 mm."""
    return moved_by(0.020)(record.with_drum(mark_per_band_travel=1.0))


def mark_went_far_by_any_linkage(record: Record) -> Record:
    """Even a mark that moves twelve times as far as the band's end does not move 83 mm for 0.3 mm of lining."""
    return moved_by(0.080)(record.with_drum(mark_high_si=None))


def mark_nowhere_usual(record: Record) -> Record:
    record = alone(record).with_drum(mark_low_si=None, mark_high_si=None)
    moved = [replace(one, mark_si=(one.mark_si or 0.0) + 0.1) for one in record.test.readings]
    return record.with_test(readings=tuple(moved))


# code, level, the mistake, other findings above note that come with it
MISTAKES: list[tuple[str, str, Mistake, Collection[str]]] = [
    # The deck
    ("pay_out_side_not_confirmed", "stop", facts(pay_out_side_confirmed=False), ()),
    ("sister_drum_holds_line", "stop", facts(sister_drum_clear=False), ()),
    ("reeled_other_way", "stop", facts(reeled_as_marked=False), ()),
    ("drum_surface_pitted", "ask", facts(drum_surface_ok=False), ()),
    ("band_drags_at_rest", "ask", facts(band_rest_ok=False), ()),
    ("brake_wet", "ask", facts(brake_wet=True), ()),
    ("not_run_in", "ask", facts(run_in=False), ()),
    # Units of readings
    (
        "wrong_unit",
        "ask",
        slips(17.8, 18.2),
        ("gauge_bottom_of_scale", "in_band_not_borne_out", "load_falls_when_tightened"),
    ),
    ("wrong_unit", "ask", as_found(16.4), ()),
    ("wrong_unit", "ask", on_psi_gauge, ("gauge_bottom_of_scale", "in_band_not_borne_out")),
    (
        "wrong_unit",
        "ask",
        both(slips(178 / BAR_PER_PSI, 182 / BAR_PER_PSI), lambda r: r.with_gauge(full_scale_pa=None)),
        ("reading_above_jack_rating", "reading_above_stop", "left_at_design_holding"),
    ),
    (
        "slipped_decimal",
        "ask",
        lambda r: r.with_pressures("as_found_untouched", 16.4).with_gauge(unit="kPa", id="G6"),
        (),
    ),
    # Readings
    ("wrong_pay_out_direction", "ask", as_found(164 / 3), ()),
    ("wrong_pay_out_direction", "ask", as_found(164 / 6), ()),
    ("wrong_pay_out_direction", "ask", both(as_found(164 / 3.25), alone), ()),
    ("reading_above_stop", "ask", as_found(200), ()),
    (
        "reading_above_full_scale",
        "stop",
        both(as_found(430), facts(stop_pressure_pa=None)),
        ("found_at_design_holding",),
    ),
    (
        "reading_above_jack_rating",
        "stop",
        both(lambda r: r.with_jack(rated_pressure_pa=170e5, nominal_capacity_n=None)),
        (),
    ),
    ("spread_of_repeats", "ask", slips(166, 190), ()),
    ("too_few_verification_slips", "ask", facts(policy_slips=3), ()),
    (
        "no_release_between_slips",
        "ask",
        lambda r: r.with_reading(4, released_and_reapplied=False),
        (),
    ),
    ("layer_differs", "ask", lambda r: r.with_reading(3, layer=2), ()),
    ("verification_marks_differ", "ask", lambda r: r.with_reading(4, mark_si=0.066), ()),
    ("mark_outside_limits", "ask", lambda r: r.with_drum(mark_high_si=0.064), ()),
    (
        "load_falls_when_tightened",
        "ask",
        lambda r: r.with_drum(tighter_direction=-1).with_pressures("adjusting", 152, 164),
        (),
    ),
    (
        "load_falls_when_tightened",
        "ask",
        lambda r: r.with_reading(1, reading_pa=210e5, result="held"),
        ("reading_above_stop",),
    ),
    ("unusual_marker_distance", "ask", mark_nowhere_usual, ()),
    ("left_at_another_mark", "ask", facts(mark_left_si=0.056), ()),  # 65 mm, written down as 56
    (
        "verification_held_above_band",
        "ask",
        lambda r: r.with_test(
            readings=(*r.test.readings, replace(r.test.readings[-1], reading_pa=191e5, result="held"))
        ),
        (),
    ),
    # Figures written, not read
    ("target_written_as_reached", "ask", slips(176.85, 176.85), ()),
    ("target_written_as_reached", "ask", both(digital_gauge, slips(176.8, 176.8)), ()),
    ("last_year_copied", "ask", copied, ()),
    ("readings_as_last_year", "note", copied_readings_only, ()),
    ("one_mark_for_all", "ask", one_mark(47, 53, 70), ()),
    ("readings_in_tens", "note", readings(160, 170, 170, 170, 180), ()),
    # The past
    ("as_found_after_brake_work", "stop", events(LINING_RENEWED), ()),
    ("as_found_after_brake_work", "stop", events(EventFacts("spindle_renewed", date(2026, 11, 20))), ()),
    ("as_found_after_brake_work", "stop", both(alone, events(EventFacts("brake_overhauled", date(2026, 6, 1)))), ()),
    # Relined, then a test that set nothing.
    (
        "as_found_after_brake_work",
        "stop",
        both(
            events(LINING_RENEWED),
            lambda record: replace(
                record,
                previous=(
                    *record.previous,
                    replace(record.previous[-1], tested_on=date(2026, 11, 1), set_in_band=False),
                ),
            ),
        ),
        (),
    ),
    (
        "lining_bedding_in",
        "note",
        both(events(LINING_RENEWED), lambda r: r.with_test(readings=r.test.readings[1:])),
        (),
    ),
    ("slipped_in_service", "note", events(EventFacts("unintended_slip", date(2026, 3, 3))), ()),
    ("dated_before_brake_work", "ask", events(EventFacts("lining_renewed", date(2026, 11, 22))), ()),
    (
        "dated_before_last_test",
        "ask",
        both(facts(tested_on=date(2025, 3, 1)), lambda r: r.with_gauge(calibrated_on=None)),
        (),
    ),
    ("lining_below_minimum", "stop", lining(6.4, 5.9, 6.3), ("mark_against_lining",)),
    ("lining_much_worn", "ask", lining(7.3, 7.1, 7.2), ("mark_against_lining",)),
    ("lining_grew", "ask", lining(11.5, 11.4, 11.6), ()),
    ("lining_above_new", "ask", both(lining(14.5, 14.4, 14.4), lambda r: r.with_last(lining_m=())), ()),
    (
        "unusual_lining",
        "ask",
        both(lining(21, 21, 21), lambda r: r.with_last(lining_m=()).with_drum(lining_new_m=0.022)),
        (),
    ),
    ("mark_against_lining", "ask", mark_went_slack, ()),
    ("mark_against_lining", "ask", mark_stood_still, ()),
    ("mark_against_lining", "ask", mark_went_far, ()),
    ("mark_against_lining", "ask", mark_went_far_by_any_linkage, ()),
    # The outcome
    ("in_band_not_borne_out", "stop", slips(194, 196), ("reading_above_stop",)),
    ("in_band_not_borne_out", "stop", slips(154, 156), ()),
    ("verification_slip_outside_band", "note", slips(158, 170), ()),
    ("set_without_slip", "stop", without_slips, ()),
    ("in_band_but_not_so_reported", "ask", facts(outcome="could_not_be_set"), ()),
    ("left_at_design_holding", "stop", both(slips(240, 240), facts(stop_pressure_pa=None)), ("eighty_for_sixty",)),
    ("eighty_for_sixty", "ask", both(slips(234, 230), facts(stop_pressure_pa=None)), ("in_band_not_borne_out",)),
    ("found_at_design_holding", "ask", both(as_found(250), facts(stop_pressure_pa=None)), ()),
]


@pytest.mark.parametrize(("code", "level", "mistake", "company"), MISTAKES)
def test_it_names_the_mistake_at_its_level(code: str, level: str, mistake: Mistake, company: Collection[str]) -> None:
    found = mistake(good_record()).find()
    assert code in {finding.code for finding in found}
    assert next(finding.level for finding in found if finding.code == code) == level
    others = {finding.code for finding in found if finding.level != "note"} - {code}
    assert others == set(company)
