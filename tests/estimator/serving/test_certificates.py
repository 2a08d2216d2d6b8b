"""Certificates: a handshake by Python's own TLS library, and what the authority may not vouch for."""

import shutil
import socket
import ssl
import stat
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from estimator.access.certificates import LEAF_DAYS, make_authority, make_leaf, server_files, serves
from estimator.errors import BadInputError, OutputError
from estimator.serving.names import hosts_of, private_address

NOW = datetime.now(UTC)


def handshake(files, name: str, authority: bytes) -> str:
    """The protocol that both sides agreed on. Raises ssl.SSLError where the client does not trust."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(files.certificate, files.key)
    client = ssl.create_default_context(cadata=authority.decode())
    ours, theirs = socket.socketpair()

    def answer() -> None:
        try:
            server.wrap_socket(ours, server_side=True).close()
        except OSError:
            ours.close()

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        with client.wrap_socket(theirs, server_hostname=name) as connection:
            return connection.version()
    finally:
        theirs.close()
        thread.join()


def test_a_phone_that_trusts_the_salon_sees_no_warning(tmp_path):
    files = server_files(tmp_path / "network", ("192.168.1.20", "salon.local"))
    for name in ("192.168.1.20", "salon.local"):
        assert handshake(files, name, files.authority) in ("TLSv1.2", "TLSv1.3")


def test_who_does_not_know_the_salon_is_warned(tmp_path):
    files = server_files(tmp_path / "network", ("192.168.1.20",))
    with pytest.raises(ssl.SSLError):
        handshake(files, "192.168.1.20", make_authority(NOW).certificate)
    with pytest.raises(ssl.SSLError):
        handshake(files, "192.168.1.99", files.authority)


@pytest.mark.parametrize("host", ["bank.example", "8.8.8.8", "localhost.evil.example"])
def test_a_stolen_authority_vouches_for_no_address_outside(tmp_path, host):
    authority = make_authority(NOW)
    leaf = make_leaf(authority, (host,), NOW)
    folder = tmp_path / "stolen"
    folder.mkdir()
    (folder / "c.crt").write_bytes(leaf.certificate)
    (folder / "c.key").write_bytes(leaf.key)

    class Stolen:
        certificate, key = folder / "c.crt", folder / "c.key"

    with pytest.raises(ssl.SSLError):
        handshake(Stolen, host, authority.certificate)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="NO OPENSSL HERE TO ASK")
@pytest.mark.parametrize(("purpose", "stands"), [("sslserver", True), ("smimesign", False), ("sslclient", False)])
def test_a_stolen_authority_signs_no_mail_and_lets_nobody_in_as_a_client(tmp_path, purpose, stands):
    # openssl-verification-options(1): -purpose asks the whole chain, each authority's own purposes too.
    authority = make_authority(NOW)
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = x509.load_pem_x509_certificate(authority.certificate)
    mail = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(issuer.subject)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(NOW)
        .not_valid_after(NOW + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.RFC822Name("owner@bank.example")]), critical=True)
        .sign(serialization.load_pem_private_key(authority.key, None), hashes.SHA256())
    )
    (tmp_path / "authority.crt").write_bytes(authority.certificate)
    (tmp_path / "leaf.crt").write_bytes(mail.public_bytes(serialization.Encoding.PEM))
    asked = ["openssl", "verify", "-purpose", purpose, "-CAfile", "authority.crt", "leaf.crt"]
    told = subprocess.run(asked, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (told.returncode == 0) is stands, told.stdout + told.stderr


def test_a_certificate_is_made_again_for_another_address_or_when_it_is_old(tmp_path):
    folder = tmp_path / "network"
    first = server_files(folder, ("192.168.1.20",))
    leaf = first.certificate.read_bytes()
    assert server_files(folder, ("192.168.1.20",)).certificate.read_bytes() == leaf
    moved = server_files(folder, ("192.168.1.21",))
    assert moved.certificate.read_bytes() != leaf
    assert moved.authority == first.authority  # phones go on trusting
    leaf = moved.certificate.read_bytes()
    assert not serves(leaf, ("192.168.1.21",), NOW + timedelta(days=LEAF_DAYS - 20))
    later = server_files(folder, ("192.168.1.21",), NOW + timedelta(days=LEAF_DAYS - 20))
    assert later.certificate.read_bytes() != leaf


@pytest.mark.skipif(sys.platform == "win32", reason="LEAVES OF FILES ARE TOLD OTHERWISE ON WINDOWS")
def test_keys_are_for_this_user_alone(tmp_path):
    folder = tmp_path / "network"
    server_files(folder, ("192.168.1.20",))
    for name in ("authority.key", "machine.key"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600


def test_a_damaged_certificate_is_told_in_a_sentence(tmp_path):
    folder = tmp_path / "network"
    server_files(folder, ("192.168.1.20",))
    (folder / "machine.crt").write_bytes(b"no certificate")
    with pytest.raises(OutputError, match="take it away"):
        server_files(folder, ("192.168.1.20",))


@pytest.mark.parametrize("address", ["8.8.8.8", "2001:4860:4860::8888", "0.0.0.0", "salon", ""])
def test_the_door_opens_to_no_address_of_the_internet(address):
    with pytest.raises(BadInputError):
        private_address(address)


@pytest.mark.parametrize("address", ["192.168.1.20", "10.1.2.3", "172.16.9.9", "127.0.0.1", "fd00::2"])
def test_the_door_opens_to_private_ones(address):
    # RFC 1918 and RFC 4193
    assert private_address(address) == address
    assert address in hosts_of(address)
