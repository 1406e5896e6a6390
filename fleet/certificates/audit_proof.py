"""What ties a certificate to the company's audit entries: the entry of its issue, and the proof of its place.

The head travels inside the certificate, so whoever rewrites the entries later is contradicted by every paper that was
handed out before.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fleet.certificates.models import Certificate
from fleet.core.audit_chain import Place
from fleet.core.canonical import canonical
from fleet.core.merkle import is_included, leaf_hash
from fleet.core.models import AuditEntry

SCHEMA = "audit-proof/1"
FILE_NAME = "audit-proof.json"


def proof_keep(certificate: Certificate, entry: AuditEntry, place: Place) -> None:
    """Store the proof beside the certificate, in the transaction of its issue."""
    certificate.audit_proof = canonical(
        {
            "schema": SCHEMA,
            "chain": str(place.chain),
            "size": place.size,
            "root": place.root.hex(),
            "path": [step.hex() for step in place.path],
            # As text: a reader hashes these very bytes.
            "entry": bytes(entry.canonical).decode(),
        }
    )
    certificate.audit_size, certificate.audit_root = place.size, place.root.hex()
    certificate.save(update_fields=["audit_proof", "audit_size", "audit_root"])


@dataclass(frozen=True)
class ProofReading:
    """What a proof shows: that its entry is under its head, and which content the entry speaks of."""

    holds: bool
    size: int
    root: str
    at: str
    snapshot_sha256: str


def read_proof(data: bytes) -> ProofReading:
    """Check a proof by itself, without the database. Raises ValueError when it is no such proof."""
    try:
        proof: Mapping[str, Any] = json.loads(data)
        if proof["schema"] != SCHEMA:
            raise ValueError("not an audit proof of a known kind")
        size, root = int(proof["size"]), str(proof["root"])
        entry = json.loads(proof["entry"])
        holds = is_included(
            leaf=leaf_hash(proof["entry"].encode()),
            index=size - 1,
            size=size,
            path=[bytes.fromhex(step) for step in proof["path"]],
            root=bytes.fromhex(root),
        )
        # The newest entry of a head stands at its end, and says so itself.
        holds = holds and entry["sequence"] == size and entry["chain"] == proof["chain"]
        return ProofReading(holds, size, root, str(entry["at"]), str(entry["after"]["snapshot_sha256"]))
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError("not an audit proof of a known kind") from error
