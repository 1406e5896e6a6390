"""Raising and clearing a flag on a drum."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import save_audited, snapshot
from fleet.drums.models import Drum
from fleet.review.models import DrumFlag

WORD_NEEDED = _("Say in one sentence what to watch.")
CLEARED_WORD_NEEDED = _("Say in one sentence why it is cleared.")
ALREADY_CLEARED = _("This flag has already been cleared.")


@audited()
def drum_flag_raise(*, drum: Drum, word: str, actor: User, at: datetime | None = None) -> DrumFlag:
    """Mark a drum with a word; the same word on the same drum stands once."""
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    if not word.strip():
        raise ValidationError({"word": ValidationError(WORD_NEEDED, code="required")})
    same = DrumFlag.objects.standing().filter(drum=drum, word=word.strip()).first()
    if same is not None:
        return same
    flag = DrumFlag(drum=drum, word=word.strip(), raised_by=actor, raised_at=at or timezone.now())
    _save(flag, actor=actor, action="drum flagged", reason=flag.word, at=at)
    return flag


@audited()
def drum_flag_clear(*, flag: DrumFlag, word: str, actor: User, at: datetime | None = None) -> DrumFlag:
    """Clear a flag with a word; it stays on record. A colleague may, so that no flag outlives its author's post."""
    rows = DrumFlag.objects.select_for_update(of=("self",)).select_related("drum__winch__vessel")
    row = rows.get(pk=flag.pk)
    if row.cleared_at:
        raise ValidationError(ALREADY_CLEARED, code="cleared")
    if not word.strip():
        raise ValidationError({"word": ValidationError(CLEARED_WORD_NEEDED, code="required")})
    before = snapshot(row)
    row.cleared_by, row.cleared_at, row.cleared_word = actor, at or timezone.now(), word.strip()
    _save(row, actor=actor, action="flag cleared", before=before, reason=row.cleared_word, at=at)
    return row


def _save(flag: DrumFlag, **entry: object) -> None:
    vessel = flag.drum.winch.vessel
    save_audited(flag, company_id=vessel.company_id, vessel_id=vessel.pk, **entry)  # type: ignore[arg-type]
