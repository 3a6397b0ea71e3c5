"""What the composition root wires for the record: reports, signed ones with a certificate."""

import io
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pypdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import pkcs12

from ebbline.adapters.pdf.report import write_report
from ebbline.adapters.pdf.sheet import write_sheet
from ebbline.bootstrap import Certificate, draw_sheet, report_drawer
from ebbline.core.errors import ReportError
from tests.adapters.pdf import issues
from tests.core.clinic.test_sheet import a_sheet

AT = issues.SIGNED.at


@pytest.fixture(scope="module")
def certificate() -> Certificate:
    """The certificate of the invented Harbour Clinic, which it signed itself."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Harbour Clinic, invented")])
    shown = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(42)
        .not_valid_before(AT - timedelta(days=180))
        .not_valid_after(AT + timedelta(days=180))
        .sign(key, hashes.SHA256())
    )
    archive = pkcs12.serialize_key_and_certificates(
        b"service", key, shown, None, serialization.BestAvailableEncryption(b"low tide")
    )
    return Certificate(archive, "low tide")


def test_a_report_of_the_record_is_the_one_that_the_adapter_writes() -> None:
    """Where the service has no certificate, to the last byte."""
    draw = report_drawer(paper="a4", certificate=None)
    for issue in (issues.DRAFT, issues.SIGNED):
        due = write_report(issues.adult(), paper="a4", issue=issue)
        assert draw(issues.adult(), issue) == due


def test_the_paper_is_the_one_that_was_asked_for() -> None:
    """US letter is 8.5 by 11 inches, 612 by 792 points."""
    pdf = report_drawer(paper="us-letter", certificate=None)(issues.adult(), issues.SIGNED)
    assert pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox[2:] == [612, 792]


def test_a_signed_report_bears_the_certificate_too(certificate: Certificate) -> None:
    """With its name, its signer and the moment of signing; the pages stay as they are."""
    pages = write_report(issues.adult(), paper="a4", issue=issues.SIGNED)
    pdf = report_drawer(paper="a4", certificate=certificate)(issues.adult(), issues.SIGNED)
    assert pdf.startswith(pages)
    fields = pypdf.PdfReader(io.BytesIO(pdf)).get_fields()
    assert fields is not None
    told = fields["Signature"]["/V"]
    assert told["/Reason"] == f"report {issues.SIGNED.name}"
    assert told["/Name"] == issues.SIGNED.signer
    assert told["/M"].startswith(f"D:{AT:%Y%m%d%H%M%S}")


def test_a_draft_bears_no_certificate(certificate: Certificate) -> None:
    """Nobody has signed it."""
    draw = report_drawer(paper="a4", certificate=certificate)
    due = write_report(issues.adult(), paper="a4", issue=issues.DRAFT)
    assert draw(issues.adult(), issues.DRAFT) == due


def test_a_certificate_that_cannot_be_opened_is_refused() -> None:
    """When something is signed, in the words of the adapter."""
    draw = report_drawer(paper="a4", certificate=Certificate(b"no archive", "low tide"))
    with pytest.raises(ReportError, match=r"^the report cannot be signed: the certificate cannot"):
        draw(issues.adult(), issues.SIGNED)


def test_a_certificate_is_never_shown(certificate: Certificate) -> None:
    """Neither the archive nor its password, as in the traceback of a program."""
    assert repr(certificate) == "Certificate()"


def test_a_sheet_is_the_one_that_the_adapter_writes() -> None:
    """To the last byte."""
    sheet = a_sheet(substrate="fructose", guidance="service", age=8.0)
    at = datetime(2026, 10, 30, tzinfo=UTC)
    assert draw_sheet(sheet, paper="a4", created=at) == write_sheet(sheet, paper="a4", created=at)


def test_nothing_is_loaded_before_the_first_report() -> None:
    """Neither typesetting nor signing, which most commands do without."""
    code = (
        "import sys; from ebbline.bootstrap import report_drawer\n"
        "report_drawer(paper='a4', certificate=None)\n"
        "print(sorted({'typst', 'vl_convert', 'pyhanko'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
