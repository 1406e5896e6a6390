"""A signed certificate as a file, ways to tamper with it, and what poppler's `pdfsig` says of it."""

import subprocess
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import pikepdf

from fleet.certificates.audit_proof import FILE_NAME
from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_pdf_bytes, certificate_pdf_signed
from fleet.certificates.signing_keys import Authority, known_keys
from fleet.certificates.snapshot import read_snapshot, signing_authority_of


@dataclass(frozen=True)
class SignedPaper:
    content: bytes
    unsigned: bytes
    snapshot: bytes
    number: str
    code: str
    authority: Authority


def paper_of(certificate: Certificate) -> SignedPaper:
    authority = known_keys().authority(signing_authority_of(read_snapshot(certificate)))
    assert authority
    return SignedPaper(
        content=certificate_pdf_signed(certificate),
        unsigned=certificate_pdf_bytes(certificate),
        snapshot=bytes(certificate.snapshot),
        number=certificate.number,
        code=certificate.code,
        authority=authority,
    )


def record_name(names: list[str]) -> str:
    """The record among the files a certificate carries; the audit proof travels beside it."""
    (name,) = (name for name in names if name != FILE_NAME)
    return name


def with_changed_byte(content: bytes, at: int) -> bytes:
    return content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]


def with_added_revision(content: bytes) -> bytes:
    """Another language, appended as a revision of its own, as an editor would save it."""
    from pyhanko.pdf_utils.generic import pdf_string
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(BytesIO(content))
    writer.root["/Lang"] = pdf_string("fr")
    writer.update_root()
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def with_swapped_attachment(content: bytes, attached: bytes) -> bytes:
    """The same paper with other data behind it, appended as a revision so that the signed bytes stay."""
    from pyhanko.pdf_utils.generic import StreamObject
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(BytesIO(content))
    listed = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
    names = [str(name) for name in list(listed)[::2]]
    specification = listed[2 * names.index(record_name(names)) + 1].get_object()
    old = specification["/EF"].raw_get("/F")
    new = StreamObject(stream_data=attached, dict_data={k: v for k, v in old.get_object().items() if k == "/Type"})
    specification["/EF"]["/F"] = writer.add_object(new)
    writer.update_container(specification["/EF"])
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def rewritten_with_attachment(content: bytes, attached: bytes) -> bytes:
    """The whole file written anew with other data behind it: the signature's byte ranges no longer fit."""
    with pikepdf.open(BytesIO(content)) as document:
        document.attachments[record_name(list(document.attachments))].get_file().obj.write(attached)
        out = BytesIO()
        document.save(out)
    return out.getvalue()


def pdfsig(content: bytes, folder: Path, authority: Authority | None = None) -> str:
    """What `pdfsig` prints; with an authority, after that was put among those trusted. Its exit code says nothing."""
    store = folder / "trust"
    if not store.exists():
        store.mkdir(parents=True)
        subprocess.run(["certutil", "-N", "-d", f"sql:{store}", "--empty-password"], check=True, capture_output=True)
    if authority:
        pem = folder / "authority.pem"
        pem.write_bytes(authority.pem)
        command = ["certutil", "-A", "-d", f"sql:{store}", "-n", "authority", "-t", "C,C,C", "-i", str(pem)]
        subprocess.run(command, check=True, capture_output=True)
    file = folder / "paper.pdf"
    file.write_bytes(content)
    done = subprocess.run(
        ["pdfsig", "-nssdir", str(store), str(file)], capture_output=True, text=True, check=False, timeout=60
    )
    return done.stdout + done.stderr
