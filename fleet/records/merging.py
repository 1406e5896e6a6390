"""Saving a form on top of a draft that others may have saved meanwhile: nothing is overwritten unseen."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleet.accounts.models import User
from fleet.calculation import units
from fleet.records.draft import CHOICES, LABELS, REPLY, TICKED, UNITS_OF, clean_values
from fleet.records.drafts import RevisionConflict, draft_save
from fleet.records.models import DrumTest

TRIES = 3


@dataclass(frozen=True)
class Clash:
    """One field that two people changed differently."""

    field: str
    theirs: str
    mine: str

    @property
    def label(self) -> str:
        if self.field.startswith(REPLY):
            return _("Reply to a finding")
        if self.field in UNITS_OF:
            return _("Unit")
        return capfirst(str(LABELS.get(self.field, self.field)))

    @property
    def theirs_shown(self) -> str:
        return _shown(self.field, self.theirs)

    @property
    def mine_shown(self) -> str:
        return _shown(self.field, self.mine)


class Clashing(Exception):
    """Somebody saved other words in the same fields; nothing of this save was recorded."""

    def __init__(self, current: DrumTest, clashes: list[Clash]) -> None:
        super().__init__("the same fields were changed by somebody else")
        self.current, self.clashes = current, clashes


@dataclass(frozen=True)
class SentDraft:
    """A draft form as it came: what it started from, and what stands in it now."""

    values: dict[str, str]
    base: dict[str, str]
    revision: int
    # The revision a person has seen beside their own words, and what they chose to keep.
    on_top_of: int
    take_theirs: int

    @classmethod
    def read(cls, posted: Mapping[str, Any]) -> "SentDraft":
        base = _base(posted)
        names = base or clean_values(dict.fromkeys(posted, ""))
        return cls(
            values=clean_values({name: str(posted.get(name, "")) for name in names}),
            base=base,
            revision=_number(posted.get("revision")),
            on_top_of=_number(posted.get("on_top_of")),
            take_theirs=_number(posted.get("take_theirs")),
        )

    @property
    def changed(self) -> dict[str, str]:
        """What this person changed: the rest of the form is only what it showed."""
        return {name: value for name, value in self.values.items() if value != self.base.get(name, "")}

    def clashes_with(self, current: DrumTest) -> list[Clash]:
        if self.revision == current.draft_revision:
            return []
        found = []
        for name, mine in self.changed.items():
            theirs = current.draft.get(name, "")
            if theirs not in (mine, self.base.get(name, "")):
                found.append(Clash(name, theirs, mine))
        return found


def draft_merge(*, test: DrumTest, sent: SentDraft, actor: User) -> DrumTest:
    """Save what this person changed; Clashing where somebody changed the same field and nobody has chosen yet."""
    current = test
    for _attempt in range(TRIES):
        values, clashes = sent.changed, sent.clashes_with(current)
        if clashes and sent.take_theirs == current.draft_revision:
            values = {name: value for name, value in values.items() if name not in {row.field for row in clashes}}
        elif clashes and sent.on_top_of != current.draft_revision:
            raise Clashing(current, clashes)
        try:
            return draft_save(test=current, values=values, revision=current.draft_revision, actor=actor)
        except RevisionConflict as conflict:
            current = conflict.current
    raise Clashing(current, sent.clashes_with(current))


def _base(posted: Mapping[str, Any]) -> dict[str, str]:
    try:
        found = json.loads(str(posted.get("base", "")))
    except ValueError:
        return {}
    if not isinstance(found, dict):
        return {}
    return clean_values({str(name): str(value) for name, value in found.items()})


def _number(text: Any) -> int:
    try:
        return int(str(text))
    except ValueError:
        return -1


def _shown(field: str, value: str) -> str:
    """A draft's stored word as people read it."""
    if not value:
        return _("(empty)")
    if value == TICKED:
        return _("ticked")
    if field in CHOICES and value in CHOICES[field].values:
        return str(CHOICES[field](value).label)
    if field in UNITS_OF:
        return units.label(value) if value in {code for kind in units.KINDS.values() for code in kind} else value
    return value
