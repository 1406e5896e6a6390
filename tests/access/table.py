"""The table of addresses: which act each asks for, about which thing, and what its form sends."""

from dataclasses import dataclass, field, replace
from typing import Any

from fleet.accounts.models import SHORE_ROLES, Role
from fleet.vessels.permissions import ALLOWED
from tests.access import sends
from tests.access.sends import Sends
from tests.access.world import SENT

PICTURE, PAPER, ARCHIVE = "image/jpeg", "application/pdf", "application/zip"
# Type and how it is shown: pictures may stand in a page, papers are saved; the worksheet is printed from the page.
FILES = {
    "drums:mark_picture": (PICTURE, "inline"),
    "records:photo": (PICTURE, "inline"),
    "gauges:calibration_document": (PAPER, "attachment"),
    "records:round_report": (PAPER, "attachment"),
    "records:worksheet": (PAPER, "inline"),
    "certificates:certificate_pdf": (PAPER, "attachment"),
    "certificates:tags": (PAPER, "attachment"),
    "certificates:round_summary": (PAPER, "attachment"),
    "certificates:vessel_zip": (ARCHIVE, "attachment"),
    "certificates:inspection_pack": (ARCHIVE, "attachment"),
}
PUBLIC, SIGNED_IN = "public", "signed in"
# How an address is used: looked at; looked at and sent; only sent; sent, with a way back to its page when looked at.
PAGE, FORM, ACT, WRITE = "page", "form", "act", "write"
WATCHERS = frozenset({Role.SUPERINTENDENT, Role.MANAGER})


@dataclass(frozen=True)
class Entry:
    """One address. `thing` is what of the ship it is about; an entry without one is a page of the person's own."""

    act: str
    thing: str = ""
    how: str = PAGE
    sends: Sends | None = None
    # Parts of the address beside the thing, and its query string.
    more: dict[str, Any] = field(default_factory=dict)
    query: str = ""
    # What GET answers those who may, and what the right form does.
    shown: frozenset[int] = frozenset({200})
    done: frozenset[int] = frozenset({302})
    # Deviations from the table of acts, each with its reason.
    roles: frozenset[str] | None = None
    seen_by: frozenset[str] | None = None
    without_role: frozenset[int] = frozenset()
    why: str = ""
    # The same address about other things of the ship, and what those who may get then.
    also: dict[str, frozenset[int]] = field(default_factory=dict)
    # Who had a role reads here what it was, and on which vessel, until when.
    own_past: bool = False
    # Fields that may name the sister's things too, for those who see both.
    shared: frozenset[str] = frozenset()

    @property
    def allowed(self) -> frozenset[str]:
        return self.roles if self.roles is not None else ALLOWED[self.act]


def paper(act: str, thing: str, **more: Any) -> Entry:
    """A PDF made on the spot; 503 says that this machine cannot make one."""
    return Entry(act, thing, shown=frozenset({200, 503}), **more)


def way(act: str, thing: str, form: Sends | None = None, **more: Any) -> Entry:
    """A form's own address that leads back to its page when looked at."""
    return Entry(act, thing, WRITE, form, shown=frozenset({302}), **more)


def about_people(thing: str, how: str, form: Sends | None, **more: Any) -> Entry:
    why = "ship's people and auditors see no other people: 404, as outside"
    return Entry("edit_people", thing, how, form, seen_by=frozenset(SHORE_ROLES), why=why, **more)


SHOWN, LED_ON, NOT_THERE = frozenset({200}), frozenset({302}), frozenset({404})
TODAY_WHY = "the queue is the superintendent's; the manager looks on"
SHUT = Entry(PUBLIC, shown=NOT_THERE, why="an address is changed by nobody behind the administrator's back")
BOTH_VESSELS = "an administrator gives access to every vessel of the company"

TABLE: dict[str, Entry] = {
    "home": Entry(SIGNED_IN, shown=frozenset({200, 302})),
    "health": Entry(PUBLIC),
    # pages of the sign-in library that are shut
    "usersessions_list": replace(SHUT, why="the list of sign-ins is a page of ours"),
    **dict.fromkeys(("account_email", "account_email_verification_sent", "account_confirm_login_code"), SHUT),
    "account_confirm_email": replace(SHUT, more={"key": "abc"}),
    # vessels, policy, people
    "vessels:vessel_list": Entry(SIGNED_IN),
    "vessels:vessel_new": Entry("edit_vessel", how=FORM, sends=sends.vessel),
    "vessels:vessel": Entry("view", "vessel"),
    "vessels:vessel_edit": Entry("edit_vessel", "vessel", FORM, sends.vessel_changed),
    "vessels:policy_list": Entry(SIGNED_IN),
    "vessels:policy_new": Entry(
        "edit_policy",
        how=FORM,
        sends=sends.POLICY,
        done=frozenset({200}),  # shown once more beside what it changes, before it is recorded
        without_role=frozenset({302}),
        why="who has no company is led to the list",
    ),
    "vessels:people_list": Entry(SIGNED_IN),
    "vessels:person_new": Entry(
        "edit_people", how=FORM, sends=sends.person, shared=frozenset({"vessels"}), why=BOTH_VESSELS
    ),
    "vessels:second_factor": Entry("edit_people", how=FORM, sends=sends.second_factor),
    "vessels:person": Entry(
        "view",
        "person",
        seen_by=frozenset(SHORE_ROLES),
        why="ship's people and auditors see no other people: 404, as outside",
    ),
    "vessels:password_link": about_people("person", ACT, None),
    "vessels:membership_give": about_people("person", FORM, sends.role, shared=frozenset({"vessels"})),
    "vessels:access_give": about_people("person", FORM, sends.access, shared=frozenset({"vessel"})),
    "vessels:membership_end": about_people("membership", FORM, sends.END),
    "vessels:access_end": about_people("access", FORM, sends.END),
    "vessels:person_correct": about_people("person", FORM, sends.fixed(name="Put Right", rank="", reason="misspelt")),
    "vessels:account_switch": about_people("person", FORM, sends.REASON),
    "vessels:factor_forget": about_people("person", FORM, sends.REASON, done=frozenset({200})),  # has none to forget
    "vessels:me": Entry(SIGNED_IN, own_past=True),
    "vessels:sign_ins": Entry(SIGNED_IN, how=FORM),
    # winches and drums
    "drums:drum_list": Entry("view", "vessel"),
    "drums:drum_new": Entry("edit_drums", "vessel", FORM, sends.drum),
    "drums:winch_new": Entry("edit_drums", "vessel", FORM, sends.WINCH),
    "drums:winch_edit": Entry("edit_drums", "winch", FORM, sends.WINCH),
    "drums:drum": Entry("view", "drum", also={"drum_draft": SHOWN}),
    "drums:drum_edit": Entry("edit_drums", "drum", FORM, sends.drum),
    "drums:drum_remove": Entry("edit_drums", "drum", FORM, sends.fixed(removed_on="2026-10-01", reason="renewed")),
    "drums:mark_picture": Entry("view", "drum", also={"drum_draft": NOT_THERE}),
    "drums:particulars_new": Entry("edit_drums", "drum", FORM, sends.particulars),
    "drums:event_new": Entry("report_event", "drum", FORM, sends.EVENT),
    "drums:retest_order_new": Entry("order_retest", "drum_draft", FORM, sends.RETEST),
    "drums:retest_order_take_back": Entry("order_retest", "order", FORM, sends.REASON),
    # instruments
    "gauges:instrument_list": Entry("view", "vessel"),
    "gauges:gauge_new": Entry("edit_instruments", "vessel", FORM, sends.GAUGE),
    "gauges:gauge": Entry("view", "gauge"),
    "gauges:gauge_edit": Entry("edit_instruments", "gauge", FORM, sends.GAUGE_CHANGED),
    "gauges:calibration_new": Entry("edit_instruments", "gauge", FORM, sends.calibration),
    "gauges:gauge_retire": Entry("edit_instruments", "spare_gauge", FORM, sends.RETIRE),
    "gauges:calibration_document": Entry("view", "calibration"),
    "gauges:jack_new": Entry("edit_instruments", "vessel", FORM, sends.JACK, query="kind=plain"),
    "gauges:jack": Entry("view", "jack"),
    "gauges:jack_edit": Entry("edit_instruments", "jack", FORM, sends.JACK),
    "gauges:jack_retire": Entry("edit_instruments", "spare_jack", FORM, sends.RETIRE),
    "gauges:lever_new": Entry("edit_instruments", "vessel", FORM, sends.LEVER),
    "gauges:lever_edit": Entry("edit_instruments", "lever", FORM, sends.LEVER),
    "gauges:lever_retire": Entry("edit_instruments", "spare_lever", FORM, sends.RETIRE),
    "gauges:footing_new": Entry("edit_instruments", "vessel", FORM, sends.FOOTING),
    "gauges:footing_edit": Entry("edit_instruments", "footing", FORM, sends.FOOTING),
    "gauges:footing_retire": Entry("edit_instruments", "spare_footing", FORM, sends.RETIRE),
    "gauges:kit_new": Entry("edit_instruments", "vessel", FORM, sends.kit),
    "gauges:kit_edit": Entry("edit_instruments", "kit", FORM, sends.kit),
    "gauges:kit_retire": Entry("edit_instruments", "kit", FORM, sends.RETIRE),
    # the ship's pages
    "records:deck": Entry("see_deck", "vessel"),
    "records:round_new": Entry("test", "vessel", FORM, sends.round_new),
    "records:round": Entry("see_deck", "round", also={"earlier_round": SHOWN}),
    "records:round_edit": Entry("test", "round", FORM, sends.round_changed),
    "records:round_close": Entry("test", "earlier_round", ACT),
    "records:round_report": Entry("view", "round", also={"earlier_round": NOT_THERE}),
    "records:round_submit": Entry(
        "submit",
        "round",
        FORM,
        sends.round_sent,
    ),
    "records:prepare": Entry("see_deck", "drum"),
    "records:worksheet": paper("see_deck", "drum"),
    "records:history": Entry(
        "view", "drum_approved", also={f"drum_{state}": SHOWN for state in ("draft", "returned", "failed", "withdrawn")}
    ),
    "records:test_start": Entry("test", "drum", FORM, sends.test_begun, also={"drum_draft": SHOWN}),
    "records:test": Entry(
        "test", "test_draft", also={"test_returned": SHOWN, "test_submitted": LED_ON, "test_approved": LED_ON}
    ),
    "records:test_save": way("test", "test_draft", sends.fixed(remarks="seen")),
    "records:reading_add": way("test", "test_draft", sends.a_reading),
    "records:reading_edit": Entry("test", "reading", FORM, sends.a_reading),
    "records:reading_remove": way("test", "reading"),
    "records:photo_add": way("test", "test_draft", sends.a_photo),
    "records:photo": Entry("see_deck", "photo"),  # of a draft; those of what was sent are in test_files.py
    "records:photo_remove": way("test", "photo"),
    "records:check": Entry("see_deck", "test_ready", also={f"test_{state}": SHOWN for state in ("draft", *SENT)}),
    "records:confirm_instruments": way("confirm_instruments", "test_draft", sends.DECLARATION),
    "records:release": way("release", "test_draft", sends.DECLARATION),
    "records:submit": way("submit", "test_ready", sends.DECLARATION),
    "records:record": Entry(
        "view", "test_approved", also={"test_draft": NOT_THERE, **{f"test_{state}": SHOWN for state in SENT}}
    ),
    "records:reopen": way("review", "test_submitted", sends.REASON),
    "records:set_aside": Entry("test", "test_draft", FORM, sends.REASON),
    # over the years
    "drift:years": Entry(
        "view", "drum_approved", also={f"drum_{state}": SHOWN for state in ("draft", "failed", "withdrawn")}
    ),
    # certificates
    "certificates:certificate_list": Entry(SIGNED_IN),
    "certificates:certificate": Entry(
        "view", "certificate", also={"old_certificate": SHOWN, "withdrawn_certificate": SHOWN}
    ),
    "certificates:certificate_pdf": paper("view", "certificate"),
    "certificates:vessel_certificates": Entry("view", "vessel"),
    "certificates:vessel_zip": Entry("view", "vessel", more={"year": 2026}),
    "certificates:inspection_pack": Entry("view", "vessel"),
    "certificates:tags": paper("view", "round"),
    "certificates:round_summary": paper("view", "round"),
    "certificates:verify": Entry(PUBLIC),
    "certificates:verify by code": Entry(PUBLIC, more={"code": ""}),
    "certificates:verify_file": Entry(PUBLIC, how=WRITE, shown=LED_ON, done=SHOWN),
    "certificates:authority": Entry(
        PUBLIC, more={"fingerprint": "0" * 64}, shown=NOT_THERE, why="nobody's authority has this fingerprint"
    ),
    # practice on a virtual brake: anybody signed in, and nothing is written
    "practice:start": Entry(SIGNED_IN),
    "practice:run": Entry(SIGNED_IN, query="run=1-7-0"),
    "practice:move": Entry(SIGNED_IN, how=WRITE, shown=LED_ON),
    # the shore's pages
    "review:today": Entry("review", roles=WATCHERS, why=TODAY_WHY),
    "review:review": Entry(
        "review",
        "submission_submitted",
        roles=WATCHERS,
        why=TODAY_WHY,
        also={f"submission_{state}": SHOWN for state in SENT},
    ),
    "review:approve": way("review", "submission_submitted", sends.approval),
    "review:return": way("review", "submission_submitted", sends.SENTENCE),
    "review:withdraw": Entry("withdraw", "test_approved", FORM, sends.REASON),
    "review:flag_new": Entry("review", "drum", FORM, sends.FLAG),
    "review:flag_clear": Entry("review", "flag", FORM, sends.FLAG),
    "review:fleet": Entry("review", roles=WATCHERS, why=TODAY_WHY),
    "review:fleet_csv": Entry("review", roles=WATCHERS, why=TODAY_WHY),
    "review:audit": Entry("read_audit"),
}
