"""A drum's particulars: a new row for new knowledge, never a change of an old one."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.findings import said
from fleet.core.typed import Typed
from fleet.core.writing import day_of, save_audited, stamp_created
from fleet.drums.checks import field_of, hard_problems, particulars_findings, particulars_row, sister_rows
from fleet.drums.figures import Figure
from fleet.drums.models import Drum, DrumParticulars, LiningHeld, Nesting, TargetBasis
from fleet.vessels.models import policy_for

REASON_NEEDED = _("Say why these particulars are recorded: what was measured, renewed or corrected.")
TOO_FAR_AHEAD = _("Particulars can be valid from at most 60 days ahead. Check the year.")
AHEAD = timedelta(days=60)


@audited()
def drum_particulars_record(
    *,
    drum: Drum,
    valid_from: date,
    figures: Mapping[str, Figure],
    line_material: str,
    reason: str,
    actor: User,
    reference_layer: int | None = None,
    nesting: str = Nesting.LINE_ON_LINE,
    lining_held: str = LiningHeld.UNKNOWN,
    target_basis: str = TargetBasis.GEOMETRY,
    maker_table: Sequence[tuple[Typed, Typed]] = (),
    maker_table_jack: str = "",
    maker_table_document: str = "",
    checked: Collection[str] = (),
    at: datetime | None = None,
) -> DrumParticulars:
    """Record what is known of a drum from a day on.

    `maker_table` holds pairs of jack pressure and line load. `checked` names the codes of findings that the author
    has answered with "I have checked this figure"; any other finding that asks or stops is refused. A split drum's
    layer need not be given; an undivided one's must be. The same row sent twice is recorded once.
    """
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    row = particulars_row(
        drum=drum,
        valid_from=valid_from,
        figures=figures,
        line_material=line_material,
        reference_layer=reference_layer,
        nesting=nesting,
        lining_held=lining_held,
        target_basis=target_basis,
        maker_table=maker_table,
        maker_table_jack=maker_table_jack,
        maker_table_document=maker_table_document,
        reason=reason,
        author=actor,
    )
    _check(row, checked, day_of(at))
    earlier = _same_row(row)
    if earlier is not None:
        return earlier
    vessel = drum.winch.vessel
    save_audited(
        row,
        actor=actor,
        action="drum particulars recorded",
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        more={"checked": sorted(checked)} if checked else None,
        exclude=("figures",),
        reason=row.reason,
        at=at,
    )
    stamp_created(row, at)
    return row


def _check(row: DrumParticulars, checked: Collection[str], today: date) -> None:
    row.reason = row.reason.strip()
    problems = hard_problems(row)
    if not row.reason:
        problems.setdefault("reason", []).append(ValidationError(REASON_NEEDED, code="required"))
    if row.valid_from > today + AHEAD:
        problems.setdefault("valid_from", []).append(ValidationError(TOO_FAR_AHEAD, code="ahead"))
    if not problems:
        share = float(policy_for(row.drum.winch.vessel, row.valid_from).share)
        for finding in particulars_findings(row, sister_rows(row.drum, row.valid_from), share):
            if finding.level == "stop" or (finding.level == "ask" and finding.code not in checked):
                problem = ValidationError(said(finding), code=f"{finding.level}:{finding.code}")
                problems.setdefault(field_of(finding), []).append(problem)
    if problems:
        raise ValidationError({name: list(found) for name, found in problems.items()})


def _same_row(row: DrumParticulars) -> DrumParticulars | None:
    newest = DrumParticulars.objects.filter(drum=row.drum).order_by("-created_at").first()
    kept = [field.attname for field in row._meta.concrete_fields if field.name not in {"id", "created_at"}]
    if newest is not None and all(getattr(newest, name) == getattr(row, name) for name in kept):
        return newest
    return None
