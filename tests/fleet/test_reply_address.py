"""An address that answers go to is made from a pattern, and its key is found again wherever the address stands."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.chance import in_small_letters
from fleetcare.errors import BadInput
from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.mailer.message import checked_address

PATTERNS = ("readings+{key}@garage.example", "{key}@readings.garage.example", "r.{key}-x@garage.example")


@given(
    st.sampled_from(PATTERNS), st.text(), st.sampled_from(("", " ", "<", '"Garage" <', "a@b, ", "x@y;")), st.booleans()
)
def test_a_key_is_found_again_in_any_header_and_any_case(
    pattern: str, secret: str, before: str, capitals: bool
) -> None:
    addresses, key = ReplyAddresses(pattern), in_small_letters(secret)
    address = addresses.address(key)
    assert checked_address(address) == address
    header = f"{before}{address.upper() if capitals else address}>"
    assert addresses.key_in(header) == key


@given(st.text())
def test_no_key_is_found_where_none_is(text: str) -> None:
    for pattern in PATTERNS:
        assert ReplyAddresses(pattern).key_in(text) == ""


def test_a_key_for_addresses_leads_to_no_other_key() -> None:
    """160 bits in small letters, the same for the same secret. OWASP ASVS 5.0, 7.2.3 asks for 128 and more."""
    assert in_small_letters("k3y") == in_small_letters("k3y") != in_small_letters("k3z")
    assert len(in_small_letters("k3y")) * 5 == 160


@pytest.mark.parametrize(
    "pattern",
    [
        "readings@garage.example",
        "{key}",
        "readings@{key}.garage.example",
        "a b{key}@garage.example",
        ".{key}@garage.example",
        "x..{key}@garage.example",
        "{key}@",
        f"{'x' * 33}{{key}}@garage.example",
        "x\r\n{key}@garage.example",
    ],
)
def test_a_pattern_that_makes_no_addresses_is_refused(pattern: str) -> None:
    with pytest.raises(BadInput) as caught:
        ReplyAddresses(pattern)
    assert caught.value.remedy
