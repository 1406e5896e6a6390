"""Papers of a whole round: the winch tags, and the summary with one page per drum."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch
from django.template.loader import render_to_string
from django.utils.functional import cached_property
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from fleet.certificates.models import Certificate, CertificateState
from fleet.certificates.paper import base_words, day_words, layer_words, setting_words, sheet_context, strip_svg
from fleet.certificates.snapshot import decision_content
from fleet.core import pdf
from fleet.drums.models import Drum
from fleet.records.canonical import read_content
from fleet.records.models import DecisionKind, DrumTest, Outcome, Round, Submission


@dataclass(frozen=True)
class Entry:
    """One drum's test in a round as shore has it: its newest submission, and the certificate if there is one."""

    test: DrumTest
    submission: Submission | None
    certificate: Certificate | None

    @cached_property
    def record(self) -> dict[str, Any] | None:
        return read_content(self.submission) if self.submission else None

    @property
    def decision(self) -> dict[str, Any] | None:
        if self.submission is None:
            return None
        made = [row for row in self.submission.decisions.all() if row.kind == DecisionKind.APPROVED]
        return decision_content(made[-1]) if made else None

    @property
    def state_words(self) -> str:
        """The test's state; of a failed one it is the record that was sent, approved or returned, never the brake."""
        state = self.test.get_state_display()
        if self.submission is None or self.submission.outcome == Outcome.SET_IN_BAND:
            return state
        return _("record of failure, {state}").format(state=state)

    @property
    def setting(self) -> str:
        return setting_words(self.record) if self.record else ""

    @property
    def strip(self) -> str:
        return strip_svg(self.record, compact=True) if self.record else ""


def entries_of(round_: Round) -> list[Entry]:
    """The tests of a round in the order of the deck, in a fixed number of queries."""
    tests = (
        DrumTest.objects.filter(round=round_)
        .select_related("drum__winch__vessel")
        .prefetch_related(
            "submissions__decisions",
            Prefetch("submissions__certificate", Certificate.objects.with_since().defer("snapshot")),
        )
        .order_by("drum__area_order", "drum__order", "drum__name", "created_at")
    )
    entries = []
    for test in tests:
        newest = max(test.submissions.all(), key=lambda row: row.version, default=None)
        entries.append(Entry(test, newest, getattr(newest, "certificate", None) if newest else None))
    return entries


def not_begun(round_: Round, entries: list[Entry]) -> list[Drum]:
    """The drums aboard that have no test in this round; a closed round is asked no more."""
    if round_.closed_on:
        return []
    tested = {entry.test.drum_id for entry in entries}
    fitted = Drum.objects.filter(winch__vessel=round_.vessel_id).fitted().order_by("area_order", "order", "name")
    return [drum for drum in fitted if drum.pk not in tested]


def tag_of(entry: Entry) -> dict[str, str] | None:
    """What an inspector reads on the winch; None where no certificate stands behind it, or no longer."""
    record, certificate = entry.record, entry.certificate
    if record is None or certificate is None or certificate.state != CertificateState.ISSUED:
        return None
    if certificate.remarks:  # what the tag says would no longer be what the brake does
        return None
    results = record["results"]
    return {
        "vessel": record["vessel"]["name"],
        "drum": f"{record['drum']['name']}, {record['drum']['winch']}",
        "tested_on": day_words(record["tested"]["on"]),
        "setting_kind": record["drum"]["setting_kind_label"],
        "setting": results["setting"]["shown"],
        "load": results["as_left_load_shown"],
        "load_tf": results["as_left_load_tf_shown"],
        "share": results["as_left_share_shown"],
        "base": base_words(record),
        "direction": record["drum"]["line_off_label"],
        "layer": layer_words(record),
        "number": certificate.number,
    }


def tags_pdf(round_: Round) -> bytes:
    """A sheet of tags to cut out. Raises PdfUnavailable."""
    entries = entries_of(round_)
    context = {
        "language": get_language() or "en",
        "round": round_,
        "tags": [tag for entry in entries if (tag := tag_of(entry))],
        "without": [entry for entry in entries if tag_of(entry) is None],
    }
    html = render_to_string("certificates/tags_paper.html", context)
    return pdf.render_pdf(html, title=_("Winch tags, {round}").format(round=round_))


def summary_pdf(round_: Round) -> bytes:
    """The round on one page, then one page per drum. Raises PdfUnavailable."""
    entries = entries_of(round_)
    context = {
        "language": get_language() or "en",
        "round": round_,
        "entries": entries,
        "not_begun": not_begun(round_, entries),
        "first": next((entry.record for entry in entries if entry.record), None),
        "sheets": [
            {**sheet_context(entry.record, entry.decision), "certificate": entry.certificate, "entry": entry}
            for entry in entries
            if entry.record
        ],
    }
    html = render_to_string("certificates/round_summary_paper.html", context)
    return pdf.render_pdf(html, title=_("Summary of the round, {round}").format(round=round_))
