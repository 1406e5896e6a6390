"""Long seeded counts, each run in full by ``python manage.py soak``; ordinary tests run a fixed sample of them.

To add a part: write a module here with a ``PART`` and name it in ``PARTS``.
"""

from tests.soak import detection, honest_records, hostile_input, killed_workers, setting_procedure
from tests.soak.part import Part

PARTS: dict[str, Part] = {
    part.name: part
    for part in (
        setting_procedure.PART,
        honest_records.PART,
        detection.PART,
        killed_workers.PART,
        hostile_input.PART,
    )
}
