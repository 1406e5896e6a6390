"""This submission beside an earlier one of the same drum, figure by figure."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from fleet.certificates.paper import base_words, day_words, layer_words
from fleet.records.draft import CHOICES, LABELS
from fleet.records.models import Decision, DecisionKind, State, Submission


@dataclass(frozen=True)
class Row:
    """One figure now and then; `differs` only where there is something to compare with."""

    label: str
    now: str
    before: str
    differs: bool


@dataclass(frozen=True)
class Group:
    title: str
    rows: list[Row]

    @property
    def differing(self) -> list[Row]:
        return [row for row in self.rows if row.differs]

    @property
    def same(self) -> list[Row]:
        """What stayed as it was; what neither record says is no row to read."""
        return [row for row in self.rows if not row.differs and row.now]


def previous_of(submission: Submission) -> Submission | None:
    """The newest approved submission of an earlier test of the same drum."""
    approved = Decision.objects.filter(submission=OuterRef("pk"), kind=DecisionKind.APPROVED)
    return (
        Submission.objects.filter(Exists(approved), test__drum=submission.test.drum_id)
        .filter(tested_on__lte=submission.tested_on)
        .exclude(test=submission.test_id)
        .exclude(test__state=State.WITHDRAWN)
        .select_related("test")
        .order_by("-tested_on", "-submitted_at", "-version")
        .first()
    )


def version_before(submission: Submission) -> Submission | None:
    """The version of the same test that this one amends."""
    earlier = Submission.objects.filter(test=submission.test_id, version__lt=submission.version)
    return earlier.order_by("-version").first()


def compare(now: dict[str, Any], before: dict[str, Any] | None) -> list[Group]:
    """Every figure of a record, in the order of the page, beside the same figure of another record."""
    then = dict(_facts(before)) if before else {}
    groups = []
    for title, facts in _facts(now):
        earlier = dict(then.get(title, []))
        labels = [*dict(facts), *(label for label in earlier if label not in dict(facts))]
        current = dict(facts)
        rows = [
            Row(
                label,
                current.get(label, ""),
                earlier.get(label, ""),
                before is not None and current.get(label, "") != earlier.get(label, ""),
            )
            for label in labels
        ]
        groups.append(Group(title, rows))
    return groups


def changed_rows(groups: list[Group]) -> list[Row]:
    return [row for group in groups for row in group.differing]


def same_count(groups: list[Group]) -> int:
    """How many figures stayed the same."""
    return sum(len(group.same) for group in groups)


Facts = list[tuple[str, str]]


def _facts(record: dict[str, Any]) -> list[tuple[str, Facts]]:
    return [
        (_("Result"), _result(record)),
        (_("Drum and line"), _drum(record)),
        (_("Instruments"), _instruments(record)),
        (_("Brake as seen"), _seen(record)),
        (_("The day"), _day(record)),
    ]


def _result(record: dict[str, Any]) -> Facts:
    results, outcome = record["results"], record["outcome"]
    setting, old = results["setting"], results["old_setting"]
    kind = record["drum"]["setting_kind_label"]
    return [
        (_("outcome"), outcome["label"]),
        (_("as found"), _join(results["as_found_share_shown"], results["as_found_phase_label"])),
        (_("as left"), results["as_left_share_shown"]),
        (_("brake rendering load"), results["as_left_load_shown"]),
        *_trust(record.get("trust")),
        (_("spread of the verification slips"), results["spread_shown"]),
        (_("{kind} as found").format(kind=kind), old["shown"] if old else ""),
        (_("{kind} as left").format(kind=kind), setting["shown"] if setting else ""),
        (_("how the mark is fixed"), outcome["mark_fixed"]),
        (_("defect reference"), outcome["defect_reference"]),
        (_("who was told"), outcome["who_was_told"]),
    ]


def _trust(trust: dict[str, Any] | None) -> Facts:
    if not trust:
        return []
    return [
        (_("best estimate"), f"{trust['share_shown']} ± {trust['U_points_shown']}"),
        (_("verdict"), trust["verdict_label"]),
    ]


def _drum(record: dict[str, Any]) -> Facts:
    drum, target = record["drum"], record["target"]
    figures = [(figure["label"], figure["shown"]) for figure in record["figures"].values()]
    return [
        (base_words(record), record["vessel"]["base_load"]["shown"]),
        *figures,
        (_("line material"), record["line_material"]),
        (_("line leaves the drum"), drum["line_off_label"]),
        (_("layer"), layer_words(record)),
        (_("target found by"), record["target_basis_label"]),
        *_table(record),
        (_("target load"), _join(target["load_shown"], target["load_tf_shown"])),
        (_("target reading"), target["reading_shown"]),
        (_("share aimed at"), record["policy"]["share_shown"]),
        (_("operator's band"), record["policy"]["band_shown"]),
        (_("STOP reading"), record["stop"]["reading_shown"]),
    ]


def _table(record: dict[str, Any]) -> Facts:
    if record["target_basis"] != "makers_table":
        return []
    return [
        (_("maker's table"), record["maker_table_document"]),
        (_("jack the maker's table is for"), record.get("maker_table_jack", "")),
    ]


def _instruments(record: dict[str, Any]) -> Facts:
    kit = record["kit"]
    gauge, calibration = kit["gauge"], kit["gauge"]["calibration"]
    facts = [
        (_("gauge"), f"{gauge['name']}, {gauge['serial_number']}"),
        (_("gauge range and class"), f"{gauge['full_scale']['shown']}, {gauge['accuracy_class']}"),
        (_("gauge calibrated"), day_words(calibration["calibrated_on"]) if calibration else _("not recorded")),
        (_("lever"), kit["lever"]["name"]),
    ]
    for place, jack in enumerate(kit["jacks"], start=1):
        name = _("jack") if len(kit["jacks"]) == 1 else _("jack {place}").format(place=place)
        facts += [
            (name, f"{jack['name']}, {jack['serial_number']}"),
            (_("{jack}: effective piston area").format(jack=name), jack["area_shown"]),
            (_("{jack}: lever arm").format(jack=name), jack["lever_arm_shown"]),
        ]
    return facts


def _seen(record: dict[str, Any]) -> Facts:
    draft = record["draft"]
    facts = [
        (str(LABELS[name]), str(dict(options.choices).get(draft.get(name, ""), draft.get(name, ""))))
        for name, options in CHOICES.items()
        if name != "outcome"
    ]
    linings = list(record.get("lining_shown", []))
    return [*facts, (_("lining at three places"), ", ".join(linings))]


def _day(record: dict[str, Any]) -> Facts:
    round_, tested = record["round"], record["tested"]
    return [
        (_("tested"), f"{day_words(tested['on'])}, {tested['at']} {tested['utc_offset']}"),
        (_("place"), round_["place"]),
        (_("weather"), round_["weather"]),
        (_("done by"), _join(round_["done_by_label"], round_["done_by_name"])),
    ]


def _join(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def typed_rows(record: dict[str, Any]) -> Facts:
    """The draft exactly as typed, each field under its own words."""
    labels = {**{name: str(label) for name, label in LABELS.items()}, **record.get("check_labels", {})}
    return [(labels.get(name, name.replace("_", " ")), text) for name, text in record["draft"].items()]
