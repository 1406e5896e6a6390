"""The flags of a drum's tests in words, with their figures."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.translation import gettext as _

from fleet.calculation.drift_histories import UNKNOWN
from fleet.calculation.drift_results import CODES, DRUMS_EXCHANGED, STATES
from fleet.calculation.drift_sentences import Explanation, explain
from fleet.calculation.sentences import Sentence, probability_shown
from fleet.drift.analysis import CompanyDrift
from fleet.drift.flag_words import ORDER, SHORT
from fleet.drift.histories import day_of
from fleet.drums.models import Drum


@dataclass(frozen=True)
class FlagSaid:
    """One flag of one test (a row of the analysis), ready for people."""

    row: int
    code: str
    short: str
    what: str
    causes: tuple[str, ...]
    check: str
    chance: str

    @cached_property
    def likeliest(self) -> str:
        """The causes as one sentence."""
        return _("Likeliest: {causes}.").format(causes="; ".join(self.causes))

    @property
    def sentence(self) -> str:
        """All of it in one go."""
        return f"{self.what} {self.likeliest} {self.check}"


def flags_of(found: CompanyDrift, rows: Sequence[int], *, unit: str) -> list[FlagSaid]:
    """The flags of these rows of one drum, in the order of rows, and of one row what explains first.

    One query for the names of other drums, where a flag speaks of one.
    """
    flags, histories = found.drift.flags, found.drift.histories
    places = [int(place) for row in rows for place in flags.of_test(int(row))]
    others = {int(flags.other[place]) for place in places if CODES[flags.code[place]] == DRUMS_EXCHANGED}
    names = _names(found, others - {UNKNOWN})
    said = []
    for place in places:
        other = int(flags.other[place])
        before = date_format(day_of(histories.year[other]), "j M Y") if other != UNKNOWN else ""
        words = explain(found.drift, place, setting_unit=unit, other_name=names.get(other, ""), before=before)
        said.append(_flag(int(flags.test[place]), words, float(flags.chance[place])))
    return sorted(said, key=lambda flag: (flag.row, ORDER[flag.code]))


def in_words(sentence: Sentence) -> str:
    """A sentence of the calculation in the reader's language."""
    return _(sentence.template).format(**sentence.figures)


def _names(found: CompanyDrift, rows: set[int]) -> dict[int, str]:
    if not rows:
        return {}
    keys: list[UUID] = list(found.drums)
    of_row = {row: keys[int(found.drift.histories.drum[row])] for row in rows}
    names = {drum.pk: str(drum) for drum in Drum.objects.filter(pk__in=of_row.values())}
    return {row: names[key] for row, key in of_row.items()}


def _flag(row: int, words: Explanation, chance: float) -> FlagSaid:
    return FlagSaid(
        row=row,
        code=words.code,
        short=str(SHORT[words.code]),
        what=in_words(words.seen),
        causes=tuple(in_words(cause) for cause in words.causes),
        check=in_words(words.check),
        # 0 and 1 stand where no chance was worked out.
        chance=probability_shown(chance) if 0 < chance < 1 and words.code not in STATES else "",
    )
