"""The pages over the years."""

from django.urls import path

from fleet.drift import views

app_name = "drift"

urlpatterns = [
    path("drums/<uuid:drum_id>/years/", views.years, name="years"),
]
