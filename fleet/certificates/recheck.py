"""Rechecks a certificate's PDF from the file alone: signature, data, every figure, and the words printed on it.

Needs no database and no network. What it works out again it works out with the calculation package.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fleet.certificates.audit_proof import FILE_NAME as PROOF_NAME
from fleet.certificates.audit_proof import read_proof
from fleet.certificates.pdf_reading import OpenedPdf, UnreadablePdf, open_pdf
from fleet.certificates.recheck_figures import figure_lines
from fleet.certificates.recheck_lines import DATA, PRINTED, SIGNATURE, Line
from fleet.certificates.recheck_printed import printed_lines
from fleet.certificates.recheck_trust import trust_lines
from fleet.certificates.signature_check import SignatureCheck, check_signature
from fleet.certificates.signing_keys import Authority
from fleet.certificates.snapshot import SCHEMA, signing_authority_of
from fleet.core.canonical import canonical, sha256_of
from fleet.records.snapshot import CALCULATION_VERSION
from fleet.records.snapshot import SCHEMA as RECORD_SCHEMA

MOST_DATA = 2_000_000


@dataclass(frozen=True)
class Recheck:
    """What came of it; `snapshot` is None where the file carries no record of ours."""

    signature: SignatureCheck
    snapshot: dict[str, Any] | None
    snapshot_sha256: str
    lines: tuple[Line, ...]
    calculation_version: str = ""

    @property
    def all_agree(self) -> bool:
        return bool(self.lines) and all(line.agrees for line in self.lines)

    @property
    def disagreeing(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.agrees is False)

    @property
    def is_older_calculation(self) -> bool:
        return self.calculation_version not in ("", CALCULATION_VERSION)

    def agrees_in(self, *parts: str) -> bool:
        """Whether everything looked at in these parts agrees, and anything was."""
        found = [line for line in self.lines if line.part in parts]
        return bool(found) and all(line.agrees for line in found)


def recheck(content: bytes, *, authorities: Sequence[Authority]) -> Recheck:
    """Recheck a file's bytes against the authorities that the reader trusts. Raises UnreadablePdf."""
    opened = open_pdf(content)
    signature = check_signature(opened, authorities=authorities)
    attached = _attached(opened)
    data = _record_of(attached)
    snapshot, lines = _read(data)
    lines = [*_signature_lines(signature, snapshot), *lines]
    if snapshot is not None:
        lines += _proof_lines(attached, data)
        lines += figure_lines(snapshot["record"])
        lines += trust_lines(snapshot["record"])
        lines += _printed(snapshot, opened)
    version = str(snapshot["record"].get("calculation_version", "")) if snapshot else ""
    return Recheck(signature, snapshot, hashlib.sha256(data).hexdigest(), tuple(lines), version)


def _attached(opened: OpenedPdf) -> dict[str, bytes]:
    """The files it carries; none where that part of the file is broken, which the signature says too."""
    try:
        return opened.attachments()
    except UnreadablePdf:
        return {}


def _record_of(attached: dict[str, bytes]) -> bytes:
    """The attached record: whatever is attached beside the audit proof, and nothing if that is not one file."""
    found = [content for name, content in attached.items() if name != PROOF_NAME]
    return found[0] if len(found) == 1 else b""


def _read(data: bytes) -> tuple[dict[str, Any] | None, list[Line]]:
    """The attached record, if it is one of ours and whole, and what there is to say of it."""
    try:
        if not 0 < len(data) <= MOST_DATA:
            raise ValueError("no record is attached")
        snapshot = json.loads(data)
        schema = snapshot["schema"]
        if schema != SCHEMA or snapshot["record"]["schema"] != RECORD_SCHEMA:
            raise ValueError(f"the record is of a kind not known here: {str(schema)[:60]}")
        whole = canonical(snapshot) == data
        kept, again = str(snapshot["record_sha256"]), sha256_of(canonical(snapshot["record"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        return None, [Line(DATA, "attached record", False, f"cannot be read ({error})")]
    return snapshot, [
        Line(DATA, "attached record", True, schema),
        Line(DATA, "its canonical form", whole, "RFC 8785" if whole else "not as RFC 8785 writes it"),
        Line(
            DATA,
            "SHA-256 of the ship's part",
            kept == again,
            kept if kept == again else f"the record says {kept}, its bytes give {again}",
        ),
    ]


def _signature_lines(found: SignatureCheck, snapshot: dict[str, Any] | None) -> list[Line]:
    if not found.is_signed:
        said = "this file carries no signature"
        if snapshot is not None and not signing_authority_of(snapshot):
            said += ", and says so itself: verify it by its code"
        return [Line(SIGNATURE, "signature", False, said)]
    when = f"{found.signed_at:%d %b %Y %H:%M UTC}" if found.signed_at else "at no known time"
    clock = "by a timestamp server" if found.is_timestamped else "by the signer's clock"
    lines = [
        Line(
            SIGNATURE,
            "signed bytes",
            found.is_unchanged,
            f"as they were signed, {when} {clock}" if found.is_unchanged else "changed after they were signed",
        ),
        Line(
            SIGNATURE,
            "whole file signed",
            found.is_whole,
            "to its last byte" if found.is_whole else "something was added or changed outside what was signed",
        ),
        Line(
            SIGNATURE,
            "certified, no change allowed",
            found.is_certified,
            "once, by the operator's field" if found.is_certified else "not signed as the operator signs",
        ),
    ]
    return [*lines, _authority_line(found, snapshot)]


def _authority_line(found: SignatureCheck, snapshot: dict[str, Any] | None) -> Line:
    if found.authority is None:
        said = f"none of those trusted here issued the signer's certificate; it names “{found.issuer}”"
        return Line(SIGNATURE, "authority", False, said)
    named = signing_authority_of(snapshot) if snapshot else ""
    if named != found.authority.sha256:
        return Line(SIGNATURE, "authority", False, "not the one that the certificate itself names")
    return Line(SIGNATURE, "authority", True, f"“{found.authority.name}”, SHA-256 {found.authority.fingerprint}")


def _proof_lines(attached: dict[str, bytes], data: bytes) -> list[Line]:
    proof = attached.get(PROOF_NAME)
    if proof is None:
        return []
    try:
        found = read_proof(proof)
    except (ValueError, RecursionError) as error:
        return [Line(DATA, "audit proof", False, f"cannot be read ({error})")]
    holds = found.holds and found.snapshot_sha256 == hashlib.sha256(data).hexdigest()
    said = f"entry {found.size} of the operator's chain" if holds else "does not speak of this record, or does not hold"
    return [Line(DATA, "audit proof of the issue", holds, said)]


def _printed(snapshot: dict[str, Any], opened: OpenedPdf) -> list[Line]:
    try:
        return printed_lines(snapshot, opened.text())
    except UnreadablePdf:
        return [Line(PRINTED, "printed words", None, "cannot be read from this file")]
    except (KeyError, TypeError, AttributeError) as error:
        return [Line(PRINTED, "printed words", False, f"the record lacks what is printed ({error})")]
