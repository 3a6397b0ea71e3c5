"""Sign a report's PDF with the certificate of the service, where the service has one.

The signature shows that nobody changed the pages since. Who answers for the report is what the
record says; the certificate is the service's, not the reviewer's.
"""

from datetime import datetime

from ebbline.core.errors import ReportError

_ARCHIVE = "a PKCS#12 archive with certificate and private key, and its password"


def sign_pdf(
    pages: bytes, *, certificate: bytes, password: str, reason: str, name: str, at: datetime
) -> bytes:
    """Return the pages with a signature inside, PAdES baseline B-B (ETSI EN 319 142-1).

    Nothing is added that can be seen on a page. Whoever keeps a digest keeps that of what is
    returned. It runs an event loop of its own, so it must not be called from within one.

    Parameters
    ----------
    pages : bytes
        The PDF.
    certificate : bytes
        Certificate and private key of the service, as a PKCS#12 archive.
    password : str
        Password of that archive.
    reason : str
        Why it is signed; may be empty.
    name : str
        Who signs.
    at : datetime
        When, with its zone.

    Returns
    -------
    bytes
        What was given, byte for byte, and an update after it.

    Raises
    ------
    ReportError
        If pyHanko is not installed, or the archive cannot be opened, or the certificate is not
        valid at that moment, or the moment has no zone.
    """
    if at.tzinfo is None:
        raise _refused("a moment without a zone", "a moment with its zone", at.isoformat())
    try:
        # An optional library, needed by nobody who has no certificate.
        from ebbline.adapters.pdf import pades  # noqa: PLC0415
    except ImportError as error:
        raise _refused(
            "pyHanko is not installed", "ebbline installed with its extra, signing", str(error)
        ) from error
    try:
        signer = pades.open_certificate(certificate, password)
    except ValueError as error:
        raise _refused("the certificate cannot be opened", _ARCHIVE, str(error)) from error
    if signer is None:
        raise _refused("the certificate cannot be used", _ARCHIVE, "an archive without both")
    first, last = pades.validity(signer)
    if not first <= at <= last:
        raise _refused(
            "the certificate is not valid then",
            f"from {first.isoformat()} to {last.isoformat()}",
            at.isoformat(),
        )
    return pades.signed(pages, signer, reason=reason, name=name, at=at)


def _refused(wrong: str, allowed: str, came: str) -> ReportError:
    return ReportError(f"the report cannot be signed: {wrong}; allowed: {allowed}; came: {came}")
