"""From a certificate's snapshot to its paper: every word and digit comes from the snapshot, none from the database."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.certificates.models import Certificate
from fleet.certificates.signing_keys import fingerprint_words
from fleet.certificates.snapshot import address_pieces, read_snapshot, signing_authority_of
from fleet.core.pictures.render_strip import render_strip
from fleet.core.qr import qr_svg
from fleet.records.record_rows import slope_words

GOOD_OUTCOME = "set_in_band"


@dataclass(frozen=True)
class Act:
    """Who did what, when."""

    what: str
    name: str
    rank: str
    when: str


@dataclass(frozen=True)
class AnsweredFinding:
    level: str
    sentence: str
    ship_reply: str
    answer: str


def certificate_html(snapshot: dict[str, Any]) -> str:
    """The certificate as one HTML document."""
    with translation.override(snapshot["language"]):
        return render_to_string("certificates/certificate_paper.html", certificate_context(snapshot))


def certificate_context(snapshot: dict[str, Any]) -> dict[str, Any]:
    """What the certificate's template shows."""
    certificate = snapshot["certificate"]
    return {
        **sheet_context(snapshot["record"], snapshot["decision"]),
        "language": snapshot["language"],
        "number": certificate["number"],
        "code": certificate["code"],
        "issued_at": moment_words(certificate["issued_at"]),
        "verify_address": certificate["verify_address"],
        "address_pieces": address_pieces(certificate["verify_address"]),
        "qr": qr_svg(certificate["verify_address"]),
        "record_sha256": snapshot["record_sha256"],
        "authority": fingerprint_words(signing_authority_of(snapshot)),
    }


def sheet_context(record: dict[str, Any], decision: dict[str, Any] | None) -> dict[str, Any]:
    """One drum's test on one page: for the certificate, and for each drum of a round's summary."""
    policy, results = record["policy"], record["results"]
    return {
        "record": record,
        "decision": decision,
        "base": base_words(record),
        "tested_on": day_words(record["tested"]["on"]),
        "is_good": record["outcome"]["code"] == GOOD_OUTCOME,
        "result": result_words(record),
        "band": band_words(policy),
        "strip": strip_svg(record),
        "has_found": results["as_found_share"] is not None,
        "layer": layer_words(record),
        "working": record["working"],
        "slip_check": slip_check(record),
        "mark_unit": units.label(record["readings"][0]["mark_unit"]) if record["readings"] else "",
        "gauge_unit": record["kit"]["gauge"]["unit_label"],
        "acts": acts(record, decision),
        "findings": findings(record, decision),
        "calibration": calibration_words(record),
        "linings": ", ".join(record.get("lining_shown", [])),
        "trust": record.get("trust"),
        "trust_words": trust_words(record),
        "setting_again": record.get("setting_again"),
        **setting_words_of(record),
    }


def day_words(text: str) -> str:
    return date_format(date.fromisoformat(text), "j F Y") if text else ""


def moment_words(text: str) -> str:
    """A moment as day and time in UTC."""
    return f"{date_format(datetime.fromisoformat(text), 'j F Y, H:i')} UTC"


def base_words(record: dict[str, Any]) -> str:
    """What the share is a share of; only a base load that is the ship design MBL is called so."""
    base = record["vessel"]["base_load"]
    return _("ship design MBL") if base["kind"] == "sdmbl" else str(base["kind_label"])


def band_words(policy: dict[str, Any]) -> str:
    low, high = (units.digits(policy[name], "percent").removesuffix(".0") for name in ("band_low", "band_high"))
    return f"{low}–{high} %"


def layer_words(record: dict[str, Any]) -> str:
    layer = record["drum"]["reference_layer"]
    if record["drum"]["kind"] == "undivided":
        return _("layer {layer} of the undivided drum").format(layer=layer)
    return _("layer {layer} of the tension part").format(layer=layer)


def setting_words(record: dict[str, Any]) -> str:
    setting = record["results"]["setting"]
    return f"{record['drum']['setting_kind_label']} {setting['shown']}" if setting else ""


def result_words(record: dict[str, Any]) -> str:
    """The result in one sentence."""
    results, outcome = record["results"], record["outcome"]
    day = day_words(record["tested"]["on"])
    if outcome["code"] != GOOD_OUTCOME:
        return _("The test of {day} ended without the brake set in band: {outcome}.").format(
            day=day, outcome=outcome["label"]
        )
    return _(
        "The brake rendered, when tested, {state}, on {day}, at {share} of the {base}: {load}, {load_tf}; "
        "{setting}, {layer}, line leaving {direction}."
    ).format(
        state=_("dry") if record["draft"].get("brake_state") == "dry" else _("not dry"),
        day=day,
        share=results["as_left_share_shown"],
        base=base_words(record),
        load=results["as_left_load_shown"],
        load_tf=results["as_left_load_tf_shown"],
        setting=setting_words(record),
        layer=layer_words(record),
        direction=record["drum"]["line_off_label"],
    )


def trust_words(record: dict[str, Any]) -> str:
    """Load, uncertainty, verdict and probability in one sentence; empty in records from before they were worked out."""
    trust = record.get("trust")
    if not trust:
        return ""
    return _(
        "Best estimate {share} of the {base}: {load} ± {uncertainty}, which is ± {points} points (k = {k}, 95 %). "
        "Verdict by {rule}: {verdict}. Probability that the load lies in the band of {band}: {probability}."
    ).format(
        share=trust["share_shown"],
        base=base_words(record),
        load=trust["load_shown"],
        uncertainty=trust["U_shown"],
        points=trust["U_points_shown"],
        k=trust["k_shown"],
        rule=_("guarded acceptance") if trust["rule"] == "guarded" else _("simple acceptance"),
        verdict=trust["verdict_label"],
        band=trust["band_shown"],
        probability=trust["probability_shown"],
    )


def setting_words_of(record: dict[str, Any]) -> dict[str, str]:
    """What stands beside the setting for exactly the target; nothing where no slope was found."""
    found = record.get("setting_analysis")
    return {"slope_words": slope_words(found), "slope_since": day_words(found["last_test_on"])} if found else {}


def strip_svg(record: dict[str, Any], *, compact: bool = False) -> SafeString:
    """The render strip of a record."""
    policy, results = record["policy"], record["results"]
    strip = render_strip(
        as_found=results["as_found_share"],
        as_left=results["as_left_share"],
        band_low=policy["band_low"],
        band_high=policy["band_high"],
        target=policy["share"],
        whisker=whisker_of(record),
        compact=compact,
    )
    drawn = str(render_to_string("core/_render_strip.html", {"strip": strip, "labels": not compact}))
    return mark_safe(drawn)


def whisker_of(record: dict[str, Any]) -> tuple[float, float] | None:
    """From where to where the load lies, as shares of the base load; None where the record does not say it."""
    trust = record.get("trust")
    return (trust["whisker"][0], trust["whisker"][1]) if trust else None


def slip_check(record: dict[str, Any]) -> dict[str, str] | None:
    """One slip worked backwards, with figures enough for a pocket calculator; None where a table was read instead."""
    slip = next((row for row in record["readings"] if row["phase"] == "verification" and row["slipped"]), None)
    if slip is None or slip["load_n"] is None or record["target_basis"] not in {"geometry", "load_cell"}:
        return None
    unit, target = record["kit"]["gauge"]["unit"], record["target"]

    def closely(value_si: float) -> str:
        # Two more digits than elsewhere: rounded sooner, the last digit of the load would not come out.
        return f"{units.shown_quantity(value_si, unit, units.SHOWN_DECIMALS[unit] + 2)} {units.label(unit)}"

    corrected_si = slip.get("corrected_si")
    true_target = next((step["result_si"] for step in record["working"] if step["key"] == "reading"), None)
    target_si = target["reading_si"] if corrected_si is None or true_target is None else true_target
    return {
        "target_load": target["load_shown"],
        "gauge": f"{slip['gauge_text']} {units.label(slip['gauge_unit'])}",
        "corrected": "" if corrected_si is None else closely(corrected_si),
        "target_reading": closely(target_si),
        "load": f"{slip['load_shown']} kN",
        "share": f"{slip['share_shown']} %",
    }


def acts(record: dict[str, Any], decision: dict[str, Any] | None) -> list[Act]:
    """Everyone who answers for a part of this record, with rank and time."""
    declared = record.get("declared") or {}
    rows = []
    if declared:
        rows.append(
            Act(_("carried out and sent"), declared["name"], declared["rank"], moment_words(record["submitted_at"]))
        )
    kinds = {"instruments": _("gauge and jack confirmed"), "release": _("released by the master")}
    for row in record.get("confirmations", []):
        rows.append(
            Act(
                kinds.get(row["kind"], row.get("kind_label", row["kind"])),
                row["name"],
                row["rank"],
                moment_words(row["at"]),
            )
        )
    if decision:
        rows.append(Act(_("approved ashore"), decision["name"], decision["rank"], moment_words(decision["at"])))
    return rows


def findings(record: dict[str, Any], decision: dict[str, Any] | None) -> list[AnsweredFinding]:
    answers = decision["finding_answers"] if decision else {}
    return [
        AnsweredFinding(row["level"], row["sentence"], row["ship_reply"], answers.get(row["code"], ""))
        for row in record["findings"]
    ]


def calibration_words(record: dict[str, Any]) -> str:
    calibration = record["kit"]["gauge"]["calibration"]
    if not calibration:
        return _("no calibration recorded on the day of the test")
    words = _("calibrated {day}, certificate {number}, {laboratory}").format(
        day=day_words(calibration["calibrated_on"]),
        number=calibration["certificate_number"],
        laboratory=calibration["laboratory"],
    )
    if calibration["valid_until"]:
        words += _(", valid until {day}").format(day=day_words(calibration["valid_until"]))
    return words


def public_facts(certificate: Certificate) -> dict[str, str]:
    """What anyone may know of a certificate: the thing, the day and the result, and no person."""
    record = read_snapshot(certificate)["record"]
    return {
        "ship": record["vessel"]["name"],
        "imo_number": record["vessel"]["imo_number"],
        "company": record["company"]["name"],
        "demo": "yes" if record["company"].get("demo") else "",
        "drum": f"{record['drum']['name']}, {record['drum']['winch']}, {record['drum']['place']}",
        "tested_on": day_words(record["tested"]["on"]),
        "share": record["results"]["as_left_share_shown"],
        "load": record["results"]["as_left_load_shown"],
        "base": base_words(record),
        "result": result_words(record),
        "trust": trust_words(record),
        "meaning": record["trust"]["meaning"] if record.get("trust") else "",
    }
