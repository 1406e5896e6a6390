"""Practice pages: choose a brake, go on with a test, end it. The test is in the address; nothing is written."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.accounts.signed_in import signed_in_person
from fleet.core.kept_forms import kept_post
from fleet.core.requests import HtmxHttpRequest
from fleet.practice.moves import Unreadable, read
from fleet.practice.page import run_context, run_url, start_context
from fleet.practice.posted import PUMPS, make_move
from fleet.practice.run import Refused, play


@require_safe
def start(request: HtmxHttpRequest) -> HttpResponse:
    signed_in_person(request)
    return render(request, "practice/start.html", start_context())


@require_safe
def run(request: HtmxHttpRequest) -> HttpResponse:
    signed_in_person(request)
    try:
        address = read(request.GET.get("run", ""))
        played = play(address)
    except Unreadable:
        return render(request, "practice/start.html", {**start_context(), "unreadable": True})
    return render(request, "practice/run.html", run_context(address, played, typed=kept_post(request)))


def move(request: HtmxHttpRequest) -> HttpResponse:
    signed_in_person(request)
    try:
        address = read(request.POST.get("run", ""))
        played = play(address)
    except Unreadable:
        start_url = reverse("practice:start")
        by_htmx = request.htmx and request.method == "POST"
        return HttpResponse(headers={"HX-Redirect": start_url}) if by_htmx else redirect(start_url)
    try:
        address = make_move(address, played, request.POST.dict())
    except Refused as refusal:
        context = run_context(address, played, typed=request.POST, refusal=refusal)
    else:
        if not request.htmx:
            # Without scripts each stroke is a page of its own: it opens at the gauge.
            return redirect(run_url(address) + ("#pump" if request.POST.get("act") in PUMPS else ""))
        context = run_context(address, played)
    response = render(request, "practice/_run.html" if request.htmx else "practice/run.html", context)
    response["HX-Replace-Url"] = run_url(address)
    return response
