"""The shop's certificate authority and the server's certificate, by a given clock and by OpenSSL's judgement."""

import ipaddress
import ssl
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from shopflow.deploy import addresses, authority
from shopflow.deploy.lan import Lan
from shopflow.deploy.refusal import Refused

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
NAMES = ["localhost", "127.0.0.1", "mill-office", "mill-office.local", "192.168.7.20"]


@pytest.fixture(scope="module")
def shop():
    return authority.make_authority(NAMES, now=NOW)


@pytest.fixture(scope="module")
def server(shop):
    return authority.issue(shop, NAMES, now=NOW).certificate


def judged(shop, certificate, name, *, at=NOW):
    """Whether an independent verifier (the one of cryptography, RFC 5280 and the web's profile) takes the server."""
    is_address = addresses.is_address(name)
    subject = x509.IPAddress(ipaddress.ip_address(name)) if is_address else x509.DNSName(name)
    verifier = PolicyBuilder().store(Store([shop.certificate])).time(at).build_server_verifier(subject)
    try:
        verifier.verify(certificate, [])
    except VerificationError:
        return False
    return True


@pytest.mark.parametrize("name", NAMES)
def test_each_name_and_address_of_the_machine_is_vouched_for(shop, server, name):
    assert judged(shop, server, name)


def test_another_name_is_not_vouched_for(shop, server):
    assert not judged(shop, server, "192.168.7.21")


def test_the_certificate_lasts_no_longer_than_devices_accept(server):
    lasts = server.not_valid_after_utc - server.not_valid_before_utc
    assert lasts <= timedelta(days=397)  # CA/Browser Forum, baseline requirements, 6.3.2 (from memory)


def test_the_authority_can_sign_servers_and_no_further_authorities(shop):
    extension = shop.certificate.extensions.get_extension_for_class(x509.BasicConstraints)
    assert (extension.critical, extension.value.ca, extension.value.path_length) == (True, True, 0)


@pytest.mark.parametrize("name", ["bank.example", "203.0.113.9", "evil-local", "local.example"])
def test_a_stolen_authority_cannot_pose_as_a_host_of_the_internet(shop, name):
    assert not authority.may_vouch_for(shop.certificate, name)
    assert not judged(shop, authority.issue(shop, [name], now=NOW).certificate, name)


def test_a_name_of_the_shops_own_can_be_vouched_for_when_the_authority_is_made_with_it():
    own = authority.make_authority(["flow.shop.example"], now=NOW)
    assert judged(own, authority.issue(own, ["flow.shop.example"], now=NOW).certificate, "flow.shop.example")


def test_an_address_asked_for_by_a_person_can_be_vouched_for_wherever_it_lies():
    own = authority.make_authority(["203.0.113.9"], now=NOW)  # TEST-NET-3 (RFC 5737)
    assert judged(own, authority.issue(own, ["203.0.113.9"], now=NOW).certificate, "203.0.113.9")


def test_a_fresh_certificate_is_left_as_it_is(shop, server):
    assert authority.why_due(server, shop.certificate, NAMES, now=NOW + timedelta(days=59)) == ""


@pytest.mark.parametrize("days", [60, 89, 400, -2], ids=["a month before", "a day before", "long after", "clock back"])
def test_a_certificate_is_renewed_before_it_ends_and_where_the_clock_was_wrong(shop, server, days):
    assert "it holds until" in authority.why_due(server, shop.certificate, NAMES, now=NOW + timedelta(days=days))


def test_a_new_address_asks_for_a_new_certificate(shop, server):
    assert "10.0.0.9" in authority.why_due(server, shop.certificate, [*NAMES, "10.0.0.9"], now=NOW)


def test_an_address_that_went_away_asks_for_nothing(shop, server):
    assert authority.why_due(server, shop.certificate, NAMES[:2], now=NOW) == ""


def test_a_certificate_of_another_authority_is_replaced(server):
    other = authority.make_authority(NAMES, now=NOW)
    assert "another authority" in authority.why_due(server, other.certificate, NAMES, now=NOW)


def test_a_certificate_never_outlasts_its_authority(shop):
    late = shop.certificate.not_valid_after_utc - timedelta(days=5)
    assert authority.issue(shop, NAMES, now=late).certificate.not_valid_after_utc == late + timedelta(days=5)


@pytest.fixture
def lan(tmp_path):
    return Lan(tmp_path / "lan", "127.0.0.1")


def test_the_authority_is_kept_from_start_to_start(lan):
    again = Lan(lan.folder, lan.bind)
    lan.renew()
    assert (again.renew(), again.fingerprint) == ("", lan.fingerprint)


def test_the_server_is_renewed_under_the_same_authority(lan):
    lan.renew()
    before = lan.server_file.read_bytes()
    assert "holds until" in Lan(lan.folder, lan.bind).renew(now=datetime.now(UTC) + timedelta(days=70))
    assert lan.server_file.read_bytes() != before


def test_keys_are_for_their_owner_only(lan):
    lan.renew()
    assert {path.stat().st_mode & 0o777 for path in lan.folder.iterdir()} == {0o600}
    assert lan.folder.stat().st_mode & 0o777 == 0o700


def test_a_name_typed_after_the_authority_was_made_is_refused_with_the_way_out(lan):
    lan.renew()
    with pytest.raises(Refused, match="may not vouch for it.*Remove the folder lan"):
        Lan(lan.folder, lan.bind, "https://flow.shop.example:8443").renew()


def test_a_typed_address_wins_and_stands_in_the_certificate(tmp_path):
    lan = Lan(tmp_path, "127.0.0.1", "https://flow.shop.example:9443/")
    lan.renew()
    assert (lan.address(9443), lan.wanted_port) == ("https://flow.shop.example:9443", "9443")
    assert "flow.shop.example" in lan.certified_names()


@pytest.mark.parametrize("typed", ["http://shop.local:8443", "shop.local", "https://", "https://sh op:8443"])
def test_an_address_that_is_no_https_address_is_refused_in_words(tmp_path, typed):
    with pytest.raises(Refused, match="write it like https://shop.local:8443"):
        Lan(tmp_path, "127.0.0.1", typed).names()


def test_a_damaged_key_is_named_and_not_replaced(lan):
    lan.renew()
    key = lan.folder / "authority-key.pem"
    key.write_bytes(key.read_bytes()[:40])
    with pytest.raises(Refused, match="authority-key.pem cannot be read"):
        Lan(lan.folder, lan.bind).renew()
    assert len(key.read_bytes()) == 40


def test_openssl_loads_the_pair_as_the_web_server_does(lan):
    lan.renew()
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(lan.server_file)


def test_addresses_of_containers_and_of_this_machine_alone_are_no_addresses_of_the_network():
    assert not any(ipaddress.ip_address(address).is_loopback for address in addresses.of_the_network())
