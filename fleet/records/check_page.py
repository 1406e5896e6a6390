"""What the page "Check and release" shows: the result, the findings, what is missing, who has stood for it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from fleet.calculation.plausibility import Finding
from fleet.core.findings import said
from fleet.core.forms import first_input_id
from fleet.records.access import rights_on, ships_time
from fleet.records.assess import Assessment, assess, assess_all
from fleet.records.canonical import read_content
from fleet.records.draft import FIELDS, REPLY, Missing
from fleet.records.entry_forms import ActForm, DraftForm, ReplyForm, base_of
from fleet.records.models import Confirmation, ConfirmationKind, DecisionKind, DrumTest, State, Submission
from fleet.records.next_step import steps_of
from fleet.records.submissions import standing_confirmations, what_is_missing

HASH_SHOWN = 12
ACTS = {ConfirmationKind.INSTRUMENTS: "confirm_instruments", ConfirmationKind.RELEASE: "release"}


@dataclass(frozen=True)
class MissingLink:
    """Something to be given, with the page and the field where it is given."""

    sentence: str
    url: str


@dataclass(frozen=True)
class FindingRow:
    """A finding with the ship's reply."""

    code: str
    level: str
    sentence: str
    reply: Any

    @property
    def level_word(self) -> str:
        return {"stop": _("Stop"), "ask": _("To be answered"), "note": _("Note")}[self.level]


@dataclass(frozen=True)
class ActRow:
    """Whether a person has stood for exactly these figures, and whether an earlier word has lapsed."""

    kind: str
    label: str
    standing: Confirmation | None
    lapsed: Confirmation | None
    asked: bool
    at: str


def check_context(
    test: DrumTest, user: Any, *, posted: Mapping[str, Any] | None = None, told: list[str] | None = None
) -> dict[str, Any]:
    """The page for a test in hand, or for what the ship has sent."""
    assessment = assess(test)
    rights = rights_on(user, test.round.vessel)
    newest = max(test.submissions.all(), key=lambda row: row.version, default=None)
    offset = test.round.utc_offset_minutes
    in_hand = test.is_in_hand
    shared = {
        "test": test,
        "drum": test.drum,
        "vessel": test.drum.vessel,
        "round": test.round,
        "assessment": assessment,
        "rights": rights,
        "steps": steps_of(assessment, "check", may_test=rights["test"]) if in_hand else [],
        "newest": newest,
        "arrived": ships_time(newest.submitted_at, offset) if newest else "",
        "hash_shown": newest.sha256[:HASH_SHOWN] if newest else "",
        "told": told or [],
        "returned": returned_sentence(test, newest),
    }
    if in_hand:
        return shared | _in_hand(assessment, user, rights, posted)
    return shared | {"content": read_content(newest) if newest else None}


def _in_hand(
    assessment: Assessment, user: Any, rights: Mapping[str, bool], posted: Mapping[str, Any] | None
) -> dict[str, Any]:
    test = assessment.test
    missing = what_is_missing(assessment)
    to_enter = what_is_missing(assessment, confirmations=False)
    acts = act_rows(assessment)
    may = {
        "reply": rights["test"],
        "confirm": rights["confirm_instruments"] and not to_enter and not acts[0].standing and acts[0].asked,
        "release": rights["release"] and not to_enter and not acts[1].standing and acts[1].asked,
        "submit": rights["submit"] and not missing,
    }
    replies = [f"{REPLY}{finding.code}" for finding in assessment.findings]
    shown = test.draft if posted is None else {**test.draft, **{name: str(posted.get(name, "")) for name in replies}}
    initial = {"name": user.name, "rank": user.rank}
    return {
        "content": assessment.content,
        "content_sha256": assessment.content_sha256,
        "missing": missing_links(assessment, missing),
        "waits_for_acts": not to_enter and bool(missing),
        "findings": finding_rows(assessment.findings, shown),
        "acts": acts,
        "may": may,
        "act_form": ActForm(posted, initial=initial) if posted and "name" in posted else ActForm(initial=initial),
        "acting": may["confirm"] or may["release"] or may["submit"],
        "revision": (posted or {}).get("revision") or str(test.draft_revision),
        "base": (posted or {}).get("base") or base_of(test.draft, tuple(replies)),
    }


def finding_rows(findings: tuple[Finding, ...], draft: Mapping[str, str]) -> list[FindingRow]:
    """The findings, worst first, each with the field of its reply."""
    form = ReplyForm(draft, [finding.code for finding in findings])
    return [
        FindingRow(finding.code, finding.level, said(finding), form[f"{REPLY}{finding.code}"]) for finding in findings
    ]


def act_rows(assessment: Assessment) -> list[ActRow]:
    """The engineer's and the master's word: given, lapsed because figures changed, or still to come."""
    standing = standing_confirmations(assessment)
    asked = {
        ConfirmationKind.INSTRUMENTS: assessment.policy.engineer_confirms,
        ConfirmationKind.RELEASE: assessment.policy.master_releases,
    }
    labels = {
        ConfirmationKind.INSTRUMENTS: _("Chief engineer: gauge and jack are fit for this test"),
        ConfirmationKind.RELEASE: _("Master: these figures are released"),
    }
    rows = []
    for kind, label in labels.items():
        given = [row for row in assessment.test.confirmations.all() if row.kind == kind]
        valid = standing.get(kind)
        last = given[-1] if given and not valid else None
        when = valid or last
        at = ships_time(when.at, assessment.test.round.utc_offset_minutes) if when else ""
        rows.append(ActRow(str(kind), label, valid, last, asked[kind], at))
    return rows


def missing_links(assessment: Assessment, missing: list[Missing]) -> list[MissingLink]:
    """Each missing thing with where it is given."""
    test = assessment.test
    entry = reverse("records:test", args=[test.pk])
    form = DraftForm(test, test.draft, {})
    links, seen = [], set()
    for item in missing:
        if item.field == "figures":
            url = reverse("records:prepare", args=[test.drum_id])
        elif item.field in FIELDS:
            url = f"{entry}#{first_input_id(form[item.field])}"
        elif item.field == "readings":
            url = f"{entry}#readings"
        elif item.field in ConfirmationKind.values:
            url = f"#act-{item.field}"
        else:
            url = f"#finding-{item.field}"
        # Three empty lining fields are one thing to do.
        wrong = item.field in assessment.parsed.errors
        sentence = f"{form[item.field].label}: {item.sentence}" if wrong else item.sentence
        if sentence not in seen:
            links.append(MissingLink(sentence, url))
        seen.add(sentence)
    return links


def returned_sentence(test: DrumTest, newest: Submission | None) -> str:
    """What shore wrote when it gave the test back; empty where it did not."""
    if test.state != State.RETURNED or newest is None:
        return ""
    decisions = newest.decisions.filter(kind__in=[DecisionKind.RETURNED, DecisionKind.REOPENED])
    last = decisions.order_by("-at").first()
    return (last.sentence if last else "") or test.state_reason


def ready_and_not(tests: list[DrumTest]) -> tuple[list[Assessment], list[tuple[Assessment, list[MissingLink]]]]:
    """The tests of a round that can be sent now, and the others with what is missing in each."""
    ready, waiting = [], []
    for assessment in assess_all(tests):
        missing = what_is_missing(assessment)
        if missing:
            links = [_on_page(assessment.test.pk, link) for link in missing_links(assessment, missing)]
            waiting.append((assessment, links))
        else:
            ready.append(assessment)
    return ready, waiting


def _on_page(test_id: UUID, link: MissingLink) -> MissingLink:
    """A link that is good on any page."""
    if link.url.startswith("#"):
        return MissingLink(link.sentence, reverse("records:check", args=[test_id]) + link.url)
    return link
