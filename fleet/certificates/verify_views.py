"""The pages on which anyone checks a certificate: no sign-in, no names of people, so many look-ups per address."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.certificates import limits
from fleet.certificates.codes import code_read
from fleet.certificates.file_verdict import file_verdict, trusted_authorities
from fleet.certificates.forms import CodeForm, FileForm
from fleet.certificates.models import Certificate
from fleet.certificates.paper import public_facts
from fleet.certificates.pdf_reading import UnreadablePdf
from fleet.core.addresses import address_of

UNKNOWN = 404
TOO_OFTEN = 429
FILES = 20


@login_not_required
@never_cache
@require_safe
def verify(request: HttpRequest, code: str = "") -> HttpResponse:
    """Ask for a code, or say what is known of the certificate that has it."""
    if not code:
        form = CodeForm(request.GET if "code" in request.GET else None)
        if form.is_bound and form.is_valid():
            return redirect("certificates:verify", form.cleaned_data["code"])
        return _form_page(request, form=form)
    if not limits.allowed(what="verify", address=address_of(request)):
        return _later(request)
    written = code_read(code)
    found = Certificate.objects.whole().filter(code=written).first() if written else None
    if found is None:
        return _form_page(request, asked=written or code[:40], is_code=bool(written), status=UNKNOWN)
    if code != found.code:
        return redirect("certificates:verify", found.code)
    return render(request, "certificates/verified.html", {"certificate": found, "facts": public_facts(found)})


@login_not_required
@never_cache
def verify_file(request: HttpRequest) -> HttpResponse:
    """Look at a file that somebody hands over, say what it is worth, and keep nothing of it."""
    if request.method != "POST":
        return redirect("certificates:verify")
    if not limits.allowed(what="verify file", address=address_of(request), limit=FILES):
        return _later(request)
    form = FileForm(request.POST, request.FILES)
    if not form.is_valid():
        return _form_page(request, file_form=form)
    try:
        verdict = file_verdict(form.cleaned_data["file"].read())
    except UnreadablePdf as error:
        form.add_error("file", str(error))
        return _form_page(request, file_form=form)
    facts = public_facts(verdict.certificate) if verdict.certificate else None
    return render(request, "certificates/verified_file.html", {"verdict": verdict, "facts": facts})


@login_not_required
@require_safe
def authority(request: HttpRequest, fingerprint: str) -> HttpResponse:
    """The certificate of an operator's authority, for whoever wants to trust it."""
    found = next((row for row in trusted_authorities() if row.sha256 == fingerprint), None)
    if found is None:
        raise Http404
    answer = HttpResponse(found.pem, content_type="application/x-pem-file")
    answer["Content-Disposition"] = f'attachment; filename="{fingerprint[:16]}-authority.pem"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _form_page(request: HttpRequest, *, status: int = 200, **context: object) -> HttpResponse:
    """Both ways to ask, and whom to trust."""
    shown = {"form": CodeForm(), "file_form": FileForm(), "authorities": trusted_authorities(), **context}
    return render(request, "certificates/verify.html", shown, status=status)


def _later(request: HttpRequest) -> HttpResponse:
    answer = render(request, "certificates/verify_later.html", status=TOO_OFTEN)
    answer["Retry-After"] = str(limits.WINDOW_SECONDS)
    return answer
