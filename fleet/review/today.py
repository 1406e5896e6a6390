"""The rows of Today: one per drum, and one per vessel for the drums of it that are overdue."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.review.queue import Item
from fleet.vessels.models import Vessel

FOLDED = "overdue"
MOST_EVENTS = 3


@dataclass(frozen=True)
class VesselRow:
    """Several overdue drums of one vessel, worst first, in the place of the worst."""

    vessel: Vessel
    items: list[Item]

    @property
    def state(self) -> str:
        return FOLDED if self._overdue else "never_tested"

    @property
    def count(self) -> int:
        return len(self.items)

    @property
    def sentence(self) -> str:
        late, new = len(self._overdue), self.count - len(self._overdue)
        days = max((item.days_over for item in self._overdue), default=0)
        if not late:
            return _("{number} drums of {vessel} were never tested.").format(number=new, vessel=self.vessel.name)
        words = ngettext("{number} drum of {vessel} is overdue", "{number} drums of {vessel} are overdue", late).format(
            number=late, vessel=self.vessel.name
        )
        if days:
            by = ngettext("by {days} day", "by {days} days", days).format(days=days)
            words += _(", the first {by}").format(by=by) if late > 1 else f" {by}"
        if new:
            words += ngettext("; {number} was never tested", "; {number} were never tested", new).format(number=new)
        return f"{words}."

    @property
    def more(self) -> str:
        """An event weighs more than the calendar: the drums that had one stay named."""
        after = [f"{item.drum.name} ({item.event})" for item in self.items if item.event]
        if not after:
            return ""
        names = "; ".join(after[:MOST_EVENTS])
        if len(after) > MOST_EVENTS:
            names += _("; and {number} more").format(number=len(after) - MOST_EVENTS)
        return _("Among them after an event: {names}.").format(names=names)

    @property
    def url(self) -> str:
        return f"{reverse('review:today')}?{urlencode({'vessel': self.vessel.pk, 'reason': FOLDED})}"

    @property
    def action(self) -> str:
        return _("Show them")

    @property
    def _overdue(self) -> list[Item]:
        return [item for item in self.items if item.state == FOLDED]


def rows_of(items: Iterable[Item]) -> list[Item | VesselRow]:
    """The items in their order; where a vessel has several that are overdue, one row stands for them."""
    together: dict[uuid.UUID, list[Item]] = {}
    listed = list(items)
    for item in listed:
        if item.reason == FOLDED:
            together.setdefault(item.vessel.pk, []).append(item)
    rows: list[Item | VesselRow] = []
    for item in listed:
        group = together.get(item.vessel.pk, []) if item.reason == FOLDED else []
        if len(group) < 2:
            rows.append(item)
        elif item is group[0]:
            rows.append(VesselRow(item.vessel, group))
    return rows
