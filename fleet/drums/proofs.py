"""The last test that set a drum's brake, as the drum's own pages need it.

Tests belong to a room that leans on this one; it says here how its proofs are read.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from fleet.drums.models import Drum, DrumParticulars


@dataclass(frozen=True)
class Proof:
    """What the brake rendered at when it was last set in band, with the particulars used then."""

    tested_on: date
    load_n: float
    base_load_n: float
    particulars: DrumParticulars


ProofReader = Callable[[Drum, date], Proof | None]
_readers: list[ProofReader] = []


def read_proofs_with(reader: ProofReader) -> None:
    """Name the one function that reads proofs."""
    _readers[:] = [reader]


def last_proof(drum: Drum, on: date) -> Proof | None:
    """The newest proof whose mark still means something on a day; None where there is none."""
    return _readers[0](drum, on) if _readers else None
