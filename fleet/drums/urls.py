from django.urls import path

from fleet.drums.views import events, particulars, register

app_name = "drums"

urlpatterns = [
    path("vessels/<uuid:vessel_id>/drums/", register.drum_list, name="drum_list"),
    path("vessels/<uuid:vessel_id>/drums/new/", register.drum_new, name="drum_new"),
    path("vessels/<uuid:vessel_id>/winches/new/", register.winch_new, name="winch_new"),
    path("winches/<uuid:winch_id>/edit/", register.winch_edit, name="winch_edit"),
    path("drums/<uuid:drum_id>/register/", register.drum_page, name="drum"),
    path("drums/<uuid:drum_id>/edit/", register.drum_edit, name="drum_edit"),
    path("drums/<uuid:drum_id>/remove/", register.drum_remove, name="drum_remove"),
    path("drums/<uuid:drum_id>/mark-picture/", register.mark_picture, name="mark_picture"),
    path("drums/<uuid:drum_id>/particulars/new/", particulars.particulars_new, name="particulars_new"),
    path("drums/<uuid:drum_id>/events/new/", events.event_new, name="event_new"),
    path("drums/<uuid:drum_id>/retest/new/", events.retest_order_new, name="retest_order_new"),
    path("retest-orders/<uuid:order_id>/take-back/", events.retest_order_take_back, name="retest_order_take_back"),
]
