"""What goes into the archives: a vessel's year of certificates, and the pack an inspector asks for."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.calculation.gauge import add_months
from fleet.certificates.csv_files import csv_bytes
from fleet.certificates.models import Certificate, CertificateState
from fleet.certificates.services import certificate_pdf_make
from fleet.core import pdf
from fleet.core.pictures.states import STATES
from fleet.drums.models import Drum
from fleet.gauges.models import Footing, Gauge, Jack, Lever
from fleet.records.canonical import read_content
from fleet.records.due import DrumState, drum_states
from fleet.records.models import Submission
from fleet.vessels.models import Vessel, policy_for

Entries = Iterator[tuple[str, bytes]]
NO_PDF = "PDF-could-not-be-made.txt"


@dataclass(frozen=True)
class DrumRow:
    """One drum of the summary."""

    drum: Drum
    state: DrumState
    certificate: Certificate | None


def year_entries(vessel: Vessel, year: int) -> Entries:
    """Every certificate of tests done in a year, whatever became of it, and an index that says what did."""
    certificates = list(
        Certificate.objects.whole()
        .filter(submission__test__round__vessel=vessel, submission__tested_on__year=year)
        .order_by("number")
    )
    yield "index.csv", index_csv(certificates)
    for certificate in certificates:
        yield from certificate_entries(certificate, "")


def pack_entries(vessel: Vessel) -> Entries:
    """Summary, certificates neither superseded nor withdrawn, instruments with their dates, open defects."""
    on = timezone.localdate()
    drums = list(Drum.objects.filter(winch__vessel=vessel).fitted().select_related("winch"))
    states = drum_states(drums, on)
    certificates = list(
        Certificate.objects.whole()
        .filter(submission__test__round__vessel=vessel, state=CertificateState.ISSUED)
        .order_by("submission__test__drum__area_order", "submission__test__drum__order", "number")
    )
    by_drum = {row.submission.test.drum_id: row for row in certificates}
    rows = [DrumRow(drum, states[drum.pk], by_drum.get(drum.pk)) for drum in drums]
    instruments, defects = instrument_rows(vessel, on), defect_rows(drums, states)
    shared = {"vessel": vessel, "on": on, "language": get_language() or "en"}
    yield from _paper("summary", "certificates/pack_summary_paper.html", {**shared, "rows": rows}, _("Summary"))
    yield (
        "summary.csv",
        csv_bytes(
            SUMMARY_HEADER,
            [
                (
                    row.drum.name,
                    row.drum.winch.name,
                    row.drum.place,
                    _state_word(row.state),
                    row.state.last.tested_on if row.state.last else "",
                    row.state.last.get_outcome_display() if row.state.last else "",
                    row.certificate.number if row.certificate else "",
                    row.certificate.state_words if row.certificate else "",
                )
                for row in rows
            ],
        ),
    )
    context = {**shared, "header": INSTRUMENT_HEADER, "rows": instruments}
    yield from _paper("instruments", "certificates/pack_table_paper.html", context, _("Instruments and their dates"))
    yield "instruments.csv", csv_bytes(INSTRUMENT_HEADER, instruments)
    context = {**shared, "header": DEFECT_HEADER, "rows": defects, "none": _("No open defects are recorded.")}
    yield from _paper("open-defects", "certificates/pack_table_paper.html", context, _("Open defects"))
    yield "open-defects.csv", csv_bytes(DEFECT_HEADER, defects)
    for certificate in certificates:
        yield from certificate_entries(certificate, "certificates/")


def certificate_entries(certificate: Certificate, folder: str) -> Entries:
    """The PDF; where none can be made, the record itself as JSON, so that nothing is missing."""
    try:
        made = certificate_pdf_make(certificate)
    except pdf.PdfUnavailable as error:
        yield f"{folder}{certificate.number}.json", bytes(certificate.snapshot)
        yield f"{folder}{certificate.number}-{NO_PDF}", f"{error}\n".encode()
        return
    with made.pdf.storage.open(str(made.pdf.name), "rb") as stored:
        yield f"{folder}{certificate.number}.pdf", stored.read()


def index_csv(certificates: list[Certificate]) -> bytes:
    header = [
        _("certificate"), _("drum"), _("tested on"), _("as left, % of base load"), _("state"), _("since"), _("reason"),
        _("after its test"),
    ]  # fmt: skip
    return csv_bytes(
        header,
        [
            (
                row.number,
                row.submission.test.drum.name,
                row.submission.tested_on,
                units.digits(row.submission.as_left_share, "percent") if row.submission.as_left_share else "",
                row.get_state_display(),
                (row.state_changed_at or row.issued_at).date(),
                row.state_reason or (row.superseded_by.number if row.superseded_by else ""),
                "; ".join(remark.sentence for remark in row.remarks),
            )
            for row in certificates
        ],
    )


SUMMARY_HEADER = (
    lazy("drum"), lazy("winch"), lazy("place"), lazy("state"), lazy("last tested"), lazy("outcome"),
    lazy("certificate"), lazy("state of the certificate"),
)  # fmt: skip
INSTRUMENT_HEADER = (
    lazy("kind"), lazy("name"), lazy("serial number"), lazy("particulars"), lazy("last date"), lazy("valid until"),
    lazy("document"),
)  # fmt: skip
DEFECT_HEADER = (
    lazy("drum"), lazy("place"), lazy("what"), lazy("since"), lazy("to be done by"), lazy("defect reference"),
    lazy("told"),
)  # fmt: skip


def instrument_rows(vessel: Vessel, on: date) -> list[tuple[Any, ...]]:
    """Gauges, jacks, levers and footings in use, each with the date that counts."""
    months = policy_for(vessel, on).calibration_months
    rows: list[tuple[Any, ...]] = []
    for gauge in Gauge.objects.filter(vessel=vessel).in_use().prefetch_related("calibrations"):
        calibration = gauge.calibration_on(on)
        until = (calibration.valid_until or add_months(calibration.calibrated_on, months)) if calibration else None
        says = _("0 to {full}, division {division}, class {accuracy}").format(
            full=gauge.full_scale, division=gauge.smallest_division, accuracy=f"{gauge.accuracy_class.normalize():f}"
        )
        document = f"{calibration.certificate_number}, {calibration.laboratory}" if calibration else ""
        dates = (calibration.calibrated_on, until) if calibration else (_("no calibration recorded"), "")
        rows.append((_("gauge"), gauge.name, gauge.serial_number, says, *dates, document))
    for jack in Jack.objects.filter(vessel=vessel, retired_on__isnull=True):
        says = _("{kind}; stated area {area}; rated {rated}").format(
            kind=jack.get_kind_display(), area=jack.stated_area or "–", rated=jack.rated_pressure
        )
        rows.append(
            (_("jack"), jack.name, jack.serial_number, says, jack.inspected_on or "–", "", jack.stated_area_document)
        )
    for lever in Lever.objects.filter(vessel=vessel, retired_on__isnull=True):
        says = _("arm {arm}; safe load {load}").format(arm=lever.arm, load=lever.safe_load or "–")
        rows.append((_("lever"), lever.name, "", says, lever.inspected_on or "–", "", ""))
    for footing in Footing.objects.filter(vessel=vessel, retired_on__isnull=True):
        says = _("allowed load {load}").format(load=footing.allowed_load or "–")
        rows.append((_("footing"), footing.name, "", says, "", "", ""))
    return rows


def defect_rows(drums: list[Drum], states: dict[Any, DrumState]) -> list[tuple[Any, ...]]:
    """What is open at each drum: a failed last test, an order from shore, work or an event since the last good test."""
    failed = [state.last.pk for state in states.values() if state.last and state.last.outcome != "set_in_band"]
    contents = {row.pk: read_content(row)["outcome"] for row in Submission.objects.filter(pk__in=failed)}
    rows: list[tuple[Any, ...]] = []
    for drum in drums:
        state = states[drum.pk]
        if state.last and state.last.pk in contents:
            said = contents[state.last.pk]
            what = state.last.get_outcome_display()
            told = said["who_was_told"]
            rows.append((drum.name, drum.place, what, state.last.tested_on, "", said["defect_reference"], told))
        if state.order:
            what = _("retest ordered: {reason}").format(reason=state.order.reason)
            rows.append((drum.name, drum.place, what, state.order.ordered_at.date(), state.order.due_on, "", ""))
        if state.event:
            event = state.event
            what = f"{event.get_kind_display()} {event.note}".strip()
            rows.append((drum.name, drum.place, what, event.happened_on, "", event.document, ""))
    return rows


def _state_word(state: DrumState) -> str:
    return state.word or str(STATES[state.due_state].word)


def _paper(name: str, template: str, context: dict[str, Any], title: str) -> Entries:
    try:
        content = pdf.render_pdf(render_to_string(template, {**context, "title": title}), title=title)
    except pdf.PdfUnavailable as error:
        yield f"{name}-{NO_PDF}", f"{error}\n".encode()
        return
    yield f"{name}.pdf", content
