"""Canonical bytes: what is hashed or signed is stored as these, never as a database column that reorders keys."""

import hashlib
from typing import Any

import rfc8785


def canonical(content: dict[str, Any]) -> bytes:
    """UTF-8 bytes per RFC 8785: the same content is the same bytes, on every machine."""
    return rfc8785.dumps(content)


def sha256_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
