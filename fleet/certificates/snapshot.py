"""What a certificate certifies, as plain data: the record as the ship sent it, the decision, and how to verify."""

import json
from datetime import datetime
from typing import Any

from django.conf import settings
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.records.canonical import read_content
from fleet.records.models import Decision, Submission

SCHEMA = "brake-rendering-certificate/1"
LANGUAGE = "en"


def verify_address(code: str) -> str:
    """Where anyone can look this code up."""
    return f"{settings.SITE_URL}{reverse('certificates:verify', args=[code])}"


def certificate_content(
    *, submission: Submission, decision: Decision, number: str, code: str, issued_at: datetime
) -> dict[str, Any]:
    """Everything the paper is made from; nothing else goes into it."""
    return {
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
