from django.urls import URLPattern, path

from fleet.certificates import verify_views, views

app_name = "certificates"

urlpatterns: list[URLPattern] = [
    path("certificates/", views.certificate_list, name="certificate_list"),
    path("certificates/<uuid:certificate_id>/", views.certificate, name="certificate"),
    path("certificates/<uuid:certificate_id>/certificate.pdf", views.certificate_pdf, name="certificate_pdf"),
    path("vessels/<uuid:vessel_id>/certificates/", views.vessel_certificates, name="vessel_certificates"),
    path("vessels/<uuid:vessel_id>/certificates/<int:year>.zip", views.vessel_zip, name="vessel_zip"),
    path("vessels/<uuid:vessel_id>/inspection-pack.zip", views.inspection_pack, name="inspection_pack"),
    path("rounds/<uuid:round_id>/tags.pdf", views.tags, name="tags"),
    path("rounds/<uuid:round_id>/summary.pdf", views.round_summary, name="round_summary"),
    path("verify/", verify_views.verify, name="verify"),
    path("verify/file/", verify_views.verify_file, name="verify_file"),
    path("verify/authority/<str:fingerprint>.pem", verify_views.authority, name="authority"),
    path("verify/<str:code>/", verify_views.verify, name="verify"),
]
