"""What a certificate certifies, as plain data: the record as the ship sent it, the decision, and how to verify."""

import json
import re
from datetime import datetime
from typing import Any

from django.conf import settings
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.certificates.signing_keys import Authority
from fleet.records.canonical import read_content
from fleet.records.models import Decision, Submission

SCHEMA = "brake-rendering-certificate/1"
LANGUAGE = "en"


def verify_address(code: str) -> str:
    """Where anyone can look this code up."""
    return f"{settings.SITE_URL}{reverse('certificates:verify', args=[code])}"


def address_pieces(address: str) -> list[str]:
    """An address cut after its slashes, scheme and host in one: the only places where a line may end within it."""
    scheme, mark, rest = address.partition("://")
    pieces = [piece for piece in re.split(r"(?<=/)", rest) if piece]
    return [scheme + mark + pieces[0], *pieces[1:]] if pieces else [address]


def certificate_content(
    *,
    submission: Submission,
    decision: Decision,
    number: str,
    code: str,
    issued_at: datetime,
    authority: Authority | None = None,
) -> dict[str, Any]:
    """Everything the paper is made from; nothing else goes into it."""
    content: dict[str, Any] = {
        "schema": SCHEMA,
        "language": LANGUAGE,
        "certificate": {
            "number": number,
            "code": code,
            "issued_at": issued_at.isoformat(),
            "verify_address": verify_address(code),
        },
        "decision": decision_content(decision),
        "record": read_content(submission),
        "record_sha256": submission.sha256,
    }
    # Fixed here, because the paper prints whom to trust; a certificate without it carries no signature, and says so.
    if authority is not None:
        content["signature"] = {"authority": authority.name, "authority_sha256": authority.sha256}
    return content


def signing_authority_of(snapshot: dict[str, Any]) -> str:
    """SHA-256 of the authority under which this certificate is signed; empty for one without a signature."""
    return str(snapshot.get("signature", {}).get("authority_sha256", ""))


def decision_content(decision: Decision) -> dict[str, Any]:
    return {
        "kind": decision.kind,
        "sentence": decision.sentence,
        "finding_answers": decision.finding_answers,
        "name": decision.name,
        "rank": decision.rank,
        "at": decision.at.isoformat(),
    }


def read_snapshot(certificate: Certificate) -> dict[str, Any]:
    """The certificate's content, from its bytes."""
    content: dict[str, Any] = json.loads(bytes(certificate.snapshot))
    return content
