"""Certificates for https inside the salon: an authority of the salon's own, and one for this machine that it signs.

A phone that trusts the salon's authority sees no warning. The authority may only speak for private addresses and for
names that end in `.local` (RFC 5280, 4.2.1.10), so a stolen one opens no bank.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from estimator.errors import OutputError

AUTHORITY_DAYS = 3650
LEAF_DAYS = 397  # the longest that browsers take (CA/Browser Forum's limit of 398 days, from memory)
RENEW_DAYS = 30
# RFC 1918, RFC 6598's shared space, link-local and this machine; RFC 4193 and RFC 4291 for IPv6.
PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8")
PRIVATE_6 = ("fc00::/7", "fe80::/10", "::1/128")
BACKDATED = timedelta(hours=26)  # a phone whose clock runs late, in whatever time zone


@dataclass(frozen=True)
class Signed:
    """A certificate and its key, both PEM."""

    certificate: bytes
    key: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, as phones show it."""
        digest = x509.load_pem_x509_certificate(self.certificate).fingerprint(hashes.SHA256())
        return digest.hex(":").upper()


@dataclass(frozen=True)
class ServerFiles:
    """Where the server finds its certificate and key. authority : What a phone is to trust, PEM."""

    certificate: Path
    key: Path
    authority: bytes
    fingerprint: str


def make_authority(now: datetime) -> Signed:
    """A new authority for one salon, good for ten years."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Tressmeter, this salon alone")])
    networks = [x509.IPAddress(ip_network(text)) for text in (*PRIVATE, *PRIVATE_6)]
    certificate = (
        _begun(name, name, key, now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(
            x509.NameConstraints([*networks, x509.DNSName("local"), x509.DNSName("localhost")], None), critical=True
        )
        .add_extension(_usage(signs_others=True), critical=True)
        # Constraints on names leave mail and programs open; the purpose of all that it signs does not.
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Signed(certificate.public_bytes(serialization.Encoding.PEM), _pem(key))


def make_leaf(authority: Signed, hosts: Sequence[str], now: datetime) -> Signed:
    """A certificate for this machine under these names and addresses, signed by the salon's authority."""
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = x509.load_pem_x509_certificate(authority.certificate)
    issuer_key = serialization.load_pem_private_key(authority.key, None)
    if not isinstance(issuer_key, ec.EllipticCurvePrivateKey):
        raise OutputError(
            "The salon's certificate authority has a key of another kind. Take its folder away and retry."
        )
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Tressmeter on this machine")])
    certificate = (
        _begun(name, issuer.subject, key, now, LEAF_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([_general_name(host) for host in hosts]), critical=False)
        .add_extension(_usage(signs_others=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False)
        .sign(issuer_key, hashes.SHA256())
    )
    return Signed(certificate.public_bytes(serialization.Encoding.PEM), _pem(key))


def serves(leaf: bytes, hosts: Sequence[str], now: datetime) -> bool:
    """Whether this certificate still stands for all these names and addresses, and will for a month."""
    certificate = x509.load_pem_x509_certificate(leaf)
    named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    stands = certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - timedelta(days=RENEW_DAYS)
    return stands and {_general_name(host) for host in hosts} <= set(named)


def server_files(folder: Path, hosts: Sequence[str], now: datetime | None = None) -> ServerFiles:
    """The certificate of this machine for these hosts, made where it is missing, too old or for other hosts.

    folder : Kept to this user alone. Raises OutputError where it can't be written.
    """
    moment = now or datetime.now(UTC)
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        authority = _kept(folder, "authority") or _keep(folder, "authority", make_authority(moment))
        leaf = _kept(folder, "machine")
        if leaf is None or not serves(leaf.certificate, hosts, moment):
            leaf = _keep(folder, "machine", make_leaf(authority, hosts, moment))
    except (OSError, ValueError) as problem:
        raise OutputError(
            f"The certificate in {folder} can't be read or written. Check who may use the folder; where its files are "
            "damaged, take it away: new ones are made, and the phones are asked to trust them."
        ) from problem
    return ServerFiles(folder / "machine.crt", folder / "machine.key", authority.certificate, authority.fingerprint)


def _kept(folder: Path, name: str) -> Signed | None:
    certificate, key = folder / f"{name}.crt", folder / f"{name}.key"
    if not (certificate.exists() and key.exists()):
        return None
    return Signed(certificate.read_bytes(), key.read_bytes())


def _keep(folder: Path, name: str, signed: Signed) -> Signed:
    key = folder / f"{name}.key"
    key.touch(mode=0o600)
    key.chmod(0o600)
    key.write_bytes(signed.key)
    (folder / f"{name}.crt").write_bytes(signed.certificate)
    return signed


def _begun(
    name: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now - BACKDATED + timedelta(days=days))
    )


def _general_name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _usage(*, signs_others: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_others,
        key_cert_sign=signs_others,
        crl_sign=signs_others,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
