"""The page on which anyone checks a certificate: no sign-in, no names of people, so many look-ups per address."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.certificates import limits
from fleet.certificates.codes import code_read
from fleet.certificates.forms import CodeForm
from fleet.certificates.models import Certificate
from fleet.certificates.paper import public_facts
from fleet.core.addresses import address_of

UNKNOWN = 404
TOO_OFTEN = 429


@login_not_required
@never_cache
@require_safe
def verify(request: HttpRequest, code: str = "") -> HttpResponse:
    """Ask for a code, or say what is known of the certificate that has it."""
    if not code:
        form = CodeForm(request.GET if "code" in request.GET else None)
        if form.is_bound and form.is_valid():
            return redirect("certificates:verify", form.cleaned_data["code"])
        return render(request, "certificates/verify.html", {"form": form})
    if not limits.allowed(what="verify", address=address_of(request)):
        answer = render(request, "certificates/verify_later.html", status=TOO_OFTEN)
        answer["Retry-After"] = str(limits.WINDOW_SECONDS)
        return answer
    written = code_read(code)
    found = Certificate.objects.whole().filter(code=written).first() if written else None
    if found is None:
        context = {"form": CodeForm(), "asked": written or code[:40], "is_code": bool(written)}
        return render(request, "certificates/verify.html", context, status=UNKNOWN)
    if code != found.code:
        return redirect("certificates:verify", found.code)
    return render(request, "certificates/verified.html", {"certificate": found, "facts": public_facts(found)})
