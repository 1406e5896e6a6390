"""Services of a test in hand: start, save, readings, photos. Every write bumps the draft's revision."""

import hashlib
import uuid
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.models import User
from fleet.calculation import units
from fleet.core.audit import audited
from fleet.core.photos import clean_photo
from fleet.core.typed import Typed
from fleet.drums.models import BRAKE_WORK, Drum
from fleet.records.audit import audit_drum_test
from fleet.records.draft import clean_values, read_quantity, readings_open, setting_unit
from fleet.records.models import AS_FOUND, DrumTest, Outcome, Phase, Photo, PhotoKind, Reading, Round, State, Submission

NOT_IN_HAND = "This test has been sent and cannot be written to. Ask shore to return it if something is wrong."
READINGS_SHUT = "Confirm the checks above first: the side of the jack, the slack line, the clutch, the people."
BRAKE_WORK_DONE = (
    "There was work on this brake ({event}) since its last test: the old mark means nothing now and may hold far too "
    "much. Leave out the as-found phase; start well slack and approach from below."
)
ABOVE_SCALE = "This is above the end of the gauge's scale ({full_scale}). Check the figure; the gauge reads in {unit}."
DISCARD_REASON = "Say in one sentence why this draft is set aside."
SENT_BEFORE = "This test was sent before, so it is not set aside: correct it and send it again."
OTHER_PHOTO = "Another photo was sent with this form before. Choose the photo again and add it once more."
OTHER_CONTENT = "This entry was sent before with other figures. Reload the page to see what is recorded."


class NotInHand(Exception):
    """The test is no longer a draft."""


class DraftConflict(Exception):
    """The same id came with other content."""


class RevisionConflict(Exception):
    """Somebody saved in between; `current` is the test as it stands now."""

    def __init__(self, current: DrumTest) -> None:
        super().__init__("saved by somebody else in between")
        self.current = current


def drum_test_start(
    *, test_id: uuid.UUID | None = None, drum: Drum, round: Round, actor: User, at: datetime | None = None
) -> DrumTest:
    """Begin this drum's test in a round; the same id again, or a test already in hand, gives the one there is."""
    if drum.winch.vessel_id != round.vessel_id:
        raise DraftConflict("the drum is on another vessel")
    with audited():
        known = DrumTest.objects.filter(pk=test_id).first() if test_id else None
        if known:
            if (known.drum_id, known.round_id) != (drum.pk, round.pk):
                raise DraftConflict("this id belongs to another test")
            return known
        in_hand = DrumTest.objects.in_hand().filter(drum=drum).first()
        if in_hand:
            return in_hand
        # Held, so that nobody closes the round between this look and the test's first row.
        if Round.objects.select_for_update().get(pk=round.pk).closed_on or drum.removed_on:
            raise DraftConflict("the round is closed, or the drum is no longer aboard")
        test = DrumTest(id=test_id or uuid.uuid4(), drum=drum, round=round, created_by=actor)
        try:
            with audited():
                test.full_clean()
                test.save(force_insert=True)
        except IntegrityError:
            # Two people pressed the button at once: there is one test in hand per drum.
            return DrumTest.objects.in_hand().get(drum=drum)
        audit_drum_test(test, actor, "drum test started", at=at)
    return test


def draft_save(
    *, test: DrumTest, values: dict[str, str], revision: int, actor: User, at: datetime | None = None
) -> DrumTest:
    """Merge what a form sent into the draft; RevisionConflict when another save came first."""
    with audited():
        locked = _in_hand(test)
        merged = {**locked.draft, **clean_values(values)}
        if merged == locked.draft:
            return locked
        if revision != locked.draft_revision:
            raise RevisionConflict(locked)
        changed = {name: locked.draft.get(name, "") for name in merged if merged[name] != locked.draft.get(name)}
        locked.draft = merged
        _touch(locked, actor, at)
        audit_drum_test(
            locked,
            actor,
            "draft saved",
            before=changed,
            after={name: merged[name] for name in changed},
            at=at,
        )
    return locked


def drum_test_discard(*, test: DrumTest, reason: str, actor: User, at: datetime | None = None) -> DrumTest:
    """Set a draft aside that was never sent, such as one begun on the wrong drum; it stays on record as withdrawn."""
    if not reason.strip():
        raise ValidationError({"reason": _(DISCARD_REASON)})
    with audited():
        locked = _in_hand(test)
        if locked.submissions.exists():
            raise ValidationError({"__all__": _(SENT_BEFORE)})
        locked.state, locked.state_reason = State.WITHDRAWN, reason.strip()[:400]
        locked.save(update_fields=["state", "state_reason"])
        audit_drum_test(locked, actor, "draft set aside", reason=locked.state_reason, at=at)
    return locked


def reading_add(
    *,
    test: DrumTest,
    reading_id: uuid.UUID | None = None,
    phase: str,
    mark_text: str,
    gauge_text: str,
    slipped: bool,
    reapplied: bool = False,
    rest_minutes: str = "",
    actor: User,
    at: datetime | None = None,
) -> Reading:
    """Record one raise of the jack; ValidationError by field; the same id and content again is the same row."""
    with audited():
        locked = _in_hand(test)
        shape = _read(locked, phase, mark_text, gauge_text)
        sent = {**shape, "slipped": slipped, "reapplied": reapplied, "rest_minutes": rest_minutes.strip()[:10]}
        known = Reading.objects.filter(pk=reading_id).first() if reading_id else None
        if known:
            same = known.test_id == locked.pk and all(getattr(known, name) == value for name, value in sent.items())
            if not same:
                raise DraftConflict(OTHER_CONTENT)
            return known
        last = locked.readings.aggregate(last=Max("order"))["last"] or 0
        reading = Reading(id=reading_id or uuid.uuid4(), test=locked, order=last + 1, author=actor, **sent)
        reading.full_clean()
        reading.save(force_insert=True)
        _touch(locked, actor, at)
        audit_drum_test(locked, actor, "reading added", after=_plain(reading), at=at)
    return reading


def reading_change(
    *,
    reading: Reading,
    phase: str,
    mark_text: str,
    gauge_text: str,
    slipped: bool,
    reapplied: bool = False,
    rest_minutes: str = "",
    actor: User,
    at: datetime | None = None,
) -> Reading:
    """Correct a reading while the test is in hand; the audit entry keeps what stood there before."""
    with audited():
        locked = _in_hand(reading.test)
        row = Reading.objects.select_for_update().get(pk=reading.pk)
        before = _plain(row)
        for name, value in _read(locked, phase, mark_text, gauge_text).items():
            setattr(row, name, value)
        row.slipped, row.reapplied, row.rest_minutes = slipped, reapplied, rest_minutes.strip()[:10]
        row.full_clean()
        row.save()
        _touch(locked, actor, at)
        audit_drum_test(locked, actor, "reading changed", before=before, after=_plain(row), at=at)
    return row


def reading_remove(*, reading: Reading, actor: User, at: datetime | None = None) -> None:
    """Take a reading out of a draft; the audit entry keeps it."""
    with audited():
        locked = _in_hand(reading.test)
        row = Reading.objects.select_for_update().get(pk=reading.pk)
        before = _plain(row)
        row.delete()
        _touch(locked, actor, at)
        audit_drum_test(locked, actor, "reading removed", before=before, at=at)


def photo_add(
    *,
    test: DrumTest,
    photo_id: uuid.UUID | None = None,
    kind: str,
    caption: str,
    upload: UploadedFile,
    actor: User,
    at: datetime | None = None,
) -> Photo:
    """Keep a photo, re-encoded and without metadata; ValidationError says why one is refused.

    The same id and content again is the same row."""
    clean = clean_photo(upload)
    sent = {
        "kind": kind if kind in PhotoKind.values else PhotoKind.OTHER,
        "caption": caption.strip()[:160],
        "sha256": hashlib.sha256(clean.content.read()).hexdigest(),
    }
    clean.content.seek(0)
    with audited():
        locked = _in_hand(test)
        known = Photo.objects.filter(pk=photo_id).first() if photo_id else None
        if known:
            if known.test_id != locked.pk or any(getattr(known, name) != value for name, value in sent.items()):
                raise DraftConflict(OTHER_PHOTO)
            return known
        photo = Photo(id=photo_id or uuid.uuid4(), test=locked, author=actor, **sent)
        photo.file.save(f"{photo.pk}.{clean.extension}", clean.content, save=False)
        photo.full_clean()
        photo.save(force_insert=True)
        _touch(locked, actor, at)
        audit_drum_test(locked, actor, "photo added", after={"photo": str(photo.pk), "sha256": photo.sha256}, at=at)
    return photo


def photo_remove(*, photo: Photo, actor: User, at: datetime | None = None) -> None:
    """Take a photo out of the draft; a submission that holds it keeps it."""
    with audited():
        locked = _in_hand(photo.test)
        Photo.objects.filter(pk=photo.pk, removed_at__isnull=True).update(removed_at=at or timezone.now())
        _touch(locked, actor, at)
        audit_drum_test(locked, actor, "photo removed", before={"photo": str(photo.pk)}, at=at)


def brake_work_since_last_test(drum: Drum, on: date | None = None, *, but: DrumTest | None = None) -> Any:
    """The newest work on the brake after the drum's last other test that set it in band, or None.

    A test that set nothing says nothing about the mark, and a test sent back does not speak for itself.
    """
    last = (
        Submission.objects.filter(test__drum=drum, outcome=Outcome.SET_IN_BAND)
        .exclude(test__state=State.WITHDRAWN)
        .exclude(test=but)
        .aggregate(last=Max("tested_on"))["last"]
    )
    events = drum.events.filter(kind__in=BRAKE_WORK)
    if on:
        events = events.filter(happened_on__lte=on)
    if last:
        events = events.filter(happened_on__gte=last)
    return events.order_by("-happened_on").first()


def _read(test: DrumTest, phase: str, mark_text: str, gauge_text: str) -> dict[str, Any]:
    """The typed fields of a reading as columns, or ValidationError naming each field that cannot be read."""
    errors: dict[str, str] = {}
    if not readings_open(test):
        raise ValidationError({"__all__": _(READINGS_SHUT)})
    if phase not in Phase.values:
        errors["phase"] = _("Choose what this reading is.")
    elif phase in AS_FOUND and (event := brake_work_since_last_test(test.drum, but=test)):
        errors["phase"] = _(BRAKE_WORK_DONE).format(event=event)
    mark_unit = setting_unit(test)
    gauge = test.round.kit.gauge
    mark = _figure("mark_text", mark_text, mark_unit, errors)
    shown = _figure("gauge_text", gauge_text, gauge.unit, errors)
    if shown and shown.si > gauge.full_scale.si:
        errors["gauge_text"] = _(ABOVE_SCALE).format(full_scale=gauge.full_scale, unit=units.label(gauge.unit))
    if shown and shown.si <= 0:
        errors["gauge_text"] = _("Write what the gauge showed; zero is no reading.")
    if errors or mark is None or shown is None:
        raise ValidationError(dict(errors))
    return {
        "phase": phase,
        "mark_text": mark.text,
        "mark_unit": mark_unit,
        "mark_si": mark.si,
        "gauge_text": shown.text,
        "gauge_unit": gauge.unit,
        "gauge_si": shown.si,
    }


def _figure(field: str, text: str, unit: str, errors: dict[str, str]) -> Typed | None:
    try:
        return read_quantity(text[:20], unit)
    except units.NumberError as error:
        errors[field] = _(units.NUMBER_ERRORS[error.code])
    except ValueError as error:
        errors[field] = str(error)
    return None


def _in_hand(test: DrumTest) -> DrumTest:
    locked = (
        DrumTest.objects.select_for_update(of=("self",)).select_related("round__kit__gauge", "drum").get(pk=test.pk)
    )
    if not locked.is_in_hand:
        raise NotInHand(NOT_IN_HAND)
    return locked


def _touch(test: DrumTest, actor: User, at: datetime | None) -> None:
    test.draft_revision += 1
    test.draft_saved_at = at or timezone.now()
    test.draft_saved_by = actor
    test.save(update_fields=["draft", "draft_revision", "draft_saved_at", "draft_saved_by"])


def _plain(reading: Reading) -> dict[str, Any]:
    return {
        "order": reading.order,
        "phase": reading.phase,
        "mark": f"{reading.mark_text} {reading.mark_unit}",
        "gauge": f"{reading.gauge_text} {reading.gauge_unit}",
        "slipped": reading.slipped,
        "reapplied": reading.reapplied,
        "rest_minutes": reading.rest_minutes,
    }
