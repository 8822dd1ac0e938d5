"""Which addresses may be called: every way to spell a private one is closed, and only what was opened is open."""

from __future__ import annotations

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_in.addresses import Opening, is_public, may_call

TEN = str(ipaddress.IPv4Address(10 * 2**24 + 7))
HOME = str(ipaddress.IPv4Address(0xC0A80007))
OFFICE = str(ipaddress.IPv4Address(0xAC100007))
"""One address of each private network of RFC 1918: 10/8, 192.168/16 and 172.16/12."""

CLOSED = (
    *("127.0.0.1", "127.255.255.254", "0.0.0.0", "0.1.2.3", "169.254.169.254", "100.64.0.1", TEN, HOME, OFFICE),
    *("192.0.0.8", "192.0.2.1", "192.88.99.1", "198.18.0.1", "198.51.100.1", "203.0.113.1", "224.0.0.1", "240.0.0.1"),
    *("255.255.255.255", "::", "::1", "::7f00:1", "::ffff:127.0.0.1", "64:ff9b::7f00:1", "64:ff9b:1::7f00:1"),
    *("2002:7f00:1::", "2001::1", "2001:db8::1", "100::1", "fe80::1", "fec0::1", "fc00::1", "fd12::1", "ff02::1"),
    *("3fff::1", "5f00::1", f"::ffff:{TEN}", f"64:ff9b::{HOME}", "fe80::1%eth0"),
)
OPEN = ("1.1.1.1", "93.184.216.34", "2606:4700:4700::1111", "::ffff:1.1.1.1", "64:ff9b::1.1.1.1", "2002:101:101::1")


@pytest.mark.parametrize("address", CLOSED)
def test_what_is_no_public_machine_is_closed(address: str) -> None:
    assert not may_call(address, 443)
    assert not may_call(address, 80, ports=[8443])


@pytest.mark.parametrize("address", OPEN)
def test_public_machines_are_open_at_the_usual_ports_and_those_that_were_added(address: str) -> None:
    assert [may_call(address, port, ports=[8443]) for port in (80, 443, 8443, 22, 25, 8080)] == [True] * 3 + [False] * 3


@given(st.ip_addresses(v=4))
def test_an_address_wrapped_in_another_is_judged_like_itself(address: ipaddress.IPv4Address) -> None:
    wrapped = (
        f"::ffff:{address}",
        f"64:ff9b::{address}",
        str(ipaddress.IPv6Address((0x2002 << 112) | (int(address) << 80))),
    )
    for spelling in wrapped:
        assert is_public(ipaddress.ip_address(spelling)) <= is_public(address), spelling


@given(st.ip_addresses())
def test_nothing_is_open_that_the_library_calls_private(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> None:
    if is_public(address):
        assert address.is_global
        assert not any((address.is_private, address.is_loopback, address.is_multicast, address.is_link_local))


@pytest.mark.parametrize(
    "text", ["", "localhost", "127.1", "2130706433", "0x7f000001", "0177.0.0.1", "1.1.1", "::g", "1.1.1.1 "]
)
def test_only_numeric_addresses_as_a_resolver_gives_them_are_judged(text: str) -> None:
    assert not may_call(text, 443, openings=[Opening.of("127.0.0.0/8"), Opening.of("0.0.0.0/0")])


def test_an_opening_opens_its_network_at_its_port_and_nothing_else() -> None:
    openings = [Opening.of("127.0.0.1", 8000), Opening.of("fd00::/8")]
    calls = [("127.0.0.1", 8000), ("::ffff:127.0.0.1", 8000), ("fd12::1", 22), ("127.0.0.1", 8001), ("127.0.0.2", 8000)]
    assert [may_call(*call, openings=openings) for call in calls] == [True, True, True, False, False]
    assert not may_call("64:ff9b::7f00:1", 8000, openings=openings)


def test_what_somebody_vouched_for_may_be_private_but_no_crowd() -> None:
    calls = ["127.0.0.1", TEN, "::1", "fd12::1", "169.254.169.254", "224.0.0.1", "0.0.0.0", "::", "ff02::1"]
    assert [may_call(each, 8000, vouched_for=True) for each in calls] == [True] * 5 + [False] * 4
