import hashlib
import io
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pikepdf
import pypdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from pyhanko.keys import load_certs_from_pemder_data
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import PdfSignatureStatus
from pyhanko_certvalidator import ValidationContext

from ebbline.adapters.pdf.report import write_report
from ebbline.adapters.pdf.sign import sign_pdf
from ebbline.core.errors import ReportError
from tests.adapters.pdf import issues

AT = datetime(2026, 11, 24, 14, 2, tzinfo=UTC)
PASSWORD = "low tide"
TOP = Path(__file__).resolve().parents[3]

Signer = tuple[bytes, bytes]


@pytest.fixture(scope="module")
def key() -> rsa.RSAPrivateKey:
    """A key of the invented Harbour Clinic."""
    return rsa.generate_private_key(public_exponent=65537, key_size=2048)


@pytest.fixture(scope="module")
def signer(key: rsa.RSAPrivateKey) -> Signer:
    """Its archive, and its certificate as DER, which it signed itself, valid for a year."""
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Harbour Clinic, invented")])
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=True, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=False, crl_sign=False,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(42)
        .not_valid_before(AT - timedelta(days=180))
        .not_valid_after(AT + timedelta(days=180))
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    archive = pkcs12.serialize_key_and_certificates(
        b"service", key, certificate, None,
        serialization.BestAvailableEncryption(PASSWORD.encode()),
    )  # fmt: skip
    return archive, certificate.public_bytes(serialization.Encoding.DER)


@pytest.fixture(scope="module")
def pages() -> bytes:
    """A report as it is drawn."""
    return write_report(issues.adult(), paper="a4", issue=issues.SIGNED)


def signed(pages: bytes, signer: Signer, *, password: str = PASSWORD, at: datetime = AT) -> bytes:
    """Return the pages signed for a reason by somebody."""
    return sign_pdf(
        pages,
        certificate=signer[0],
        password=password,
        reason="report 42, version 1",
        name="Dr. Nell Harrow",
        at=at,
    )


def status_of(pdf: bytes, signer: Signer) -> PdfSignatureStatus:
    """Return what pyHanko's own validator says of the only signature, trusting its certificate."""
    roots = list(load_certs_from_pemder_data(signer[1]))
    context = ValidationContext(trust_roots=roots, moment=AT, allow_fetching=False)
    (found,) = PdfFileReader(io.BytesIO(pdf)).embedded_signatures
    return validate_pdf_signature(found, context)


def signature_box(pdf: bytes) -> list[float]:
    """Return where the only annotation of the first page lies."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        (widget,) = document.pages[0].Annots
        return [float(side) for side in widget.Rect]


def test_a_validator_trusts_the_signature(pages: bytes, signer: Signer) -> None:
    """It covers all of the file; it is a PAdES one, and says who, why and when."""
    pdf = signed(pages, signer)
    status = status_of(pdf, signer)
    assert (status.intact, status.valid, status.trusted) == (True, True, True)
    assert status.bottom_line
    assert status.coverage is not None
    assert status.coverage.name == "ENTIRE_FILE"
    assert status.md_algorithm == "sha256"
    field = pypdf.PdfReader(io.BytesIO(pdf)).get_fields()
    assert field is not None
    told = field["Signature"]["/V"]
    assert told["/SubFilter"] == "/ETSI.CAdES.detached"
    assert told["/Name"] == "Dr. Nell Harrow"
    assert told["/Reason"] == "report 42, version 1"
    assert told["/M"].startswith("D:20261124140200")


def test_the_pages_stay_as_they_were(pages: bytes, signer: Signer) -> None:
    """The signature is appended, and nothing is drawn; the digest to keep is that of the whole."""
    pdf = signed(pages, signer)
    assert pdf.startswith(pages)
    assert hashlib.sha256(pdf).digest() != hashlib.sha256(pages).digest()
    before, after = (pypdf.PdfReader(io.BytesIO(one)) for one in (pages, pdf))
    assert [p.extract_text() for p in after.pages] == [p.extract_text() for p in before.pages]
    assert [p.get_contents() for p in after.pages] == [p.get_contents() for p in before.pages]
    left, bottom, right, top = signature_box(pdf)
    assert left == right < 0.0
    assert bottom == top < 0.0


def test_one_changed_letter_breaks_it(pages: bytes, signer: Signer) -> None:
    """Any byte that the signature covers."""
    pdf = bytearray(signed(pages, signer))
    pdf[len(pages) // 2] ^= 1
    assert not status_of(bytes(pdf), signer).intact


def test_a_wrong_password_opens_nothing(pages: bytes, signer: Signer) -> None:
    """The message holds neither password."""
    with pytest.raises(
        ReportError,
        match=r"^the report cannot be signed: the certificate cannot be opened; allowed: a PKCS#12 "
        r"archive with certificate and private key, and its password; came: Invalid password",
    ):
        signed(pages, signer, password="high tide")


def test_an_archive_without_a_key_is_refused(pages: bytes, signer: Signer) -> None:
    """A certificate alone signs nothing."""
    alone = x509.load_der_x509_certificate(signer[1])
    archive = pkcs12.serialize_key_and_certificates(
        b"service", None, alone, None, serialization.NoEncryption()
    )
    with pytest.raises(
        ReportError, match=r"the certificate cannot be used; .* came: an archive without both$"
    ):
        signed(pages, (archive, signer[1]), password="")


@pytest.mark.parametrize("days", [-181, 181])
def test_a_certificate_out_of_date_is_refused(pages: bytes, signer: Signer, days: int) -> None:
    """Before its first day and after its last."""
    at = AT + timedelta(days=days)
    with pytest.raises(
        ReportError,
        match=r"^the report cannot be signed: the certificate is not valid then; allowed: from "
        rf"2026-05-28T14:02:00\+00:00 to 2027-05-23T14:02:00\+00:00; came: {at:%Y-%m-%d}",
    ):
        signed(pages, signer, at=at)


def test_a_moment_without_a_zone_is_refused(pages: bytes, signer: Signer) -> None:
    """Nobody could tell when it was."""
    with pytest.raises(ReportError, match=r"a moment without a zone; allowed: .* came: 2026-11-24"):
        signed(pages, signer, at=AT.replace(tzinfo=None))


def test_without_pyhanko_it_says_what_to_install(
    pages: bytes, signer: Signer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is an extra: a service without a certificate does not need it."""
    monkeypatch.delitem(sys.modules, "ebbline.adapters.pdf.pades", raising=False)
    monkeypatch.delattr("ebbline.adapters.pdf.pades", raising=False)
    monkeypatch.setitem(sys.modules, "pyhanko.sign.signers", None)
    with pytest.raises(
        ReportError,
        match=r"^the report cannot be signed: pyHanko is not installed; allowed: ebbline installed "
        r"with its extra, signing; came: ",
    ):
        signed(pages, signer)


def test_a_report_is_drawn_without_it() -> None:
    """The module that signs loads no library until it signs."""
    code = (
        "import sys; import ebbline.adapters.pdf.sign, ebbline.adapters.pdf.report; "
        "sys.exit(any(name.startswith('pyhanko') for name in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, check=False)
    assert done.returncode == 0
