"""A finding, and the catalogue in which each rule is entered under its code."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from fleet.calculation.sentences import gettext_noop as gettext_noop

if TYPE_CHECKING:
    from fleet.calculation.plausibility.case import Case

Level = Literal["note", "ask", "stop"]
LEVELS: tuple[Level, ...] = ("stop", "ask", "note")
"""`stop`: not valid until corrected; `ask`: a person answers before approval; `note`: for information. Worst first."""


@dataclass(frozen=True)
class Finding:
    """What a rule saw: the template is translated first, then filled with figures ready for display."""

    code: str
    level: Level
    field: str
    template: str
    figures: Mapping[str, str] = dataclasses.field(default_factory=dict)
    rows: tuple[int, ...] = ()
    """Positions (from 0) of the readings it is about, for showing it beside them."""

    @property
    def sentence(self) -> str:
        """The finding in plain English, figures filled in."""
        return self.template.format(**self.figures)


@dataclass(frozen=True)
class Seen:
    """What one rule hands back: figures for the template, and the readings it is about.

    A rule that tells several cases of one mistake apart names the template of this one."""

    figures: Mapping[str, str] = dataclasses.field(default_factory=dict)
    rows: tuple[int, ...] = ()
    template: str = ""


@dataclass(frozen=True)
class Rule:
    """One entry of the catalogue."""

    code: str
    level: Level
    field: str
    title: str
    template: str
    particulars: bool
    """True when it needs no test, only the particulars of drum, jack and gauge."""
    general: bool
    """A general rule gives way to a rule that names the mistake in the same field."""
    look: Callable[[Case], Seen | None]


_rules: dict[str, Rule] = {}


def rule(
    code: str,
    *,
    level: Level,
    field: str,
    title: str,
    template: str,
    particulars: bool = False,
    general: bool = False,
) -> Callable[[Callable[[Case], Seen | None]], Callable[[Case], Seen | None]]:
    """Enter a function in the catalogue. Raises `ValueError` for a code that is already taken."""

    def enter(look: Callable[[Case], Seen | None]) -> Callable[[Case], Seen | None]:
        if code in _rules:
            raise ValueError(f"two rules with the code {code}")
        _rules[code] = Rule(code, level, field, title, template, particulars, general, look)
        return look

    return enter


def rules() -> tuple[Rule, ...]:
    """Every rule, in the order it was entered."""
    return tuple(_rules.values())
