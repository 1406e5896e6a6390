"""Which policy stands on which day, and what a new one may say."""

from dataclasses import fields
from datetime import UTC, date, datetime
from decimal import Decimal
from math import radians
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.core.models import AuditEntry
from fleet.core.typed import Typed
from fleet.vessels import policy_rules, services
from fleet.vessels.assumed import ASSUMED, changed_only
from fleet.vessels.models import Policy, policy_for
from fleet.vessels.policy_rules import percent, policy_changes, policy_in_force, policy_settings, policy_source
from fleet.vessels.services import policy_set
from tests.cast import Cast
from tests.factories import PolicyFactory

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TODAY = AT.date()


def set_policy(cast: Cast, **changes: Any) -> Policy:
    values: dict[str, Any] = {
        "actor": cast.superintendent,
        "company": cast.company,
        "valid_from": TODAY,
        "reason": "safety committee of November",
        "settings": {},
        "at": AT,
    }
    return policy_set(**{**values, **changes})


def problems(cast: Cast, **changes: Any) -> dict[str, list[str]]:
    before = Policy.objects.count()
    with pytest.raises(ValidationError) as error:
        set_policy(cast, **changes)
    assert Policy.objects.count() == before
    raised = error.value
    return raised.message_dict if hasattr(raised, "error_dict") else {"__all__": raised.messages}


class TestPolicyFor:
    def test_without_any_the_common_practice_stands_in_and_says_so(self, cast: Cast) -> None:
        policy = policy_for(cast.vessel, TODAY)
        assert policy.is_common_practice
        assert (policy.share, policy.band_low, policy.band_high) == (Decimal("0.60"), Decimal("0.55"), Decimal("0.65"))
        assert policy_source(policy) == "common practice, not from a standard"

    def test_the_companys_stands_before_the_common_practice(self, cast: Cast) -> None:
        row = PolicyFactory(company=cast.company)
        assert policy_for(cast.vessel, TODAY) == row
        assert policy_source(row) == "the company's policy"

    def test_a_vessels_own_stands_before_a_later_one_of_the_company(self, cast: Cast) -> None:
        own = PolicyFactory(company=cast.company, vessel=cast.vessel, valid_from=date(2021, 1, 1))
        general = PolicyFactory(company=cast.company, valid_from=date(2025, 1, 1))
        assert policy_for(cast.vessel, TODAY) == own
        assert policy_for(cast.sister, TODAY) == general

    def test_each_day_has_the_policy_of_its_day(self, cast: Cast) -> None:
        first = PolicyFactory(company=cast.company, valid_from=date(2024, 1, 1))
        second = PolicyFactory(company=cast.company, valid_from=date(2026, 1, 1))
        assert policy_for(cast.vessel, date(2023, 12, 31)).is_common_practice
        assert policy_for(cast.vessel, date(2024, 1, 1)) == first
        assert policy_for(cast.vessel, date(2025, 12, 31)) == first
        assert policy_for(cast.vessel, date(2026, 1, 1)) == second

    def test_of_two_for_one_day_the_later_entry_stands(self, cast: Cast) -> None:
        set_policy(cast, settings={"share": Decimal("0.61")})
        later = set_policy(cast, settings={"share": Decimal("0.62")}, at=AT.replace(hour=10))
        assert policy_for(cast.vessel, TODAY) == later

    def test_another_companys_policy_does_not_reach_the_vessel(self, cast: Cast) -> None:
        PolicyFactory(company=cast.foreign_company)
        assert policy_for(cast.vessel, TODAY).is_common_practice

    @pytest.mark.parametrize("day", [date(2024, 6, 1), TODAY])
    def test_the_pages_and_the_records_ask_for_the_same_one(self, cast: Cast, day: date) -> None:
        PolicyFactory(company=cast.company, valid_from=date(2024, 1, 1))
        PolicyFactory(company=cast.company, vessel=cast.vessel, valid_from=date(2026, 1, 1))
        for vessel in (cast.vessel, cast.sister):
            assert policy_in_force(cast.company, vessel, day) == policy_for(vessel, day)
        assert policy_in_force(cast.company, cast.vessel, date(2023, 6, 1)).is_common_practice


class TestPolicySet:
    def test_what_is_left_out_stays_as_in_force(self, cast: Cast) -> None:
        PolicyFactory(company=cast.company, verification_slips=3)
        policy = set_policy(cast, settings={"band_low": Decimal("0.57")})
        policy.refresh_from_db()
        assert (policy.band_low, policy.verification_slips) == (Decimal("0.57"), 3)
        assert (policy.author, policy.created_at) == (cast.superintendent, AT)

    def test_the_audit_holds_before_after_and_reason(self, cast: Cast) -> None:
        set_policy(cast, settings={"share": Decimal("0.58")}, vessel=cast.vessel)
        entry = AuditEntry.objects.last()
        assert entry is not None
        assert entry.before is not None
        assert entry.after is not None
        assert (entry.action, entry.vessel_id, entry.reason) == (
            "policy set",
            cast.vessel.pk,
            "safety committee of November",
        )
        assert (entry.before["share"], entry.after["share"], entry.after["valid_from"]) == (
            "0.6",
            "0.58",
            "2026-11-25",
        )

    @pytest.mark.parametrize(
        ("figures", "field", "words"),
        [
            ({"share": "0.81", "band_high": "0.79"}, "share", policy_rules.SHARE_OUTSIDE),
            ({"share": "0.39", "band_low": "0.30"}, "share", policy_rules.SHARE_OUTSIDE),
            ({"band_low": "0.60"}, "band_low", policy_rules.BAND_LOW_ABOVE),
            ({"band_low": "0.62"}, "band_low", policy_rules.BAND_LOW_ABOVE),
            ({"band_high": "0.60"}, "band_high", policy_rules.BAND_HIGH_BELOW),
            ({"band_high": "0.81"}, "band_high", policy_rules.BAND_TOO_HIGH),
            ({"ceiling": "0.59"}, "ceiling", policy_rules.CEILING_OUTSIDE),
            ({"ceiling": "0.81"}, "ceiling", policy_rules.CEILING_OUTSIDE),
            ({"lining_worn_share": "0.95"}, "lining_worn_share", policy_rules.LINING_OUTSIDE),
            ({"tight_weight": "0.5"}, "tight_weight", policy_rules.WEIGHT_OUTSIDE),
            ({"verification_slips": 0}, "verification_slips", policy_rules.AT_LEAST_ONE),
        ],
    )
    def test_a_rule_broken_is_said_at_its_field(
        self, cast: Cast, figures: dict[str, Any], field: str, words: str
    ) -> None:
        settings = {name: Decimal(value) if isinstance(value, str) else value for name, value in figures.items()}
        assert problems(cast, settings=settings)[field] == [words]

    @pytest.mark.parametrize(
        "figures", [{"ceiling": "0.60"}, {"ceiling": "0.80"}, {"band_high": "0.80"}, {"share": "0.6001"}]
    )
    def test_the_limits_themselves_are_allowed(self, cast: Cast, figures: dict[str, str]) -> None:
        assert set_policy(cast, settings={name: Decimal(value) for name, value in figures.items()}).pk

    def test_a_reason_is_asked_for(self, cast: Cast) -> None:
        assert problems(cast, reason=" ") == {"reason": [services.NO_REASON]}

    def test_the_first_may_reach_back_and_no_later_one(self, cast: Cast) -> None:
        set_policy(cast, valid_from=date(2026, 1, 1))
        later = {"valid_from": date(2026, 11, 24), "settings": {"share": Decimal("0.61")}}
        assert problems(cast, **later) == {"valid_from": [services.VALID_FROM_PAST]}
        assert set_policy(cast, **{**later, "valid_from": TODAY}).pk

    def test_the_same_settings_again_are_no_policy(self, cast: Cast) -> None:
        set_policy(cast)
        assert problems(cast) == {"__all__": [services.NOTHING_CHANGED]}

    def test_a_vessel_of_another_company_is_refused(self, cast: Cast) -> None:
        assert problems(cast, vessel=cast.foreign_vessel) == {"__all__": [services.VESSEL_OF_OTHER_COMPANY]}


def test_shares_are_said_in_per_cent_with_no_more_decimals_than_they_have() -> None:
    said = [percent(Decimal(text)).replace("\u00a0", " ") for text in ("0.6000", "0.6", "0.575", "0.5775", "1")]
    assert said == ["60 %", "60 %", "57.5 %", "57.75 %", "100 %"]


def test_a_change_is_said_in_words_and_only_what_changed(cast: Cast) -> None:
    before = Policy(company=cast.company, valid_from=TODAY)
    after = Policy(company=cast.company, valid_from=TODAY, band_low=Decimal("0.57"), master_releases=False)
    assert [line.replace("\u00a0", " ") for line in policy_changes(before, after)] == [
        "acceptance band: 57 to 65 % instead of 55 to 65 %",
        "master releases before sending: no instead of yes",
    ]


def test_how_much_of_a_worn_line_the_brake_may_take_is_the_operators_setting(cast: Cast) -> None:
    (known,) = [row for row in policy_settings(policy_for(cast.vessel, TODAY)) if row.name == "worn_line_share"]
    assert (known.text, known.note) == ("75\u00a0%", "operator's setting, not from a standard")
    for share in ("0.49", "0.96"):
        found = problems(cast, settings={"worn_line_share": Decimal(share)})
        assert list(found) == ["worn_line_share"]
    assert set_policy(cast, settings={"worn_line_share": Decimal("0.85")}).worn_line_share == Decimal("0.85")


class TestWhatIsAssumed:
    def test_without_a_policy_every_figure_is_ours_and_says_so(self, cast: Cast) -> None:
        policy = policy_for(cast.vessel, TODAY)
        assert policy.assumptions == Assumptions()
        said = [setting for setting in policy_settings(policy) if setting.is_assumed]
        assert len(said) == len(ASSUMED)
        assert {setting.note for setting in said} == {"assumed; ours, common practice, no published source"}

    def test_the_operators_figure_counts_as_typed_and_in_si(self, cast: Cast) -> None:
        own = {one.name: one.ours for one in ASSUMED} | {"lever_angle_rad": Typed.read("1,5", "deg")}
        row = set_policy(cast, settings={"assumed": changed_only(own)})
        assert row.assumed == {"lever_angle_rad": {"text": "1,5", "unit": "deg", "si": pytest.approx(radians(1.5))}}
        assert row.assumptions.tolerances.lever_angle_rad == pytest.approx(radians(1.5))
        assert row.assumptions.slip_spread_degrees == 8
        shown = {setting.name: (setting.text, setting.note) for setting in policy_settings(row)}
        assert shown["assumed_lever_angle_rad"] == ("1,5 °", "assumed; the operator's figure")
        assert policy_changes(Policy(company=cast.company, valid_from=TODAY), row) == [
            "Lever off square to the jack, at most: 1,5 ° instead of 3 °"
        ]

    def test_a_later_policy_that_does_not_speak_of_it_keeps_it(self, cast: Cast) -> None:
        stroke = {"pump_stroke_pa": Typed.read("2", "bar").to_dict()}
        set_policy(cast, settings={"assumed": stroke})
        later = set_policy(cast, settings={"share": Decimal("0.61")})
        assert later.assumptions.tolerances.pump_stroke_pa == 2e5

    @pytest.mark.parametrize(
        ("name", "text", "unit"),
        [
            ("slip_spread_relative", "0", "percent"),  # nobody's slips are all alike
            ("slip_spread_degrees", "0", "count"),
            ("lever_arm_m", "51", "mm"),
            ("jack_friction_relative", "-1", "percent"),
            ("lever_angle_rad", "60", "deg"),
        ],
    )
    def test_what_cannot_be_is_refused_beside_its_field(self, cast: Cast, name: str, text: str, unit: str) -> None:
        one = next(one for one in ASSUMED if one.name == name)
        assert one.unit == unit
        found = problems(cast, settings={"assumed": {name: one.read(text).to_dict()}})
        assert list(found) == [f"assumed_{name}"]
        assert found[f"assumed_{name}"][0].endswith(f"up to {one.read(one.most)}.")

    def test_every_figure_of_the_calculation_can_be_set(self) -> None:
        ours = Assumptions()
        given = {one.name: one.ours.si for one in ASSUMED}
        known = {name: getattr(ours, name) for name in given if hasattr(ours, name)}
        known |= {name: getattr(ours.tolerances, name) for name in given if hasattr(ours.tolerances, name)}
        assert given == pytest.approx(known)
        of_the_calculation = {field.name for field in fields(Tolerances)} | {
            field.name for field in fields(Assumptions)
        }
        assert set(given) == of_the_calculation - {"tolerances"}
