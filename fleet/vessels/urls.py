from django.urls import path

from fleet.vessels.views import accounts, people, policy, vessels

app_name = "vessels"

urlpatterns = [
    path("vessels/", vessels.vessel_list, name="vessel_list"),
    path("vessels/new/", vessels.vessel_new, name="vessel_new"),
    path("vessels/<uuid:vessel_id>/", vessels.vessel_page, name="vessel"),
    path("vessels/<uuid:vessel_id>/edit/", vessels.vessel_edit, name="vessel_edit"),
    path("policy/", policy.policy_list, name="policy_list"),
    path("policy/new/", policy.policy_new, name="policy_new"),
    path("people/", people.people_list, name="people_list"),
    path("people/new/", people.person_new, name="person_new"),
    path("people/second-factor/", accounts.second_factor, name="second_factor"),
    path("people/<uuid:user_id>/", people.person_page, name="person"),
    path("people/<uuid:user_id>/password-link/", people.password_link, name="password_link"),
    path("people/<uuid:user_id>/roles/", people.membership_give, name="membership_give"),
    path("people/<uuid:user_id>/vessels/", people.access_give, name="access_give"),
    path("people/roles/<uuid:membership_id>/end/", people.membership_end, name="membership_end"),
    path("people/vessels/<uuid:access_id>/end/", people.access_end, name="access_end"),
    path("people/<uuid:user_id>/correct/", accounts.person_correct, name="person_correct"),
    path("people/<uuid:user_id>/account/", accounts.account_switch, name="account_switch"),
    path("people/<uuid:user_id>/second-factor/", accounts.factor_forget, name="factor_forget"),
    path("me/", people.me, name="me"),
    path("me/sign-ins/", accounts.sign_ins, name="sign_ins"),
]
