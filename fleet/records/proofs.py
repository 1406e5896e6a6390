"""The last test that set a drum's brake, read for the drum's own pages."""

from datetime import date

from fleet.drums.models import BRAKE_WORK, Drum, EventKind
from fleet.drums.proofs import Proof
from fleet.records.due import drum_states

MARK_MEANS_NOTHING = BRAKE_WORK | {EventKind.WRONG_MARK}


def proof_of(drum: Drum, on: date) -> Proof | None:
    """The newest test that set the brake in band; None after work on the brake, or where its mark was found wrong."""
    row = drum_states([drum], on)[drum.pk].proven
    if row is None or row.as_left_share is None:
        return None
    since = (event for event in drum.events.all() if row.tested_on <= event.happened_on <= on)
    if any(event.kind in MARK_MEANS_NOTHING and event.happened_on > row.tested_on for event in since):
        return None
    load_n = row.as_left_load_n if row.as_left_load_n is not None else row.as_left_share * row.base_load_n
    return Proof(row.tested_on, load_n, row.base_load_n, row.particulars)
