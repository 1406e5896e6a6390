from django.urls import URLPattern, path

from fleet.review import audit_views, views

app_name = "review"

urlpatterns: list[URLPattern] = [
    path("review/today/", views.today, name="today"),
    path("review/<uuid:submission_id>/", views.review, name="review"),
    path("review/<uuid:submission_id>/approve/", views.approve, name="approve"),
    path("review/<uuid:submission_id>/return/", views.return_to_ship, name="return"),
    path("review/tests/<uuid:test_id>/withdraw/", views.withdraw, name="withdraw"),
    path("audit/", audit_views.audit, name="audit"),
]
