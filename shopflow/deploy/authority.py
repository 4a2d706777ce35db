"""A certificate authority of the shop's own, and the server's certificate that it issues.

Plain functions over keys, certificates and a given time; lan.py keeps them in files. Profile: RFC 5280. The authority
is bound by name constraints to names and addresses that no one on the public internet can have, and to this machine's
own: who steals its key cannot pose as a bank to the tablets that trust it.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from shopflow.deploy.addresses import LOCAL_NETWORKS, is_address

AUTHORITY_LASTS = timedelta(days=3650)
CERTIFICATE_LASTS = timedelta(days=90)
"""Devices refuse server certificates of more than 397 days (CA/Browser Forum, baseline requirements, 6.3.2)."""
RENEWED_BEFORE = timedelta(days=30)
CLOCKS_MAY_BE_OFF = timedelta(days=1)

LOCAL_NAMES = ("localhost", "local", "lan", "internal", "home.arpa")
"""RFC 6761, RFC 6762, RFC 8375, ICANN's reservation of .internal; .lan is common practice, no source."""

Network = ipaddress.IPv4Network | ipaddress.IPv6Network


@dataclass(frozen=True)
class Pair:
    """A private key and the certificate of its public half."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def key_pem(self) -> bytes:
        return self.key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )

    @property
    def certificate_pem(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.PEM)


def make_authority(names: list[str], *, now: datetime) -> Pair:
    """A new authority that may vouch for local names and addresses, and for the names given besides."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _name(f"Shop's own network {now:%Y-%m-%d}")
    builder = (
        _builder(subject, subject, key, now, now + AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(signs_certificates=True), critical=True)
        .add_extension(_constraints(names), critical=True)
    )
    return Pair(key, builder.sign(key, hashes.SHA256()))


def issue(authority: Pair, names: list[str], *, now: datetime) -> Pair:
    """A server's certificate for these names and addresses, with a key of its own."""
    key = ec.generate_private_key(ec.SECP256R1())
    ends = min(now + CERTIFICATE_LASTS, authority.certificate.not_valid_after_utc)
    issuer = authority.certificate
    builder = (
        _builder(_name("shopflow"), issuer.subject, key, now, ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False)
    )
    return Pair(key, builder.sign(authority.key, hashes.SHA256()))


def why_due(certificate: x509.Certificate, authority: x509.Certificate, names: list[str], *, now: datetime) -> str:
    """Why a new server's certificate is wanted; empty while the one at hand will do.

    A name that the certificate says and nobody wants any more is no reason: networks come and go in a day.
    """
    missing = [name for name in names if name not in names_in(certificate)]
    if missing:
        return f"this machine has a new name or address: {', '.join(missing)}"
    if not certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - RENEWED_BEFORE:
        return f"it holds until {certificate.not_valid_after_utc:%Y-%m-%d}"
    try:
        certificate.verify_directly_issued_by(authority)
    except Exception as error:  # one of several, by what does not fit; each is the same reason here
        return f"another authority made it ({type(error).__name__})"
    return ""


def names_in(certificate: x509.Certificate) -> list[str]:
    said = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [*said.get_values_for_type(x509.DNSName), *map(str, said.get_values_for_type(x509.IPAddress))]


def may_vouch_for(authority: x509.Certificate, name: str) -> bool:
    """Whether the authority's own constraints let it name this host; devices refuse what goes beyond them."""
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    if is_address(name):
        address = ipaddress.ip_address(name)
        networks = [known.value for known in permitted if isinstance(known, x509.IPAddress)]
        return any(address in network for network in networks)  # type: ignore[operator]
    return _is_within(name, tuple(known.value for known in permitted if isinstance(known, x509.DNSName)))


def fingerprint_lines(certificate: x509.Certificate) -> list[str]:
    """SHA-256 over the DER form, in pairs as devices show it, eight a line so that two screens can be compared."""
    pairs = certificate.fingerprint(hashes.SHA256()).hex(":").upper().split(":")
    return [":".join(pairs[start : start + 8]) for start in range(0, len(pairs), 8)]


def _is_within(name: str, trees: tuple[str, ...]) -> bool:
    return any(name == tree or name.endswith(f".{tree}") for tree in trees)


def _name(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def _general(name: str) -> x509.GeneralName:
    return x509.IPAddress(ipaddress.ip_address(name)) if is_address(name) else x509.DNSName(name)


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, ends: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCKS_MAY_BE_OFF)
        .not_valid_after(ends)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _constraints(names: list[str]) -> x509.NameConstraints:
    """Everything local, and of the names and addresses given those that are not."""
    own_names = [name for name in names if not is_address(name) and not _is_within(name, LOCAL_NAMES)]
    own_addresses = [ipaddress.ip_network(name) for name in names if is_address(name)]
    beyond = [own for own in own_addresses if not any(_holds(network, own) for network in LOCAL_NETWORKS)]
    permitted: list[x509.GeneralName] = [x509.DNSName(name) for name in (*LOCAL_NAMES, *own_names)]
    permitted += [x509.IPAddress(network) for network in (*LOCAL_NETWORKS, *beyond)]
    return x509.NameConstraints(permitted, None)


def _holds(network: Network, own: Network) -> bool:
    return own.network_address in network


def _key_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=signs_certificates, crl_sign=signs_certificates,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
