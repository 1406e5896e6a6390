"""Certificates as pages and papers, for everyone who may see their vessel."""

import uuid

from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils.text import slugify
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.certificates.failures import failed_records
from fleet.certificates.forms import CertificateFilter
from fleet.certificates.models import Certificate
from fleet.certificates.packs import pack_entries, year_entries
from fleet.certificates.paper import sheet_context
from fleet.certificates.round_papers import summary_pdf, tags_pdf
from fleet.certificates.services import certificate_pdf_make, download_note
from fleet.certificates.signing_keys import fingerprint_words
from fleet.certificates.snapshot import address_pieces, read_snapshot, signing_authority_of
from fleet.certificates.zips import zip_answer
from fleet.core.documents import file_answer
from fleet.core.pdf import PdfUnavailable
from fleet.records.models import Round
from fleet.vessels.models import Vessel

PAGE = 25
NO_PDF = 503


def certificate_list(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    vessels = Vessel.objects.for_user(user)
    seen = Certificate.objects.for_user(user)
    years = [day.year for day in seen.dates("submission__tested_on", "year", order="DESC")]
    wanted = CertificateFilter(request.GET, vessels=vessels, years=years)
    page = Paginator(wanted.chosen(seen.whole()), PAGE).get_page(request.GET.get("page"))
    asked = request.GET.copy()
    asked.pop("page", None)
    context = {"filter": wanted, "page": page, "vessels": vessels, "query": asked.urlencode()}
    return render(request, "certificates/certificate_list.html", context)


def vessel_certificates(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    certificates = list(Certificate.objects.for_user(user).whole().filter(submission__test__round__vessel=vessel))
    context = {
        "vessel": vessel,
        "certificates": certificates,
        "failures": failed_records(user).filter(test__round__vessel=vessel),
        "years": sorted({row.submission.tested_on.year for row in certificates}, reverse=True),
    }
    return render(request, "certificates/vessel_certificates.html", context)


def certificate(request: HttpRequest, certificate_id: uuid.UUID) -> HttpResponse:
    found = _certificate(request, certificate_id)
    snapshot = read_snapshot(found)
    context = {
        **sheet_context(snapshot["record"], snapshot["decision"]),
        "certificate": found,
        "address_pieces": address_pieces(snapshot["certificate"]["verify_address"]),
        "authority": fingerprint_words(signing_authority_of(snapshot)),
    }
    return render(request, "certificates/certificate.html", context)


def certificate_pdf(request: HttpRequest, certificate_id: uuid.UUID) -> HttpResponseBase:
    found = _certificate(request, certificate_id)
    try:
        certificate_pdf_make(found)
    except PdfUnavailable as error:
        return _no_pdf(request, error)
    vessel = found.submission.test.round.vessel
    download_note(what="certificate", subject=found, vessel=vessel, actor=signed_in_person(request))
    return file_answer(found.pdf, name=found.number)


def vessel_zip(request: HttpRequest, vessel_id: uuid.UUID, year: int) -> FileResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user), pk=vessel_id)
    download_note(what=f"certificates of {year}", subject=vessel, vessel=vessel, actor=user)
    return zip_answer(year_entries(vessel, year), name=f"{slugify(vessel.name)}-{year}-certificates.zip")


def inspection_pack(request: HttpRequest, vessel_id: uuid.UUID) -> FileResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    download_note(what="inspection pack", subject=vessel, vessel=vessel, actor=user)
    return zip_answer(pack_entries(vessel), name=f"{slugify(vessel.name)}-inspection-pack.zip")


def tags(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    round_ = _round(request, round_id)
    try:
        content = tags_pdf(round_)
    except PdfUnavailable as error:
        return _no_pdf(request, error)
    download_note(what="winch tags", subject=round_, vessel=round_.vessel, actor=signed_in_person(request))
    return _pdf_answer(content, f"{round_.vessel.name}-{round_.started_on:%Y}-tags")


def round_summary(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    round_ = _round(request, round_id)
    try:
        content = summary_pdf(round_)
    except PdfUnavailable as error:
        return _no_pdf(request, error)
    download_note(what="round summary", subject=round_, vessel=round_.vessel, actor=signed_in_person(request))
    return _pdf_answer(content, f"{round_.vessel.name}-{round_.started_on:%Y}-summary")


def _certificate(request: HttpRequest, certificate_id: uuid.UUID) -> Certificate:
    return get_object_or_404(Certificate.objects.for_user(signed_in_person(request)).whole(), pk=certificate_id)


def _round(request: HttpRequest, round_id: uuid.UUID) -> Round:
    rounds = Round.objects.for_user(signed_in_person(request)).select_related("vessel__company")
    return get_object_or_404(rounds, pk=round_id)


def _pdf_answer(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'attachment; filename="{slugify(name)}.pdf"'
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer


def _no_pdf(request: HttpRequest, error: PdfUnavailable) -> HttpResponse:
    """The record stands; only its paper has to wait."""
    return render(request, "certificates/no_pdf.html", {"why": str(error), "title": _("No PDF yet")}, status=NO_PDF)
