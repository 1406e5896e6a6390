"""Every chain of audit entries walked from end to end, against the heads that went out with certificates."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.accounts.models import Company
from fleet.certificates.audit_proof import read_proof
from fleet.certificates.models import Certificate
from fleet.core.audit_chain import NO_COMPANY, Fault, chain_of, tree_of, walk
from fleet.core.models import AuditEntry, AuditHead

AT_ONCE = 1000
NO_PROOF = "the proof kept with {name} does not hold"
OTHER_CONTENT = "the entry of the issue of {name} speaks of another content than the certificate's"


@dataclass(frozen=True)
class ChainReport:
    """One chain as it was found: whose, how long, its head, and what is wrong."""

    chain: uuid.UUID
    name: str
    entries: int
    root: str
    certificates: int
    faults: tuple[Fault, ...]

    @property
    def is_unbroken(self) -> bool:
        return not self.faults


def chain_reports(company: Company | None = None) -> Iterator[ChainReport]:
    """A report for each chain there is, or for one company's; rows are streamed."""
    names = dict(Company.objects.values_list("pk", "name"))
    if company is not None:
        yield chain_report(company.pk, company.name)
        return
    known = {NO_COMPANY, *AuditHead.objects.values_list("pk", flat=True)}
    known.update(AuditEntry.objects.order_by().values_list("chain", flat=True).distinct())
    known.update(names)
    for chain in sorted(known, key=lambda chain: (names.get(chain, ""), str(chain))):
        yield chain_report(chain, names.get(chain, _("what belongs to no company")))


def chain_report(chain: uuid.UUID, name: str) -> ChainReport:
    certificates = Certificate.objects.filter(submission__test__drum__winch__vessel__company=chain)
    witnesses: dict[int, list[tuple[str, str]]] = defaultdict(list)
    faults: list[Fault] = []
    counted = 0
    rows = certificates.exclude(audit_root="").values_list(
        "number", "audit_size", "audit_root", "audit_proof", "snapshot_sha256"
    )
    for number, size, root, proof, snapshot_sha256 in rows.iterator(chunk_size=AT_ONCE):
        counted += 1
        size = size or 0
        witnesses[size].append((number, root))
        faults.extend(
            Fault(chain, size, what) for what in _faults_of_proof(number, size, root, bytes(proof), snapshot_sha256)
        )
    entries = AuditEntry.objects.filter(chain=chain).order_by("sequence", "pk").iterator(chunk_size=AT_ONCE)
    found = walk(chain, entries, head=AuditHead.objects.filter(pk=chain).first(), witnesses=witnesses)
    return ChainReport(chain, name, found.tree.size, found.tree.root.hex(), counted, (*found.faults, *faults))


def _faults_of_proof(name: str, size: int, root: str, proof: bytes, snapshot_sha256: str) -> Iterator[str]:
    try:
        read = read_proof(proof)
    except ValueError:
        yield NO_PROOF.format(name=name)
        return
    if not read.holds or (read.size, read.root) != (size, root):
        yield NO_PROOF.format(name=name)
    if read.snapshot_sha256 != snapshot_sha256:
        yield OTHER_CONTENT.format(name=name)


def heads_of(companies: Iterable[Company]) -> list[tuple[str, int, str]]:
    """(company, entries, head) for a page, as the chains say of themselves: not walked."""
    names = {chain_of(company.pk): company.name for company in companies}
    heads = AuditHead.objects.filter(pk__in=names)
    return sorted((names[head.pk], head.size, tree_of(head).root.hex()) for head in heads)
