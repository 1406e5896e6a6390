"""The ship's pages, grouped by noun."""

from django.urls import path

from fleet.records import deck_views, history_views, prepare_views, round_views

app_name = "records"

urlpatterns = [
    # the vessel's deck
    path("vessels/<uuid:vessel_id>/deck/", deck_views.deck, name="deck"),
    # rounds
    path("vessels/<uuid:vessel_id>/rounds/new/", round_views.round_new, name="round_new"),
    path("rounds/<uuid:round_id>/", round_views.round_page, name="round"),
    path("rounds/<uuid:round_id>/edit/", round_views.round_edit, name="round_edit"),
    path("rounds/<uuid:round_id>/close/", round_views.round_close, name="round_close"),
    path("rounds/<uuid:round_id>/report/", round_views.round_report, name="round_report"),
    # drums
    path("drums/<uuid:drum_id>/prepare/", prepare_views.prepare, name="prepare"),
    path("drums/<uuid:drum_id>/worksheet.pdf", prepare_views.worksheet, name="worksheet"),
    path("drums/<uuid:drum_id>/history/", history_views.history, name="history"),
]
