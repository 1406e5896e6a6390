from django.urls import URLPattern, URLResolver, include, path

from fleet.accounts.closed import closed_pages
from fleet.core.health import health
from fleet.review.views import home

urlpatterns: list[URLPattern | URLResolver] = [
    path("accounts/", include(closed_pages)),
    path("accounts/", include("allauth.urls")),
    path("", include("fleet.vessels.urls")),
    path("", include("fleet.drums.urls")),
    path("", include("fleet.gauges.urls")),
    path("", include("fleet.records.urls")),
    path("", include("fleet.drift.urls")),
    path("", include("fleet.certificates.urls")),
    path("", include("fleet.review.urls")),
    path("", include("fleet.practice.urls")),
    path("", home, name="home"),
    path("health/", health, name="health"),
]
