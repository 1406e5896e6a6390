from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("accounts/", include("allauth.urls")),
    path("", include("fleet.vessels.urls")),
    path("", include("fleet.drums.urls")),
    path("", include("fleet.certificates.urls")),
]
