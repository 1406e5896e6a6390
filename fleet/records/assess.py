"""One test looked at as a whole: figures, draft, readings, results, findings, content."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.utils import translation

from fleet.calculation.plausibility import Finding
from fleet.core.canonical import canonical, sha256_of
from fleet.records.draft import ParsedDraft, parse_draft
from fleet.records.figures import Figures, FiguresMissing, figures_for, particulars_on
from fleet.records.findings import findings_of
from fleet.records.models import DrumTest, Photo
from fleet.records.results import Results, results_of
from fleet.records.setting_again import FoundAgain, Setting, found_again_content
from fleet.records.setting_found import SettingFound, setting_analysis, setting_found
from fleet.records.slip_history import earlier_slips
from fleet.records.snapshot import content_of
from fleet.records.trust import LoadTrust, TrustUnknown, assumptions_of, load_trust
from fleet.records.vicinity import Vicinity
from fleet.vessels.models import Policy

NOT_CONFIRMED = frozenset({"findings", "setting_again", "setting_analysis"})


@dataclass(frozen=True)
class Assessment:
    """Worked out once per request from the test's rows; `figures` is None while something is missing for them."""

    test: DrumTest
    policy: Policy
    parsed: ParsedDraft
    figures: Figures | None
    figures_missing: tuple[str, ...]
    photos: tuple[Photo, ...]
    vicinity: Vicinity

    @cached_property
    def results(self) -> Results | None:
        if self.figures is None:
            return None
        return results_of(self.figures, self.parsed, list(self.test.readings.all()))

    @property
    def trust(self) -> LoadTrust | None:
        """How far the load as left can be trusted; None before the first verification slip."""
        return self._trust_or_why[0]

    @property
    def trust_unknown(self) -> str:
        """Why nothing can be said of it although there are slips; empty otherwise."""
        return self._trust_or_why[1]

    @cached_property
    def _trust_or_why(self) -> tuple[LoadTrust | None, str]:
        if self.figures is None or self.results is None or not self.results.verification_readings_si:
            return None, ""
        gauge_id = self.figures.kit.gauge_id
        earlier = earlier_slips(
            self.test,
            self.vicinity,
            gauge_id=gauge_id,
            before=self.tested_on,
            enough=assumptions_of(self.figures).slip_spread_degrees,
        )
        try:
            return load_trust(self.figures, self.parsed, self.results, earlier), ""
        except TrustUnknown as why:
            return None, str(why)

    @cached_property
    def found_again(self) -> FoundAgain | None:
        """How well a hand finds the mark again; None before the new mark is verified."""
        if self.figures is None or self.results is None or self.results.as_left_share is None:
            return None
        own = Setting(
            drum_id=self.test.drum_id,
            tested_on=self.tested_on,
            reapplied_share=self.results.reapplied_share,
            left_share=self.results.as_left_share,
            base_load_n=self.figures.aim.sdmbl_n,
        )
        return self.vicinity.setting_history.found_again(own)

    @property
    def tested_on(self) -> date:
        """The day of the test as typed, else the day its round began."""
        return _day_of(self.test, self.parsed)

    @cached_property
    def setting(self) -> SettingFound | None:
        """The next move, the slope and the setting for exactly the target; None while no reading counts for them."""
        return setting_found(self.test, self.figures, self.parsed, self.results, self.vicinity)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        if self.figures is None or self.results is None:
            return ()
        return findings_of(self.test, self.figures, self.parsed, self.results, self.vicinity, self.trust)

    @cached_property
    def content(self) -> dict[str, Any] | None:
        if self.figures is None or self.results is None:
            return None
        # One language in what is hashed, whoever looks at it.
        with translation.override("en"):
            content = content_of(
                self.test, self.figures, self.parsed, self.results, self.findings, list(self.photos), self.trust
            )
            if self.found_again:
                content["setting_again"] = found_again_content(self.found_again)
            return content | setting_analysis(self.setting)

    @cached_property
    def content_sha256(self) -> str:
        """Names exactly this content; empty while there is none.

        Without what other tests have a part in: one sent or approved meanwhile may add a finding, or say more of the
        slope or of how well a hand finds a mark again, and that changes nothing that was confirmed.
        """
        if not self.content:
            return ""
        return sha256_of(canonical({name: part for name, part in self.content.items() if name not in NOT_CONFIRMED}))


def assess_all(tests: Sequence[DrumTest]) -> list[Assessment]:
    """Tests of one vessel looked at together, in a fixed number of queries."""
    if not tests:
        return []
    vicinity = Vicinity(tests[0].round.vessel, [test.drum_id for test in tests])
    return [assess(test, vicinity) for test in tests]


def assess(test: DrumTest, vicinity: Vicinity | None = None) -> Assessment:
    """Gather a test with its round's kit, the particulars and the policy of its day."""
    vicinity = vicinity or Vicinity(test.round.vessel, [test.drum_id])
    parsed = parse_draft(test)
    on = _day_of(test, parsed)
    policy = vicinity.policy_on(on)
    figures: Figures | None = None
    missing: tuple[str, ...] = ()
    try:
        figures = figures_for(
            drum=test.drum, particulars=particulars_on(test.drum, on), kit=test.round.kit, policy=policy, on=on
        )
    except FiguresMissing as error:
        missing = tuple(error.sentences)
    photos = tuple(photo for photo in test.photos.all() if photo.removed_at is None)
    return Assessment(test, policy, parsed, figures, missing, photos, vicinity)


def _day_of(test: DrumTest, parsed: ParsedDraft) -> date:
    on: date = parsed.values["tested_on"] or test.round.started_on
    return on
