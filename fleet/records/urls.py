"""The ship's pages, grouped by noun."""

from django.urls import path

from fleet.records import (
    check_views,
    deck_views,
    entry_views,
    history_views,
    prepare_views,
    record_views,
    round_views,
)

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
    path("rounds/<uuid:round_id>/submit/", check_views.round_submit, name="round_submit"),
    # drums
    path("drums/<uuid:drum_id>/prepare/", prepare_views.prepare, name="prepare"),
    path("drums/<uuid:drum_id>/worksheet.pdf", prepare_views.worksheet, name="worksheet"),
    path("drums/<uuid:drum_id>/history/", history_views.history, name="history"),
    path("drums/<uuid:drum_id>/test/", entry_views.test_start, name="test_start"),
    # tests: the entry page
    path("tests/<uuid:test_id>/", entry_views.test, name="test"),
    path("tests/<uuid:test_id>/save/", entry_views.test_save, name="test_save"),
    path("tests/<uuid:test_id>/readings/add/", entry_views.reading_add, name="reading_add"),
    path("readings/<uuid:reading_id>/edit/", entry_views.reading_edit, name="reading_edit"),
    path("readings/<uuid:reading_id>/remove/", entry_views.reading_remove, name="reading_remove"),
    path("tests/<uuid:test_id>/photos/add/", entry_views.photo_add, name="photo_add"),
    path("photos/<uuid:photo_id>/", entry_views.photo, name="photo"),
    path("photos/<uuid:photo_id>/remove/", entry_views.photo_remove, name="photo_remove"),
    # tests: check, release, record
    path("tests/<uuid:test_id>/check/", check_views.check, name="check"),
    path("tests/<uuid:test_id>/confirm-instruments/", check_views.confirm_instruments, name="confirm_instruments"),
    path("tests/<uuid:test_id>/release/", check_views.release, name="release"),
    path("tests/<uuid:test_id>/submit/", check_views.submit, name="submit"),
    path("tests/<uuid:test_id>/reopen/", record_views.reopen, name="reopen"),
    path("tests/<uuid:test_id>/set-aside/", record_views.set_aside, name="set_aside"),
    path("tests/<uuid:test_id>/record/", record_views.record, name="record"),
]
