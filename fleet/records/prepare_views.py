"""Prepare one drum: its figures on a page, and the worksheet to take on deck."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from fleet.accounts.models import User
from fleet.accounts.signed_in import signed_in_person
from fleet.core.pdf import PdfUnavailable, in_black, render_pdf
from fleet.drums.models import Drum
from fleet.gauges.models import Kit
from fleet.records.draft import CHECKS, has_band
from fleet.records.figure_rows import drum_rows, kit_rows, ship_rows, worksheet_rows
from fleet.records.models import Round
from fleet.records.preparation import Preparation, prepare_drum
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import may, require


@require_safe
def prepare(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    found = _preparation(request, user, drum_id)
    vessel = found.drum.vessel
    context = {
        **_context(found),
        "kits": _kits(vessel),
        "may_test": may(user, "test", vessel) and not found.drum.removed_on,
        "may_edit_drums": may(user, "edit_drums", vessel),
        "may_edit_instruments": may(user, "edit_instruments", vessel),
    }
    return render(request, "records/prepare.html", context)


@require_safe
def worksheet(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    found = _preparation(request, user, drum_id)
    if found.figures is None:
        return render(request, "records/worksheet_missing.html", _context(found), status=409)
    context = {**_context(found), "checks": CHECKS, "rows": range(8), "sheet_rows": worksheet_rows(found)}
    context["has_band"] = has_band(found.drum)
    title = f"{found.drum.vessel} – {found.drum}"
    html = in_black(render_to_string("records/worksheet.html", context))
    try:
        content = render_pdf(html, title=title, created=timezone.now())
    except PdfUnavailable as error:
        return render(request, "records/worksheet_missing.html", {**_context(found), "unavailable": error}, status=503)
    name = slugify(f"worksheet {found.drum.vessel} {found.drum} {found.on}")
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}.pdf"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


def _preparation(request: HttpRequest, user: User, drum_id: uuid.UUID) -> Preparation:
    """The drum with the kit that was asked for, else the open round's, else the vessel's only one."""
    drums = (
        Drum.objects.for_user(user).select_related("winch__vessel__company").prefetch_related("particulars", "events")
    )
    drum = get_object_or_404(drums, pk=drum_id)
    require(user, "see_deck", drum.vessel)
    row = Round.objects.open().filter(vessel=drum.vessel).order_by("-started_on", "-created_at").first()
    kits = Kit.objects.filter(vessel=drum.vessel).whole()
    asked = request.GET.get("kit", "")
    kit: Kit | None
    if asked:
        kit = get_object_or_404(kits, pk=_uuid(asked))
    elif row:
        kit = kits.get(pk=row.kit_id)
    else:
        in_use = list(kits.filter(retired_on__isnull=True)[:2])
        kit = in_use[0] if len(in_use) == 1 else None
    return prepare_drum(drum=drum, kit=kit, round=row, on=timezone.localdate())


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _kits(vessel: Vessel) -> list[Kit]:
    return list(Kit.objects.filter(vessel=vessel, retired_on__isnull=True).select_related("gauge"))


def _context(found: Preparation) -> dict[str, object]:
    return {
        "found": found,
        "drum": found.drum,
        "vessel": found.drum.vessel,
        "figures": found.figures,
        "ship_rows": ship_rows(found),
        "drum_rows": drum_rows(found),
        "kit_rows": kit_rows(found),
        "jack_acts": found.figures.jacks[0].jack.acts if found.figures and found.figures.jacks else "push",
    }
