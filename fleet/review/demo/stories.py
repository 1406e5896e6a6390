"""What happened aboard the demo fleet: years of rounds, and this year's troubles, told through the services."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from typing import Any

from fleet.calculation import gauge as gauge_rules
from fleet.calculation import units
from fleet.drums.models import Drum
from fleet.drums.services import brake_event_report, retest_order_give
from fleet.gauges.models import Kit
from fleet.records.draft import CHECKS
from fleet.records.drafts import draft_save, drum_test_start, reading_add
from fleet.records.figures import Figures, figures_for, particulars_on
from fleet.records.models import DrumTest, Round, Submission
from fleet.records.rounds import round_close, round_open
from fleet.records.submissions import drum_test_submit, instruments_confirm, master_release
from fleet.review.demo.fleet_file import Ship, Shore
from fleet.review.services import submission_approve, submission_return
from fleet.vessels.models import policy_for

POINTS_PER_MM = 0.017
WEAR_MM_A_YEAR = 0.9
HAND_SHARE = 0.008


@dataclass
class Brake:
    """How one invented brake behaves: the mark for exactly the target creeps as the lining wears."""

    mark_mm: float
    lining_mm: float
    left_at_mm: float
    chance: Random = field(repr=False)
    hand: Random = field(repr=False)

    def share_at(self, mark_mm: float) -> float:
        return 0.60 + POINTS_PER_MM * (self.mark_mm - mark_mm) + self.chance.gauss(0, 0.003)

    def wear(self) -> None:
        self.mark_mm -= WEAR_MM_A_YEAR + self.chance.gauss(0, 0.1)
        self.lining_mm -= 0.25


@dataclass(frozen=True)
class Visit:
    """One test to tell: what was found (None: not tested as found), where it was left, and how it ended."""

    found_share: float | None  # above STOP: held there, more than that
    shares: tuple[float, ...]
    found_mm: float
    left_mm: float
    lining_mm: float
    extra: dict[str, str] = field(default_factory=dict)
    found_again: float | None = None
    """How far off the share came out when the brake was dried and re-applied at the old mark; None: not re-applied."""


def brakes_of(ship: Ship) -> dict[Any, Brake]:
    """The same invented brakes at every run: seeded by the drum's name."""
    brakes = {}
    for drum in ship.drums:
        chance = Random(f"{ship.vessel.imo_number} {drum.name}")
        mark = round(chance.uniform(38, 72) * 2) / 2
        hand = Random(f"hand of {ship.vessel.imo_number} {drum.name}")
        brakes[drum.pk] = Brake(mark, 11.6, mark + 0.5, chance, hand)
    return brakes


def tell_earlier_years(
    ship: Ship, shore: Shore, brakes: dict[Any, Brake], *, now: datetime, days: Sequence[int]
) -> None:
    """A closed round for each of so many days ago, every drum tested, approved and certified."""
    for days_ago in days:
        at = now - timedelta(days=days_ago)
        round_ = open_round(ship, at)
        for hour, drum in enumerate(ship.drums):
            tell_good_test(ship, shore, round_, drum, brakes[drum.pk], at=at + timedelta(minutes=35 * hour))
        round_close(round=round_, actor=ship.people["officer"], at=at)
        for brake in brakes.values():
            brake.wear()


def tell_good_test(
    ship: Ship, shore: Shore, round_: Round, drum: Drum, brake: Brake, *, at: datetime, paper_at_once: bool = False
) -> Submission:
    """Found, adjusted, verified, sent, approved; old papers are made when somebody asks for them."""
    submission = send(ship, record(ship, round_, drum, good_visit(brake), at=at), at=at)
    approve(shore, submission, at + timedelta(days=1), paper_at_once=paper_at_once)
    return submission


def good_visit(brake: Brake, *, found_share: float | None = None, left_mm: float | None = None) -> Visit:
    found = brake.share_at(brake.left_at_mm) if found_share is None else found_share
    target_mm = round(brake.mark_mm * 2) / 2 if left_mm is None else left_mm
    visit = Visit(
        found_share=found,
        shares=(brake.share_at(target_mm), brake.share_at(target_mm)),
        found_mm=brake.left_at_mm,
        left_mm=target_mm,
        lining_mm=brake.lining_mm,
        found_again=brake.hand.gauss(0, HAND_SHARE) if found_share is None else None,
    )
    brake.left_at_mm = target_mm
    return visit


def open_round(ship: Ship, at: datetime, kind: str = "yearly") -> Round:
    return round_open(
        vessel=ship.vessel,
        kind=kind,
        started_on=at.date(),
        kit=ship.kit,
        place="at anchor, inner roads",
        permit=f"{at:%y}-{at:%j}",
        people=[
            {"name": person.name, "rank": person.rank} for person in (ship.people["officer"], ship.people["engineer"])
        ],
        weather="dry, wind force 2",
        done_by="crew",
        actor=ship.people["officer"],
        at=at,
    )


def record(ship: Ship, round_: Round, drum: Drum, visit: Visit, *, at: datetime, upto: str = "end") -> DrumTest:
    """Write the draft and its readings; `upto="readings"` leaves the test half done."""
    officer = ship.people["officer"]
    test = drum_test_start(drum=drum, round=round_, actor=officer, at=at)
    lining = [units.shown(visit.lining_mm + step, 1) for step in (0.1, 0.0, -0.1)]
    values = {
        **{check.name: "on" for check in CHECKS},
        "tested_on": at.date().isoformat(),
        "tested_at": at.strftime("%H:%M"),
        "brake_state": "dry",
        **dict(zip(("lining_1", "lining_2", "lining_3"), lining, strict=True)),
        "lining_unit": "mm",
        "lining_condition": "sound",
        "drum_surface": "smooth",
        "band_rest": "clear",
        "setting_unit": "mm",
        "old_mark": _mm(visit.found_mm),
        **visit.extra,
    }
    test = draft_save(test=test, values=values, revision=test.draft_revision, actor=officer, at=at)
    figures = _figures(ship, drum, at)
    if visit.found_share is not None:
        _read(test, figures, "as_found_untouched", visit.found_mm, visit.found_share, ship, at)
        if visit.found_again is not None and upto == "end":
            _read(test, figures, "as_found_reapplied", visit.found_mm, visit.found_share + visit.found_again, ship, at)
    if upto == "readings":
        return test
    if visit.shares and visit.found_share is not None and abs(visit.found_share - visit.shares[0]) > 0.03:
        # Approached from below: first well slack of where it ends.
        slack_mm = max(visit.left_mm, visit.found_mm) + 2
        _read(test, figures, "adjusting", slack_mm, visit.shares[0] - 0.04, ship, at)
    for share in visit.shares:
        _read(test, figures, "verification", visit.left_mm, share, ship, at)
    if visit.shares:
        test.refresh_from_db()
        end = {
            "final_mark": _mm(visit.left_mm),
            "mark_fixed": "steel tag bolted beside the spindle",
            "outcome": "set_in_band",
        }
        draft_save(test=test, values={**end, **visit.extra}, revision=test.draft_revision, actor=officer, at=at)
    return test


def send(ship: Ship, test: DrumTest, *, at: datetime) -> Submission:
    """Confirmed by the chief engineer, released by the master, sent by the officer."""
    people = ship.people
    for confirm, role in ((instruments_confirm, "engineer"), (master_release, "master")):
        confirm(test=test, name=people[role].name, rank=people[role].rank, actor=people[role], at=at)
    officer = people["officer"]
    return drum_test_submit(test=test, declared_name=officer.name, declared_rank=officer.rank, actor=officer, at=at)


def approve(shore: Shore, submission: Submission, at: datetime, *, paper_at_once: bool = False) -> None:
    answers = {
        finding.code: "looked into with the ship: right as it stands"
        for finding in submission.findings.filter(level="ask")
    }
    submission_approve(
        submission=submission,
        sentence="",
        finding_answers=answers,
        actor=shore.people["superintendent"],
        paper_at_once=paper_at_once,
        at=at,
    )


def tell_round_in_progress(ship: Ship, shore: Shore, brakes: dict[Any, Brake], *, now: datetime) -> None:
    """This year's round, half way: approved, waiting, returned, a defect, a draft on deck, and drums still to do."""
    at = now - timedelta(days=3)
    round_ = open_round(ship, at)
    for number, drum in enumerate(ship.drums[:4]):
        when = at + timedelta(minutes=40 * number)
        tell_good_test(ship, shore, round_, drum, brakes[drum.pk], at=when, paper_at_once=True)
    drums = iter(ship.drums[4:])
    tight, early, sent_back, defective, half_way = (next(drums) for _ in range(5))
    later = at + timedelta(days=1)
    send(ship, record(ship, round_, tight, good_visit(brakes[tight.pk], found_share=0.714), at=later), at=later)
    send(ship, record(ship, round_, early, good_visit(brakes[early.pk], found_share=0.511), at=later), at=later)
    returned = send(ship, record(ship, round_, sent_back, good_visit(brakes[sent_back.pk]), at=later), at=later)
    submission_return(
        submission=returned,
        sentence="The photo of the mark is missing: please add one with the rule beside the mark and send again.",
        actor=shore.people["superintendent"],
        at=later + timedelta(hours=20),
    )
    broken = Visit(
        found_share=0.462,
        shares=(),
        found_mm=brakes[defective.pk].left_at_mm,
        left_mm=brakes[defective.pk].left_at_mm,
        lining_mm=brakes[defective.pk].lining_mm,
        extra={
            "lining_condition": "oily",
            "outcome": "out_of_use",
            "defect_reference": "defect list 26-041",
            "who_was_told": "superintendent by telephone, master, all on deck",
            "remarks": "oil on the lining from the gear case; drum tagged out of use",
        },
    )
    failed = send(ship, record(ship, round_, defective, broken, at=later), at=later)
    approve(shore, failed, later + timedelta(hours=22))
    record(ship, round_, half_way, good_visit(brakes[half_way.pk]), at=now - timedelta(hours=2), upto="readings")


def tell_slip_and_retest(ship: Ship, shore: Shore, *, now: datetime) -> None:
    """A brake slipped in a squall; shore ordered a retest."""
    drum = ship.drums[4]
    slipped = now - timedelta(days=9)
    brake_event_report(
        drum=drum,
        happened_on=slipped.date(),
        kind="unintended_slip",
        note="line paid out about two metres in a squall, brake re-applied by hand",
        berth="Outer quay 3 (demo)",
        wind="gusts to 30 knots off the berth",
        actor=ship.people["officer"],
        at=slipped,
    )
    retest_order_give(
        drum=drum,
        due_on=(now + timedelta(days=12)).date(),
        reason="slipped unintended in the squall: prove it before the next exposed berth",
        actor=shore.people["superintendent"],
        at=slipped + timedelta(days=1),
    )


def tell_copied_marks(ship: Ship, shore: Shore, brakes: dict[Any, Brake], *, now: datetime) -> None:
    """Four drums sent with one marker distance, though last year their marks differed."""
    at = now - timedelta(days=6)
    round_ = open_round(ship, at)
    for number, drum in enumerate(ship.drums[:4]):
        when = at + timedelta(minutes=40 * number)
        visit = good_visit(brakes[drum.pk])
        copied = Visit(visit.found_share, visit.shares, visit.found_mm, 48.0, visit.lining_mm)
        send(ship, record(ship, round_, drum, copied, at=when), at=when)


def _figures(ship: Ship, drum: Drum, at: datetime) -> Figures:
    kit = Kit.objects.whole().get(pk=ship.kit.pk)
    policy = policy_for(ship.vessel, at.date())
    return figures_for(drum=drum, particulars=particulars_on(drum, at.date()), kit=kit, policy=policy, on=at.date())


def _read(test: DrumTest, figures: Figures, phase: str, mark_mm: float, share: float, ship: Ship, at: datetime) -> None:
    """What this gauge would show for that share, read to its smallest division."""
    gauge = ship.kit.gauge
    # A brake that holds past STOP is never pumped to its slip: it held at STOP, and was released.
    held = share > figures.stop_mark.share
    aimed = figures.stop_mark.share if held else share
    exact = units.from_si(figures.target.pressure_for(aimed * figures.aim.sdmbl_n), gauge.unit)
    division = units.from_si(gauge.smallest_division.si, gauge.unit)
    shown = gauge_rules.nearest_division(exact, division)
    reading_add(
        test=test,
        phase=phase,
        mark_text=_mm(mark_mm),
        gauge_text=f"{shown:g}",
        slipped=not held,
        reapplied=phase != "as_found_untouched",
        rest_minutes="5",
        actor=ship.people["officer"],
        at=at,
    )


def _mm(value: float) -> str:
    return units.shown(value, 1)
