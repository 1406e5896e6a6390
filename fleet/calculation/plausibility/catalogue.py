"""The public entry: every rule looked at once, findings worst first; and the catalogue for documents and screens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.calculation.plausibility import (
    copying,
    deck,
    history,
    instruments,
    loads,
    outcome,
    particulars,
    readings,
    targets,
    trust,
    usual,
)
from fleet.calculation.plausibility.case import Case
from fleet.calculation.plausibility.facts import (
    DrumFacts,
    EventFacts,
    GaugeFacts,
    PreviousTest,
    SisterTest,
    TargetBasis,
    TestFacts,
)
from fleet.calculation.plausibility.finding import LEVELS, Finding, Level, Rule, rules


@dataclass(frozen=True)
class CatalogueEntry:
    """What documents and screens say about one rule."""

    code: str
    level: Level
    field: str
    title: str
    template: str


# Importing a module of rules enters them; this is the order of equal levels.
RULE_MODULES = (deck, particulars, loads, instruments, targets, readings, copying, history, outcome, trust, usual)

CATALOGUE: tuple[CatalogueEntry, ...] = tuple(
    CatalogueEntry(rule.code, rule.level, rule.field, rule.title, rule.template)
    for rule in sorted(rules(), key=lambda rule: LEVELS.index(rule.level))
)


def find(
    test: TestFacts,
    previous: Sequence[PreviousTest] = (),
    sisters: Sequence[SisterTest] = (),
    events: Sequence[EventFacts] = (),
    sister_drums: Sequence[DrumFacts] = (),
) -> tuple[Finding, ...]:
    """Findings on one drum's test, worst first.

    Args:
        test: the test, its drum, jacks and gauge (SI).
        previous: earlier tests of the same drum, in any order.
        sisters: other drums of the vessel tested in the same round.
        events: what happened to this drum's brake, line and instruments, in any order.
        sister_drums: particulars of the vessel's other drums.

    Raises nothing for missing facts: a rule with an unknown input stays silent.
    Source: the practitioner's review of what goes wrong on deck; each rule names its own signature.
    """
    case = Case(test, tuple(previous), tuple(sisters), tuple(events), tuple(sister_drums))
    return _look(case, rules())


def check_particulars(
    drum: DrumFacts,
    gauge: GaugeFacts | None = None,
    sister_drums: Sequence[DrumFacts] = (),
    target_basis: TargetBasis = "geometry",
    share: float | None = None,
) -> tuple[Finding, ...]:
    """Findings on a drum's particulars alone (with its jacks and, if known, the gauge), for the forms at entry.

    `share` is that of the base load at which the brake is to render, for what the line must stand.
    """
    test = TestFacts(drum=drum, gauge=gauge, target_basis=target_basis, share_aimed=share)
    case = Case(test, sister_drums=tuple(sister_drums))
    return _look(case, tuple(rule for rule in rules() if rule.particulars))


def _look(case: Case, looked_at: tuple[Rule, ...]) -> tuple[Finding, ...]:
    found: list[tuple[Rule, Finding]] = []
    for rule in looked_at:
        seen = rule.look(case)
        if seen is not None:
            finding = Finding(
                rule.code, rule.level, rule.field, seen.template or rule.template, dict(seen.figures), seen.rows
            )
            found.append((rule, finding))
    named = {finding.field for rule, finding in found if not rule.general and finding.level != "note"}
    kept = [finding for rule, finding in found if not (rule.general and finding.field in named)]
    return tuple(sorted(kept, key=lambda finding: LEVELS.index(finding.level)))
