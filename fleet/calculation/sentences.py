"""Sentences for people: a template that the web layer translates, and the figures that fill it."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from fleet.calculation import units


def gettext_noop(message: str) -> str:
    """Mark a literal for translation by the web layer and give it back unchanged."""
    return message


@dataclass(frozen=True, kw_only=True)
class Sentence:
    """A template, translated first, and its figures ready for display.

    >>> Sentence(template="at {load}", figures={"load": "60.0 %"}).text
    'at 60.0 %'
    """

    template: str
    figures: Mapping[str, str] = dataclasses.field(default_factory=dict)

    @property
    def text(self) -> str:
        """The sentence in plain English."""
        return self.template.format(**self.figures)


def probability_shown(probability: float) -> str:
    """A probability as people read it: never a rounded "100 %" or "0 %" for what is not certain.

    >>> probability_shown(0.91924), probability_shown(0.99998), probability_shown(1e-9)
    ('91.9 %', 'more than 99.9 %', 'less than 0.1 %')
    """
    if probability > 0.999:
        return f"more than {units.display(0.999, 'percent')}"
    if probability < 0.001:
        return f"less than {units.display(0.001, 'percent')}"
    return units.display(probability, "percent")


def points_shown(share: float) -> str:
    """A difference of shares in points of the base load, digits only.

    >>> points_shown(0.0266)
    '2.7'
    """
    return units.digits(share, "percent")
