"""How often the catalogue of findings raises something above a note on invented records that are as they should be."""

from collections import Counter
from random import Random

from tests.calculation.honest_records import KINDS, MATERIALS, SETTINGS, UNITS, honest_record
from tests.soak.part import Part, Report, share_line


def run(first_seed: int, count: int) -> Report:
    """Count findings above a note, by code, over so many honest records; none is allowed."""
    raised: Counter[str] = Counter()
    first_seeds: dict[str, int] = {}
    notes = with_finding = 0
    for seed in range(first_seed, first_seed + count):
        rng = Random(seed)
        record = honest_record(
            seed,
            unit=rng.choice(UNITS),
            material=rng.choice(MATERIALS),
            kind=rng.choice(KINDS),
            setting_kind=rng.choice(SETTINGS),
            direction=rng.choice((1, -1)),
        )
        found = record.find()
        above = [finding.code for finding in found if finding.level != "note"]
        notes += len(found) - len(above)
        with_finding += bool(above)
        raised.update(above)
        for code in above:
            first_seeds.setdefault(code, seed)
    lines = [
        f"honest records with a finding above a note: {share_line(with_finding, count)}",
        f"notes on them: {notes}, {notes / count:.2f} a record",
        *(f"  {code}: {number}, first with seed {first_seeds[code]}" for code, number in raised.most_common()),
    ]
    return Report(lines=tuple(lines), holds=not with_finding)


PART = Part(
    name="honest-records",
    what="findings above a note on honest records: none",
    first_seed=0,
    count=30_000,
    run=run,
)
