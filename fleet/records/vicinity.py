"""What a vessel's other rows say around a test: read once for as many tests as are looked at together."""

from collections.abc import Iterable
from datetime import date
from functools import cached_property
from uuid import UUID

from django.db.models import F

from fleet.drums.models import DrumParticulars
from fleet.records.models import DrumTest, State, Submission
from fleet.records.newest import newest_versions
from fleet.records.setting_again import SettingHistory
from fleet.vessels.models import Policy, Vessel, policy_for

EARLIER_TESTS = 5
# Of the company's other vessels: enough for a spread, few enough to read on every page.
ELSEWHERE = 60


class Vicinity:
    """Earlier tests of some drums, the sister drums' tests and particulars, and the policy of a day."""

    def __init__(self, vessel: Vessel, drums: Iterable[UUID]) -> None:
        self.vessel, self.drums = vessel, frozenset(drums)
        self._policies: dict[date, Policy] = {}
        self._elsewhere: dict[date, list[tuple[float, float]]] = {}

    def policy_on(self, on: date) -> Policy:
        if on not in self._policies:
            self._policies[on] = policy_for(self.vessel, on)
        return self._policies[on]

    @cached_property
    def sent(self) -> list[Submission]:
        """Every version that counts on this vessel, oldest first, without its bytes."""
        return list(
            Submission.objects.filter(test__round__vessel=self.vessel)
            .exclude(test__state=State.WITHDRAWN)
            .order_by("tested_on", "submitted_at", "version")
            .select_related("test__drum")
            .defer("content")
        )

    def sent_elsewhere(self, before: date) -> list[tuple[float, float]]:
        """(share as left, spread of its slips) of the company's other vessels, the newest sent before a day."""
        if before not in self._elsewhere:
            rows = Submission.objects.filter(
                test__round__vessel__company=self.vessel.company_id,
                submitted_at__date__lt=before,
                as_left_share__gt=0,
                spread_share__lt=F("as_left_share"),
            )
            rows = rows.exclude(test__round__vessel=self.vessel).exclude(test__state=State.WITHDRAWN)
            newest = rows.order_by("-submitted_at", "pk")[:ELSEWHERE]
            self._elsewhere[before] = list(newest.values_list("as_left_share", "spread_share"))  # type: ignore[arg-type]
        return self._elsewhere[before]

    @cached_property
    def setting_history(self) -> SettingHistory:
        """The tests that tell how well a hand finds a mark again."""
        return SettingHistory(self.vessel)

    def earlier(self, test: DrumTest) -> list[Submission]:
        """The newest versions of this drum's other tests, newest first, with their bytes."""
        return [self._whole[pk] for pk in self._newest_of(test.drum_id, but=test.pk)]

    def _newest_of(self, drum_id: UUID, but: UUID | None = None) -> list[UUID]:
        rows = newest_versions(row for row in self.sent if row.test.drum_id == drum_id and row.test_id != but)
        rows.sort(key=lambda row: (row.tested_on, row.submitted_at, row.version), reverse=True)
        # One more than is looked at, for the test that is left out of its own history.
        return [row.pk for row in rows][: EARLIER_TESTS if but else EARLIER_TESTS + 1]

    @cached_property
    def _whole(self) -> dict[UUID, Submission]:
        wanted = [pk for drum_id in self.drums for pk in self._newest_of(drum_id)]
        return Submission.objects.select_related("test", "gauge", "particulars").in_bulk(wanted)

    def sisters_of(self, test: DrumTest) -> list[Submission]:
        """The newest versions with a setting of the vessel's other drums, oldest first."""
        rows = (row for row in self.sent if row.test.drum_id != test.drum_id and row.setting_si is not None)
        return newest_versions(rows)

    @cached_property
    def particulars(self) -> list[DrumParticulars]:
        """The newest particulars of every drum aboard."""
        rows = DrumParticulars.objects.filter(drum__winch__vessel=self.vessel, drum__removed_on__isnull=True)
        newest: dict[UUID, DrumParticulars] = {}
        for row in rows.select_related("drum").order_by("valid_from", "created_at"):
            newest[row.drum_id] = row
        return list(newest.values())
