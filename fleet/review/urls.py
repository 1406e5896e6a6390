from django.urls import URLPattern, path

from fleet.review import audit_views, flag_views, fleet_views, views

app_name = "review"

urlpatterns: list[URLPattern] = [
    path("review/today/", views.today, name="today"),
    path("review/<uuid:submission_id>/", views.review, name="review"),
    path("review/<uuid:submission_id>/approve/", views.approve, name="approve"),
    path("review/<uuid:submission_id>/return/", views.return_to_ship, name="return"),
    path("review/tests/<uuid:test_id>/withdraw/", views.withdraw, name="withdraw"),
    path("review/drums/<uuid:drum_id>/flag/", flag_views.flag_new, name="flag_new"),
    path("review/flags/<uuid:flag_id>/clear/", flag_views.flag_clear, name="flag_clear"),
    path("review/fleet/", fleet_views.fleet, name="fleet"),
    path("review/fleet.csv", fleet_views.fleet_csv, name="fleet_csv"),
    path("audit/", audit_views.audit, name="audit"),
]
