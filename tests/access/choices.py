"""What a page offers to choose from, and what of it is not for this person to choose."""

from html.parser import HTMLParser

from tests.access.people import Asker
from tests.access.table import Entry
from tests.access.world import World


class Choices(HTMLParser):
    """The values a page offers or sends along: options, radio buttons, tick boxes, hidden fields."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.values: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in {"option", "input", "button"}:
            self.values.add(given.get("value") or "")


def offered_of_others(text: str, entry: Entry, asker: Asker, world: World) -> set[str]:
    """Ids on offer that are not this person's; shore people choose among vessels, never among another's instruments."""
    others = world.theirs.keys | {str(world.cast.foreign_company.pk)}
    if not asker.sees_the_sister:
        others |= world.sisters.keys
    elif entry.thing and not entry.seen_by:  # not a list over all vessels, nor people's access to them
        others |= world.sisters.keys - {str(world.sisters.vessel.pk)}
    return Choices(text).values & others
