"""A finding of the calculation's catalogue in the reader's language."""

from dataclasses import dataclass
from hashlib import sha256

from django.utils.translation import gettext as _

from fleet.calculation.plausibility import Finding, OutsideHard


def said(found: Finding | OutsideHard) -> str:
    """The sentence: the template translated first, then filled with its figures."""
    return _(found.template).format(**found.figures)


@dataclass(frozen=True)
class Asked:
    """A finding that a person may answer with "I have checked this figure"."""

    code: str
    field: str
    sentence: str

    @property
    def token(self) -> str:
        """Stands for this very sentence, figures and all: a tick does not outlive a change of the figure."""
        return sha256(self.sentence.encode()).hexdigest()[:16]

    @property
    def tick_name(self) -> str:
        return f"checked_{self.code}"
