"""What one long count is: its seeds, how it runs, and what it reports."""

from collections.abc import Callable
from dataclasses import dataclass

from scipy import stats


@dataclass(frozen=True, kw_only=True)
class Report:
    """The figures of a count, line by line, and whether what is promised of it holds."""

    lines: tuple[str, ...]
    holds: bool


@dataclass(frozen=True, kw_only=True)
class Part:
    """One long count. ``run`` takes the first seed and how many seeds, one after another, are counted.

    ``first_seed`` and ``count`` are those of the full count; ``tuned_on`` names the seeds that something was tuned on.
    """

    name: str
    what: str
    first_seed: int
    count: int
    run: Callable[[int, int], Report]
    tuned_on: tuple[range, ...] = ()

    def was_tuned_on(self, first_seed: int, count: int) -> bool:
        """Whether any of these seeds served for tuning, so that their figures flatter."""
        return any(first_seed < seeds.stop and seeds.start < first_seed + count for seeds in self.tuned_on)


def upper_limit(count: int, of: int, confidence: float = 0.95) -> float:
    """One-sided upper confidence limit of a share. Source: Clopper and Pearson, exact binomial."""
    return 1.0 if count == of else float(stats.beta.ppf(confidence, count + 1, of - count))


def share_line(count: int, of: int) -> str:
    """A count as a share with its upper limit."""
    return f"{count} of {of} ({count / of:.2%}, upper limit {upper_limit(count, of):.2%})"
