"""Services that close a test aboard: confirm, release, submit; and reopen it for an amendment."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.canonical import canonical, sha256_of
from fleet.records.assess import Assessment, assess
from fleet.records.audit import audit_drum_test
from fleet.records.draft import Missing, readings_wait_for
from fleet.records.models import (
    Confirmation,
    ConfirmationKind,
    Decision,
    DecisionKind,
    DrumTest,
    Finding,
    Outcome,
    Round,
    State,
    Submission,
)
from fleet.records.snapshot import confirmation_content
from fleet.records.trust import LoadTrust

OTHER_IN_HAND = "Another test of this drum is in hand: finish that one first."
REASON_NEEDED = "Say in one sentence why this record is opened again."
FIGURES_CHANGED = (
    "Somebody changed this record after you opened the page. Look at the figures as they are now, then do it again."
)


class NotReady(Exception):
    """What still stands in the way of submitting."""

    def __init__(self, missing: list[Missing]) -> None:
        super().__init__("; ".join(item.sentence for item in missing))
        self.missing = missing


class NotPossible(Exception):
    """The state of the record does not allow this act; the message says so to the person."""


def standing_confirmations(assessment: Assessment) -> dict[str, Confirmation]:
    """The acts that speak of exactly the present content; an act on other content has lapsed."""
    return {
        row.kind: row
        for row in assessment.test.confirmations.all()
        if row.content_sha256 and row.content_sha256 == assessment.content_sha256
    }


def what_is_missing(assessment: Assessment, *, confirmations: bool = True, at: datetime | None = None) -> list[Missing]:
    """Everything that keeps this test from being submitted, in the order of the page."""
    parsed, results = assessment.parsed, assessment.results
    found = [Missing("figures", sentence) for sentence in assessment.figures_missing]
    found += [Missing(name, sentence) for name, sentence in parsed.errors.items()]
    found += parsed.missing
    found += _dated_ahead(assessment, at or timezone.now())
    claims_success = parsed.values.get("outcome") == Outcome.SET_IN_BAND
    if results and results.rows:
        found += [
            Missing(check.name, _("Not confirmed, yet there are readings: {check}.").format(check=check.label))
            for check in readings_wait_for(assessment.test)
            if not any(item.field == check.name for item in found)
        ]
    if results and claims_success:
        wanted = assessment.policy.verification_slips
        if results.verification_slips < wanted:
            found.append(
                Missing(
                    "readings",
                    _("The operator's policy asks for {wanted} verification slips; there are {there}.").format(
                        wanted=wanted, there=results.verification_slips
                    ),
                )
            )
        found += [Missing(finding.code, finding.sentence) for finding in assessment.findings if finding.level == "stop"]
    if confirmations and not found:
        found += _missing_confirmations(assessment)
    return found


def _dated_ahead(assessment: Assessment, now: datetime) -> list[Missing]:
    """A ship ahead of UTC writes tomorrow's date during its morning; later than that is a slip of the pen."""
    day = assessment.parsed.values.get("tested_on")
    if day is None or (day - now.date()).days <= 1:
        return []
    return [Missing("tested_on", _("The date of the test has not come yet. Check day, month and year."))]


def _missing_confirmations(assessment: Assessment) -> list[Missing]:
    standing = standing_confirmations(assessment)
    found = []
    if assessment.policy.engineer_confirms and ConfirmationKind.INSTRUMENTS not in standing:
        found.append(
            Missing("instruments", _("The chief engineer has not confirmed gauge and jack for these figures."))
        )
    if assessment.policy.master_releases and ConfirmationKind.RELEASE not in standing:
        found.append(Missing("release", _("The master has not released these figures.")))
    return found


def instruments_confirm(
    *, test: DrumTest, name: str, rank: str, actor: User, seen: str = "", at: datetime | None = None
) -> Confirmation:
    """The chief engineer confirms gauge and jack for exactly this content; `seen` is the content on the page."""
    return _confirm(test, ConfirmationKind.INSTRUMENTS, name, rank, actor, seen, at)


def master_release(
    *, test: DrumTest, name: str, rank: str, actor: User, seen: str = "", at: datetime | None = None
) -> Confirmation:
    """The master releases exactly this content; `seen` is the content on the page."""
    return _confirm(test, ConfirmationKind.RELEASE, name, rank, actor, seen, at)


def _refuse_unseen(assessment: Assessment, seen: str) -> None:
    """Nobody stands for figures that were not on the page in front of them."""
    if seen and seen != assessment.content_sha256:
        raise NotPossible(_(FIGURES_CHANGED))


def _confirm(
    test: DrumTest, kind: str, name: str, rank: str, actor: User, seen: str, at: datetime | None
) -> Confirmation:
    with audited():
        assessment = assess(_locked(test))
        if not assessment.test.is_in_hand:
            raise NotPossible(_("This test has been sent already."))
        _refuse_unseen(assessment, seen)
        missing = what_is_missing(assessment, confirmations=False, at=at)
        if missing:
            raise NotReady(missing)
        standing = standing_confirmations(assessment).get(kind)
        if standing:
            return standing
        row = Confirmation(
            test=assessment.test,
            kind=kind,
            content_sha256=assessment.content_sha256,
            person=actor,
            name=name.strip(),
            rank=rank.strip(),
            at=at or timezone.now(),
        )
        row.full_clean()
        row.save()
        audit_drum_test(
            assessment.test, actor, str(row.get_kind_display()), after={"content": row.content_sha256}, at=at
        )
    return row


def drum_test_submit(
    *,
    test: DrumTest,
    declared_name: str,
    declared_rank: str,
    actor: User,
    seen: str = "",
    at: datetime | None = None,
) -> Submission:
    """Freeze the test as the next version; sent twice it is recorded once."""
    when = at or timezone.now()
    with audited():
        assessment = assess(_locked(test))
        locked = assessment.test
        if locked.state == State.SUBMITTED:
            return locked.submissions.order_by("-version")[0]
        if not locked.is_in_hand:
            raise NotPossible(_("This test has been decided on; open it again to amend it."))
        _refuse_unseen(assessment, seen)
        missing = what_is_missing(assessment, at=when)
        figures, results, content = assessment.figures, assessment.results, assessment.content
        if missing or figures is None or results is None or content is None:
            raise NotReady(missing)
        version = locked.submissions.count() + 1
        content["version"] = version
        content["reason"] = locked.state_reason if version > 1 else ""
        standing = standing_confirmations(assessment).values()
        content["confirmations"] = [confirmation_content(row) for row in sorted(standing, key=lambda row: row.at)]
        content["declared"] = {"name": declared_name.strip(), "rank": declared_rank.strip()}
        content["submitted_at"] = when.isoformat()
        data = canonical(content)
        setting = assessment.parsed.typed("final_mark")
        submission = Submission(
            test=locked,
            version=version,
            content=data,
            sha256=sha256_of(data),
            reason=content["reason"],
            submitted_at=when,
            submitted_by=actor,
            declared_name=declared_name.strip(),
            declared_rank=declared_rank.strip(),
            particulars=figures.particulars,
            gauge=figures.kit.gauge,
            tested_on=assessment.parsed.values["tested_on"],
            outcome=assessment.parsed.values["outcome"],
            base_load_n=figures.aim.sdmbl_n,
            target_share=figures.share,
            band_low=figures.band[0],
            band_high=figures.band[1],
            as_found_phase=results.as_found_phase,
            as_found_share=results.as_found_share,
            as_found_held=results.as_found_held,
            as_left_share=results.as_left_share,
            as_left_load_n=results.as_left_load_n,
            spread_share=results.spread_share,
            reapplied_share=results.reapplied_share,
            **_trust_columns(assessment.trust),
            setting_text=setting.text if setting else "",
            setting_unit=setting.unit if setting else "",
            setting_si=setting.si if setting else None,
        )
        submission.full_clean()
        submission.save()
        _keep_findings(submission, content["findings"], assessment)
        locked.state, locked.state_reason = State.SUBMITTED, ""
        # It answered this return; the next one asks for its own answer.
        locked.draft = {name: text for name, text in locked.draft.items() if name != "answer_to_shore"}
        locked.save(update_fields=["state", "state_reason", "draft"])
        audit_drum_test(
            locked, actor, "drum test submitted", after={"version": version, "content": submission.sha256}, at=at
        )
    return submission


def _trust_columns(trust: LoadTrust | None) -> dict[str, Any]:
    if trust is None:
        return {}
    return {
        "estimate_share": trust.share,
        "expanded_share": trust.expanded_share,
        "decision_rule": trust.conformity.rule,
        "verdict": trust.conformity.verdict,
    }


def _keep_findings(submission: Submission, plain: list[dict[str, Any]], assessment: Assessment) -> None:
    Finding.objects.bulk_create(
        Finding(
            submission=submission,
            order=order,
            code=finding.code,
            level=finding.level,
            template=finding.template,
            figures=dict(finding.figures),
            ship_reply=row["ship_reply"],
        )
        for order, (finding, row) in enumerate(zip(assessment.findings, plain, strict=True), start=1)
    )


def round_submit(
    *,
    round: Round,
    tests: Iterable[DrumTest],
    declared_name: str,
    declared_rank: str,
    actor: User,
    seen: Mapping[UUID, str] | None = None,
    at: datetime | None = None,
) -> list[Submission]:
    """Submit the ready tests of a round together: all of them, or none when one is not ready."""
    with audited():
        return [
            drum_test_submit(
                test=test,
                declared_name=declared_name,
                declared_rank=declared_rank,
                actor=actor,
                seen=(seen or {}).get(test.pk, ""),
                at=at,
            )
            for test in tests
            if test.round_id == round.pk
        ]


def drum_test_reopen(*, test: DrumTest, reason: str, actor: User, at: datetime | None = None) -> DrumTest:
    """Open an approved or submitted test for an amendment: the next submission is the next version."""
    if not reason.strip():
        raise NotPossible(_(REASON_NEEDED))
    with audited():
        locked = _locked(test)
        if locked.state not in {State.APPROVED, State.SUBMITTED}:
            raise NotPossible(_("Only a test that was sent or approved can be opened again."))
        if DrumTest.objects.in_hand().filter(drum=locked.drum_id).exists():
            raise NotPossible(_(OTHER_IN_HAND))
        newest = locked.submissions.order_by("-version")[0]
        Decision.objects.create(
            submission=newest,
            kind=DecisionKind.REOPENED,
            sentence=reason.strip(),
            person=actor,
            name=actor.name,
            rank=actor.rank,
            at=at or timezone.now(),
        )
        locked.state, locked.state_reason = State.RETURNED, reason.strip()
        try:
            with audited():
                locked.save(update_fields=["state", "state_reason"])
        except IntegrityError as error:  # begun by somebody else since the look above
            raise NotPossible(_(OTHER_IN_HAND)) from error
        audit_drum_test(locked, actor, "drum test opened again", reason=reason.strip(), at=at)
    return locked


def _locked(test: DrumTest) -> DrumTest:
    DrumTest.objects.select_for_update().get(pk=test.pk)
    return DrumTest.objects.whole().get(pk=test.pk)
