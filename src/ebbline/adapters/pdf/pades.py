"""A signature inside a PDF as PAdES baseline B-B asks (ETSI EN 319 142-1), made by pyHanko.

Only `ebbline.adapters.pdf.sign` imports this module, as pyHanko need not be installed.
"""

from datetime import datetime
from io import BytesIO

from cryptography.hazmat.primitives.serialization.pkcs12 import load_key_and_certificates
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.writer import BasePdfFileWriter
from pyhanko.sign.fields import InvisSigSettings, SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner, SimpleSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession

FIELD = "Signature"

# PDF/A asks that it may be printed, PDF/UA that what has no tag lies outside the page.
_UNSEEN = InvisSigSettings(set_print_flag=True, set_hidden_flag=False, box_out_of_bounds=True)


class _SignerAt(PdfSigner):
    """Signs at a given moment; pyHanko by itself would ask the clock of the computer."""

    at: datetime

    def init_signing_session(
        self, pdf_out: BasePdfFileWriter, existing_fields_only: bool = False
    ) -> PdfSigningSession:
        """Return the session with its moment."""
        session = super().init_signing_session(pdf_out, existing_fields_only=existing_fields_only)
        session.system_time = self.at
        return session


def open_certificate(certificate: bytes, password: str) -> SimpleSigner | None:
    """Return certificate and key of a PKCS#12 archive, None where it holds not both.

    Where the archive cannot be opened at all the library raises ValueError.
    """
    secret = password.encode() or None
    key, shown, _ = load_key_and_certificates(certificate, secret)
    if key is None or shown is None:
        return None
    signer: SimpleSigner = SimpleSigner.load_pkcs12_data(
        certificate, other_certs=set(), passphrase=secret
    )
    return signer


def validity(signer: SimpleSigner) -> tuple[datetime, datetime]:
    """Return from when until when a signer's certificate is valid."""
    shown = signer.signing_cert
    assert shown is not None
    return shown.not_valid_before, shown.not_valid_after


def signed(pages: bytes, signer: SimpleSigner, *, reason: str, name: str, at: datetime) -> bytes:
    """Return the pages with an update appended that holds the signature; nothing is shown of it."""
    told = PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        reason=reason or None,
        name=name,
        subfilter=SigSeedSubFilter.PADES,
    )
    one = _SignerAt(told, signer, new_field_spec=SigFieldSpec(FIELD, invis_sig_settings=_UNSEEN))
    one.at = at
    output = one.sign_pdf(IncrementalPdfFileWriter(BytesIO(pages)))
    assert isinstance(output, BytesIO)
    return output.getvalue()
