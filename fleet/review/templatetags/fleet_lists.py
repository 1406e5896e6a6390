"""Small pictures of the fleet's lists."""

from collections.abc import Mapping
from uuid import UUID

from django import template

from fleet.review.mark_line import MarkLine

register = template.Library()


@register.inclusion_tag("review/_mark_line.html")
def mark_line(lines: Mapping[UUID, MarkLine], drum: UUID) -> dict[str, MarkLine | None]:
    return {"line": lines.get(drum)}
