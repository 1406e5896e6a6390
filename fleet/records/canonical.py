"""Canonical bytes and back: what a submission holds."""

import hashlib
import json
from typing import Any

import rfc8785

from fleet.records.models import Submission


def canonical(content: dict[str, Any]) -> bytes:
    """UTF-8 bytes per RFC 8785: the same content is the same bytes, on every machine."""
    return rfc8785.dumps(content)


def sha256_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def read_content(submission: Submission) -> dict[str, Any]:
    """The content of a submission, from its bytes."""
    content: dict[str, Any] = json.loads(bytes(submission.content))
    return content
