"""The catalogue of findings: which mistake was probably made on a record, its signature, and what to do."""

from fleet.calculation.plausibility.catalogue import CATALOGUE, CatalogueEntry, check_particulars, find
from fleet.calculation.plausibility.facts import (
    DrumFacts,
    EventFacts,
    GaugeFacts,
    JackFacts,
    PreviousTest,
    ReadingFacts,
    SisterTest,
    TestFacts,
    TrustFacts,
)
from fleet.calculation.plausibility.finding import LEVELS, Finding, Level
from fleet.calculation.plausibility.ranges import HARD_RANGES, SOFT_RANGES, OutsideHard, Range, outside_hard

__all__ = [
    "CATALOGUE",
    "HARD_RANGES",
    "LEVELS",
    "SOFT_RANGES",
    "CatalogueEntry",
    "DrumFacts",
    "EventFacts",
    "Finding",
    "GaugeFacts",
    "JackFacts",
    "Level",
    "OutsideHard",
    "PreviousTest",
    "Range",
    "ReadingFacts",
    "SisterTest",
    "TestFacts",
    "TrustFacts",
    "check_particulars",
    "find",
    "outside_hard",
]
