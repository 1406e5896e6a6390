"""Services of a round: open it, change what its drums share, close it."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.documents import clean_document
from fleet.core.writing import day_of, save_audited, snapshot
from fleet.gauges.models import Kit
from fleet.records.models import DoneBy, DrumTest, Reading, Round, Submission
from fleet.vessels.models import Vessel

ALREADY_OPEN = _("A round of this kind is open on this vessel since %(day)s. Close it first, or go on with it.")
KIT_OF_ANOTHER_VESSEL = _("This kit belongs to another vessel. Choose one of this vessel's kits.")
KIT_OUT_OF_USE = _("This kit is out of use. Choose one that is in use.")
KIT_IN_USE = _("Readings were taken with %(kit)s in this round. Close this round and open another for another kit.")
NOBODY = _("Name at least one person on deck, with the rank.")
PERSON_INCOMPLETE = _("Give each person's name and rank. Something is missing at person %(number)s.")
NAME_NEEDED = _("Name the yard, the service or the surveyor.")
REPORT_NEEDED = _("Attach their report: PDF, JPEG, PNG or WebP, at most 10 MB.")
IN_FUTURE = _("This day has not come yet. Give the day on which the work starts, today at the latest.")
CLOSED = _("This round is closed and is not changed any more.")
STILL_IN_HAND = _(
    "Still being written: %(drums)s. Submit these tests first; a test that was broken off is submitted as stopped, "
    "with the reason."
)
OFFSET_RANGE = _("Ship's time lies between 12 hours behind and 14 hours ahead of UTC.")

# What may be changed while the round is open; its kind, its vessel and who opened it stay.
CHANGEABLE = frozenset(
    {
        "started_on",
        "kit",
        "place",
        "permit",
        "people",
        "weather",
        "done_by",
        "done_by_name",
        "utc_offset_minutes",
    }
)

People = Sequence[Mapping[str, str]]


def round_open(
    *,
    vessel: Vessel,
    kind: str,
    started_on: date,
    kit: Kit,
    place: str,
    permit: str,
    people: People,
    weather: str,
    done_by: str,
    done_by_name: str = "",
    report: UploadedFile | None = None,
    utc_offset_minutes: int = 0,
    actor: User,
    at: datetime | None = None,
) -> Round:
    """Open a round with what all its drums share; one of each kind may be open at a time."""
    with audited():
        # Two people who open the round at once: the second one is told.
        Vessel.objects.select_for_update().get(pk=vessel.pk)
        row = Round(
            vessel=vessel,
            kind=kind,
            started_on=started_on,
            kit=kit,
            place=place.strip(),
            permit=permit.strip(),
            people=_people(people),
            weather=weather.strip(),
            done_by=done_by,
            done_by_name=done_by_name.strip(),
            utc_offset_minutes=utc_offset_minutes,
            opened_by=actor,
        )
        problems = _problems(row, report=report, at=at)
        earlier = Round.objects.open().filter(vessel=vessel, kind=kind).first()
        if earlier:
            problems["kind"] = ValidationError(ALREADY_OPEN, code="open", params={"day": earlier.started_on})
        _keep_report(row, report, problems)
        _refuse(row, problems)
        _save(row, actor=actor, action="round opened", at=at)
    return row


def round_change(
    *, round: Round, report: UploadedFile | None = None, actor: User, at: datetime | None = None, **values: Any
) -> Round:
    """Change what an open round's drums share; a kit with which readings were taken stays."""
    unknown = set(values) - CHANGEABLE
    if unknown:
        raise TypeError(f"no such field to change: {', '.join(sorted(unknown))}")
    with audited():
        row = _locked(round)
        if row.closed_on:
            raise ValidationError(CLOSED, code="closed")
        before, earlier_kit = snapshot(row), row.kit
        for name, value in values.items():
            setattr(row, name, value.strip() if isinstance(value, str) else value)
        row.people = _people(row.people)
        problems = _problems(row, report=report, at=at)
        if row.kit_id == earlier_kit.pk:
            # Taken out of use meanwhile: the readings were taken with it all the same.
            problems.pop("kit", None)
        elif _has_work(row):
            problems["kit"] = ValidationError(KIT_IN_USE, code="in_use", params={"kit": earlier_kit.name})
        _keep_report(row, report, problems)
        _refuse(row, problems)
        _save(row, actor=actor, action="round changed", before=before, at=at)
    return row


def round_close(*, round: Round, actor: User, at: datetime | None = None) -> Round:
    """Close a round; closed twice it is closed once. Refused while one of its tests is still being written."""
    with audited():
        row = _locked(round)
        if row.closed_on:
            return row
        in_hand = DrumTest.objects.in_hand().filter(round=row).select_related("drum").order_by("drum__name")
        if names := [test.drum.name for test in in_hand]:
            raise ValidationError(STILL_IN_HAND, code="in_hand", params={"drums": ", ".join(names)})
        before = snapshot(row)
        row.closed_on = day_of(at)
        _save(row, actor=actor, action="round closed", before=before, at=at)
    return row


def _locked(round: Round) -> Round:
    return Round.objects.select_for_update(of=("self",)).select_related("vessel", "kit").get(pk=round.pk)


def _people(people: People) -> list[dict[str, str]]:
    """Names and ranks without what is around them; wholly empty rows are left out."""
    tidy = [{part: re.sub(r"\s+", " ", str(row.get(part, ""))).strip() for part in ("name", "rank")} for row in people]
    return [row for row in tidy if row["name"] or row["rank"]]


def _problems(row: Round, *, report: UploadedFile | None, at: datetime | None) -> dict[str, ValidationError]:
    """What is refused, by field, in one place for opening and changing."""
    problems: dict[str, ValidationError] = {}
    # A ship ahead of UTC writes tomorrow's date during its morning.
    if (row.started_on - day_of(at)).days > 1:
        problems["started_on"] = ValidationError(IN_FUTURE, code="future")
    if row.kit.vessel_id != row.vessel_id:
        problems["kit"] = ValidationError(KIT_OF_ANOTHER_VESSEL, code="vessel")
    elif row.kit.retired_on:
        problems["kit"] = ValidationError(KIT_OUT_OF_USE, code="retired")
    if not row.people:
        problems["people"] = ValidationError(NOBODY, code="required")
    for number, person in enumerate(row.people, start=1):
        if not (person["name"] and person["rank"]):
            problems["people"] = ValidationError(PERSON_INCOMPLETE, code="incomplete", params={"number": number})
            break
    if not -720 <= row.utc_offset_minutes <= 840:
        problems["utc_offset_minutes"] = ValidationError(OFFSET_RANGE, code="range")
    if row.done_by != DoneBy.CREW:
        if not row.done_by_name:
            problems["done_by_name"] = ValidationError(NAME_NEEDED, code="required")
        if not report and not row.report:
            problems["report"] = ValidationError(REPORT_NEEDED, code="required")
    return problems


def _keep_report(row: Round, report: UploadedFile | None, problems: dict[str, ValidationError]) -> None:
    """Take the report by what it holds, not by its name; an earlier file stays stored, its hash is in the audit."""
    if not report:
        return
    try:
        clean = clean_document(report)
    except ValidationError as error:
        problems["report"] = error
        return
    content = clean.content.read()
    clean.content.seek(0)
    row.report_name = _file_name(report.name or "", clean.extension)
    row.report_sha256 = hashlib.sha256(content).hexdigest()
    if not problems:
        row.report.save(f"{row.pk}-{row.report_sha256[:12]}.{clean.extension}", clean.content, save=False)


def _file_name(name: str, extension: str) -> str:
    """The sender's name for the file, as text to show, with the ending of what it really is."""
    stem = re.sub(r"[^\w .()-]", "_", name.rsplit("/", 1)[-1].rsplit("\\", 1)[-1]).rsplit(".", 1)[0].strip() or "report"
    return f"{stem[:120]}.{extension}"


def _has_work(row: Round) -> bool:
    return Reading.objects.filter(test__round=row).exists() or Submission.objects.filter(test__round=row).exists()


def _refuse(row: Round, problems: dict[str, ValidationError]) -> None:
    """Say everything that is wrong at once: what the columns refuse beside what the round refuses."""
    try:
        row.full_clean(exclude=set(problems))
    except ValidationError as error:
        problems.update({name: ValidationError(found) for name, found in error.error_dict.items()})
    if problems:
        raise ValidationError(problems)


def _save(row: Round, *, actor: User, action: str, at: datetime | None, before: dict[str, Any] | None = None) -> None:
    save_audited(
        row,
        actor=actor,
        action=action,
        company_id=row.vessel.company_id,
        vessel_id=row.vessel_id,
        before=before,
        at=at,
    )
