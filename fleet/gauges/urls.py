from django.urls import path

from fleet.gauges.views import gauges, gear, jacks, overview

app_name = "gauges"

urlpatterns = [
    path("vessels/<uuid:vessel_id>/instruments/", overview.instrument_list, name="instrument_list"),
    path("vessels/<uuid:vessel_id>/gauges/new/", gauges.gauge_new, name="gauge_new"),
    path("gauges/<uuid:gauge_id>/", gauges.gauge_page, name="gauge"),
    path("gauges/<uuid:gauge_id>/edit/", gauges.gauge_edit, name="gauge_edit"),
    path("gauges/<uuid:gauge_id>/calibrations/new/", gauges.calibration_new, name="calibration_new"),
    path("gauges/<uuid:row_id>/retire/", overview.instrument_retire, {"what": "gauge"}, name="gauge_retire"),
    path(
        "calibrations/<uuid:calibration_id>/document/",
        gauges.calibration_document,
        name="calibration_document",
    ),
    path("vessels/<uuid:vessel_id>/jacks/new/", jacks.jack_new, name="jack_new"),
    path("jacks/<uuid:jack_id>/", jacks.jack_page, name="jack"),
    path("jacks/<uuid:jack_id>/edit/", jacks.jack_edit, name="jack_edit"),
    path("jacks/<uuid:row_id>/retire/", overview.instrument_retire, {"what": "jack"}, name="jack_retire"),
    path("vessels/<uuid:vessel_id>/levers/new/", gear.lever_new, name="lever_new"),
    path("levers/<uuid:lever_id>/edit/", gear.lever_edit, name="lever_edit"),
    path("levers/<uuid:row_id>/retire/", overview.instrument_retire, {"what": "lever"}, name="lever_retire"),
    path("vessels/<uuid:vessel_id>/footings/new/", gear.footing_new, name="footing_new"),
    path("footings/<uuid:footing_id>/edit/", gear.footing_edit, name="footing_edit"),
    path("footings/<uuid:row_id>/retire/", overview.instrument_retire, {"what": "footing"}, name="footing_retire"),
    path("vessels/<uuid:vessel_id>/kits/new/", gear.kit_new, name="kit_new"),
    path("kits/<uuid:kit_id>/edit/", gear.kit_edit, name="kit_edit"),
    path("kits/<uuid:row_id>/retire/", overview.instrument_retire, {"what": "kit"}, name="kit_retire"),
]
