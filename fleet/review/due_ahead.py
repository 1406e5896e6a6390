"""Drums whose test is due within a window: shown in Today only when somebody asks for them."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from uuid import UUID

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.drums.models import Drum
from fleet.records.due import DrumState
from fleet.review.queue import Item

DUE = "due"
WINDOWS: dict[str, str | Promise] = {
    "30": lazy("due within 30 days"),
    "90": lazy("due within 90 days"),
    "365": lazy("due within a year"),
}
AHEAD = 1.0


def due_items(states: Mapping[UUID, DrumState], drums: Mapping[UUID, Drum], *, on: date, days: int) -> Iterator[Item]:
    """One row per drum that comes due in the window, the earliest first."""
    coming = [
        state
        for state in states.values()
        if state.due_state in {"due", "in_date"} and state.due_on and on <= state.due_on <= on + timedelta(days=days)
    ]
    for state in sorted(coming, key=lambda state: (state.due_on or on, str(state.drum_id))):
        day = date_format(state.due_on or on, "j M Y")
        yield Item(
            reason=DUE,
            urgency=AHEAD,
            state=state.due_state,
            word=state.word,
            drum=drums[state.drum_id],
            sentence=_("The next test is due by {day}: {reason}.").format(day=day, reason=state.reason),
            more="",
            shown=state.last,
            url=reverse("records:history", args=[state.drum_id]),
            action=_("History"),
        )
