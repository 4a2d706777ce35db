"""A Chromium profile that trusts one more certificate authority, as after a person installed it.

Chromium on Linux reads the NSS database of the person's home folder; libnss3 comes with it. What is called here is
documented in NSS's public headers (nss.h, pk11pub.h, certdb.h, cert.h); "C" is NSS's mark of an authority trusted to
name servers (certutil's manual, -t).
"""

import ctypes

FOR_SERVERS = b"C,,"


class _Trust(ctypes.Structure):
    _fields_ = [(use, ctypes.c_uint) for use in ("servers", "mail", "code")]


def install_authority(home, der):
    """Make a home folder's database hold an authority (DER) as trusted; what NSS refuses is an error here."""
    folder = home / ".pki" / "nssdb"
    folder.mkdir(parents=True)
    nss, smime = ctypes.CDLL("libnss3.so"), ctypes.CDLL("libsmime3.so")
    for gives_pointer in (nss.PK11_GetInternalKeySlot, nss.CERT_GetDefaultCertDB, smime.CERT_DecodeCertFromPackage):
        gives_pointer.restype = ctypes.c_void_p
    _check(nss.NSS_InitReadWrite(f"sql:{folder}".encode()), "the database could not be made")
    slot = ctypes.c_void_p(nss.PK11_GetInternalKeySlot())
    certificate = ctypes.c_void_p(smime.CERT_DecodeCertFromPackage(der, len(der)))
    try:
        _check(certificate.value is None, "this is no certificate")
        _check(nss.PK11_InitPin(slot, None, b""), "the database takes no empty password")
        _check(nss.PK11_ImportCert(slot, certificate, ctypes.c_ulong(0), b"shop", 0), "it could not be put in")
        trust = ctypes.byref(_Trust())
        _check(nss.CERT_DecodeTrustString(trust, FOR_SERVERS), "the mark of trust was not read")
        database = ctypes.c_void_p(nss.CERT_GetDefaultCertDB())
        _check(nss.CERT_ChangeCertTrust(database, certificate, trust), "it could not be trusted")
    finally:
        nss.CERT_DestroyCertificate(certificate)
        nss.PK11_FreeSlot(slot)
        _check(nss.NSS_Shutdown(), "the database could not be closed")


def _check(failed, or_else):
    if failed:
        raise AssertionError(f"NSS: {or_else}")
