"""Certificates: a handshake by Python's own TLS library, and what the authority may not vouch for."""

import socket
import ssl
import stat
import sys
import threading
from datetime import UTC, datetime, timedelta

import pytest

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
