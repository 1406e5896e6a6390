"""The fleet in figures, as a page and as a file."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.certificates.csv_files import csv_bytes
from fleet.review.fleet_watch import HEADER, FleetFigures, export_rows, fleet_figures
from fleet.review.forms import FleetFilter
from fleet.review.watching import watched_vessels

PAGE = 50


def fleet(request: HttpRequest) -> HttpResponse:
    figures, wanted = _figures(request)
    asked = request.GET.copy()
    asked.pop("page", None)
    page = Paginator(figures.drums, PAGE).get_page(request.GET.get("page"))
    context = {"figures": figures, "page": page, "filter": wanted, "query": asked.urlencode()}
    return render(request, "review/fleet.html", context)


def fleet_csv(request: HttpRequest) -> HttpResponse:
    """The same drums in the same order, all of them."""
    figures, _ = _figures(request)
    day = timezone.localdate().isoformat()
    response = HttpResponse(csv_bytes(HEADER, export_rows(figures)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="fleet-{day}.csv"'
    return response


def _figures(request: HttpRequest) -> tuple[FleetFigures, FleetFilter]:
    vessels = watched_vessels(request)
    wanted = FleetFilter(request.GET, vessels=vessels)
    wanted.is_valid()
    vessel = wanted.cleaned_data.get("vessel")
    chosen = vessels.filter(pk=vessel.pk) if vessel else vessels
    return fleet_figures(chosen, on=timezone.localdate()), wanted
