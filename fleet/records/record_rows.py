"""A submission's content as rows to read, and two versions beside each other."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.records.access import ships_time
from fleet.records.draft import CHOICES
from fleet.records.layers import layer_lines


@dataclass(frozen=True)
class Row:
    """One line of a record; `key` finds the same line in another version."""

    key: str
    label: str
    shown: str
    note: str = ""


@dataclass(frozen=True)
class Section:
    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Beside:
    """One line in two versions."""

    section: str
    label: str
    first: str
    second: str

    @property
    def differs(self) -> bool:
        return self.first != self.second


def sections_of(content: dict[str, Any]) -> list[Section]:
    """Everything in a submission, in the order one checks it."""
    parts = (
        (_("Result and aim"), _result),
        (_("Ship, drum and policy"), _drum),
        (_("Figures used"), _figures),
        (_("The line on every layer"), _layers),
        (_("Kit"), _kit),
        (_("Round"), _round),
        (_("Checks and state of the brake"), _state),
        (_("Readings"), _readings),
        (_("Findings and replies"), _findings),
        (_("Photos"), _photos),
        (_("Who stands for it"), _people),
    )
    return [Section(title, tuple(row for row in rows(content) if row.shown)) for title, rows in parts]


READING = "reading_"
ISO_DAY = re.compile(r"\b\d{4}-\d\d-\d\d\b")
# Said in full above the sections of a record that stands alone.
IN_THE_RESULT = frozenset(
    {
        "outcome",
        "as_found",
        "as_left",
        "best",
        "verdict",
        "probability",
        "spread",
        "setting",
        "at_target",
        "aim",
        "defect",
        "told",
    }
)


def sections_below_the_result(content: dict[str, Any]) -> list[Section]:
    """The same without what the result has said already, readings and all."""
    return [
        Section(
            part.title,
            tuple(row for row in part.rows if row.key not in IN_THE_RESULT and not row.key.startswith(READING)),
        )
        for part in sections_of(content)
    ]


def beside(first: dict[str, Any], second: dict[str, Any]) -> list[Beside]:
    """Every line of both versions; what only one of them has stands beside nothing."""
    lines: list[Beside] = []
    for one, two in zip(sections_of(first), sections_of(second), strict=True):
        there = {row.key: row for row in two.rows}
        for row in one.rows:
            other = there.pop(row.key, None)
            lines.append(Beside(one.title, row.label, _words(row), _words(other)))
        lines.extend(Beside(two.title, row.label, "", _words(row)) for row in there.values())
    return lines


def _words(row: Row | None) -> str:
    if row is None:
        return ""
    return f"{row.shown} ({row.note})" if row.note else row.shown


def day_words(text: str) -> str:
    """A day out of a record, in the words of the pages: 22 November 2026."""
    return date_format(date.fromisoformat(text), "j F Y") if text else ""


def _shown(value: Any) -> str:
    return str(value["shown"]) if value else ""


def _result(content: dict[str, Any]) -> Iterator[Row]:
    results, outcome = content["results"], content["outcome"]
    yield Row("outcome", _("Outcome"), outcome["label"])
    yield Row("as_found", _("As found"), results["as_found_share_shown"], results["as_found_phase_label"])
    load = f"{results['as_left_load_shown']} = {results['as_left_load_tf_shown']}" if results["as_left_load_n"] else ""
    yield Row("as_left", _("As left, mean of the verification slips"), results["as_left_share_shown"], load)
    if trust := content.get("trust"):
        best = _("{load} ± {uncertainty}").format(load=trust["load_shown"], uncertainty=trust["U_shown"])
        yield Row("best", _("Best estimate"), f"{trust['share_shown']} ± {trust['U_points_shown']}", best)
        yield Row("verdict", _("Verdict"), trust["verdict_label"], trust["rule_label"])
        yield Row("probability", _("Probability that it lies in the band"), trust["probability_shown"])
    yield Row("spread", _("Spread of the verification slips"), results["spread_shown"])
    yield Row("setting", _("Setting as left"), _shown(results["setting"]))
    if found := content.get("setting_analysis"):
        setting = _("{setting} ({between}, 19 times in 20)").format(
            setting=found["target_setting_shown"], between=found["target_setting_interval_shown"]
        )
        yield Row("at_target", _("Setting for exactly the target, an estimate"), setting, slope_words(found))
    yield Row("old_setting", _("Setting as found"), _shown(results.get("old_setting")))
    yield Row("mark_fixed", _("How the mark is fixed"), outcome.get("mark_fixed", ""))
    yield Row("defect", _("Defect reference"), outcome["defect_reference"])
    yield Row("told", _("Who was told"), outcome["who_was_told"])
    yield Row("remarks", _("Remarks"), outcome.get("remarks", ""))
    target, stop = content["target"], content["stop"]
    aim = _("{reading} = {share} of the base load = {load}").format(
        reading=target["reading_shown"], share=content["policy"]["share_shown"], load=target["load_shown"]
    )
    yield Row("aim", _("Aim"), aim)
    yield Row("stop", _("STOP"), stop["mark_shown"], _(stop["limit_label"]))


def slope_words(found: dict[str, Any]) -> str:
    """What one unit of the setting changes, out of a record's ``setting_analysis``."""
    return _("near it {one} changes the load by {slope} ({between}, 19 times in 20), as this gauge reads").format(
        one=f"1 {units.label(found['unit'])}".strip(),
        slope=found["slope_shown"],
        between=found["slope_interval_shown"],
    )


def _drum(content: dict[str, Any]) -> Iterator[Row]:
    vessel, drum, policy = content["vessel"], content["drum"], content["policy"]
    base = vessel["base_load"]
    yield Row("company", _("Company"), content["company"]["name"])
    yield Row("vessel", _("Vessel"), vessel["name"], _("IMO number {number}").format(number=vessel["imo_number"]))
    yield Row("base", capfirst(base["kind_label"]), base["shown"], base["document"])
    yield Row("drum", _("Drum"), drum["name"], f"{drum['winch']}, {drum['place']}")
    yield Row("drum_kind", _("Drum kind"), drum["kind_label"])
    yield Row("brake_kind", _("Brake kind"), drum["brake_kind_label"])
    yield Row("setting_kind", _("Setting kept as"), drum["setting_kind_label"])
    yield Row("points", _("Measured"), f"{drum['mark_from']} → {drum['mark_to']}")
    yield Row("line_off", _("Line leaves the drum"), drum["line_off_label"])
    yield Row("layer", _("Layer the setting is for"), str(drum["reference_layer"]), drum["nesting_label"])
    yield Row("basis", _("How the target is found"), content["target_basis_label"])
    if content["target_basis"] == "makers_table":
        # Records sent before the jack was kept with them have no serial number here.
        serial = content.get("maker_table_jack", "")
        note = _("for the jack with serial number {serial} only").format(serial=serial) if serial else ""
        yield Row("table", _("Maker's table"), content["maker_table_document"], note)
    yield Row("share", _("Share at which the brake is to render"), policy["share_shown"])
    yield Row("band", _("Band"), policy["band_shown"], _("operator's setting, not from a standard"))
    yield Row("rule", _("Decision rule"), policy["decision_rule_label"])
    # The source is a name with the day from which it holds.
    source = ISO_DAY.sub(lambda found: day_words(found[0]), policy["source"])
    yield Row("source", _("Policy"), source)


def _layers(content: dict[str, Any]) -> Iterator[Row]:
    return (Row(key, label, shown) for key, label, shown in layer_lines(content))


def _figures(content: dict[str, Any]) -> Iterator[Row]:
    for name, figure in content["figures"].items():
        note = ", ".join(part for part in (figure["origin_label"], figure["document"]) if part)
        yield Row(name, capfirst(figure["label"]), figure["shown"], note)


def _kit(content: dict[str, Any]) -> Iterator[Row]:
    kit = content["kit"]
    gauge, calibration = kit["gauge"], kit["gauge"]["calibration"]
    number = _("number {number}").format(number=gauge["serial_number"])
    yield Row("gauge", _("Gauge"), gauge["name"], number)
    scale = _("{scale} full scale, marks every {division}, class {accuracy}").format(
        scale=_shown(gauge["full_scale"]), division=_shown(gauge["smallest_division"]), accuracy=gauge["accuracy_class"]
    )
    yield Row("scale", _("Its scale"), scale)
    if calibration:
        day = day_words(calibration["calibrated_on"])
        words = f"{calibration['certificate_number']}, {calibration['laboratory']}, {day}"
        yield Row("calibration", _("Its calibration"), words)
    else:
        yield Row("calibration", _("Its calibration"), _("none recorded"))
    for place, jack in enumerate(kit["jacks"], start=1):
        words = _("number {number}; {area}, {counts}; arm {arm}").format(
            number=jack["serial_number"],
            area=jack["area_shown"] or "–",
            counts=jack["area_counts_label"],
            arm=jack["lever_arm_shown"],
        )
        yield Row(f"jack_{place}", _("Jack {name}").format(name=jack["name"]), jack["kind_label"], words)
    lever, footing = kit["lever"], kit["footing"]
    yield Row("lever", _("Lever"), lever["name"], _shown(lever["arm"]))
    if footing:
        yield Row("footing", _("Footing"), footing["name"], _shown(footing["allowed_load"]))


def _round(content: dict[str, Any]) -> Iterator[Row]:
    row, tested = content["round"], content["tested"]
    yield Row("tested", _("Tested"), f"{day_words(tested['on'])} {tested['at']}", tested["utc_offset"])
    yield Row("kind", _("Round"), row["kind_label"])
    yield Row("place", _("Place"), row["place"])
    yield Row("permit", _("Permit to work"), row["permit"])
    yield Row("weather", _("Weather"), row["weather"])
    yield Row("people", _("People present"), ", ".join(f"{one['name']} ({one['rank']})" for one in row["people"]))
    yield Row("done_by", _("Done by"), row["done_by_label"], row["done_by_name"])
    if row["report"]:
        yield Row("report", _("Their report"), row["report"]["name"], f"SHA-256 {row['report']['sha256'][:12]}…")


def _state(content: dict[str, Any]) -> Iterator[Row]:
    for name, ticked in content["checks"].items():
        yield Row(name, content["check_labels"][name], _("yes") if ticked else _("no"))
    draft = content["draft"]
    for name, label in (
        ("brake_state", _("Brake")),
        ("lining_condition", _("Lining condition")),
        ("drum_surface", _("Drum surface")),
        ("band_rest", _("Band when open")),
    ):
        value = draft.get(name, "")
        yield Row(name, label, str(CHOICES[name](value).label) if value in CHOICES[name].values else value)
    yield Row("lining", _("Lining at three places"), ", ".join(content["lining_shown"]))
    clearance = draft.get("band_rest_clearance", "")
    unit = units.label(draft.get("band_rest_clearance_unit") or "mm")
    angle = draft.get("lever_angle", "")
    yield Row("lever_angle", _("Lever off square to the jack"), f"{angle} {units.label('deg')}" if angle else "")
    yield Row("clearance", _("Clearance of the open band"), f"{clearance} {unit}" if clearance else "")


def _readings(content: dict[str, Any]) -> Iterator[Row]:
    for row in content["readings"]:
        held = _("slipped at") if row["slipped"] else _("held at, at least")
        words = _("mark {mark} {mark_unit}; {held} {gauge} {gauge_unit}; {load} kN; {share} %").format(
            mark=row["mark_text"],
            mark_unit=units.label(row["mark_unit"]),
            held=held,
            gauge=row["gauge_text"],
            gauge_unit=units.label(row["gauge_unit"]),
            load=row["load_shown"],
            share=row["share_shown"],
        )
        note = _("released and re-applied") if row["reapplied"] else ""
        rest = _("{minutes} min at rest").format(minutes=row["rest_minutes"]) if row["rest_minutes"] else ""
        yield Row(
            f"{READING}{row['order']}",
            f"{row['order']}: {row['phase_label']}",
            words,
            ", ".join(part for part in (note, rest) if part),
        )


def _findings(content: dict[str, Any]) -> Iterator[Row]:
    words = {"stop": _("Stop"), "ask": _("To be answered"), "note": _("Note")}
    for row in content["findings"]:
        reply = _("reply: {reply}").format(reply=row["ship_reply"]) if row["ship_reply"] else ""
        yield Row(f"finding_{row['code']}", words[row["level"]], row["sentence"], reply)


def _photos(content: dict[str, Any]) -> Iterator[Row]:
    for row in content["photos"]:
        yield Row(f"photo_{row['id']}", _("Photo"), row["caption"] or row["kind"], f"SHA-256 {row['sha256'][:12]}…")


def _when(moment: str, content: dict[str, Any]) -> str:
    return ships_time(datetime.fromisoformat(moment), content["round"]["utc_offset_minutes"])


def _people(content: dict[str, Any]) -> Iterator[Row]:
    for row in content["confirmations"]:
        person = f"{row['rank']} {row['name']}"
        yield Row(f"act_{row['kind']}", capfirst(row["kind_label"]), person, _when(row["at"], content))
    declared = content["declared"]
    person = f"{declared['rank']} {declared['name']}"
    yield Row("declared", _("Submitted by"), person, _when(content["submitted_at"], content))
    yield Row("reason", _("Reason for this version"), content.get("reason", ""))
    yield Row("answer", _("The ship's answer to shore"), content.get("answer_to_shore", ""))
