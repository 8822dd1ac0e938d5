"""Addresses of calendars: what is taken, and that nothing but the host is ever shown."""

from __future__ import annotations

import pytest

from fleetcare.errors import BadInput
from fleetcare.fleet.calendar_address import calendar_address, host_of, shown_address


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("https://calendar.example/s3cret.ics", "https://calendar.example/s3cret.ics"),
        ("  https://calendar.example/s3cret.ics\n", "https://calendar.example/s3cret.ics"),
        ("webcal://calendar.example/s3cret.ics", "https://calendar.example/s3cret.ics"),
        ("HTTPS://Calendar.Example:8443/A?b=C&d=%20#top", "https://calendar.example:8443/A?b=C&d=%20"),
        ("http://127.0.0.1:8000", "http://127.0.0.1:8000/"),
        ("https://[::1]:8000/x", "https://[::1]:8000/x"),
        ("https://calendar.example?key=1", "https://calendar.example?key=1"),
        ("https://calendar.example/~ines/a@b/(c)/!$,;=*'+", "https://calendar.example/~ines/a@b/(c)/!$,;=*'+"),
    ],
)
def test_an_address_is_kept_as_it_is_asked_for(given: str, kept: str) -> None:
    assert calendar_address(given) == kept


@pytest.mark.parametrize(
    "given",
    [
        *(
            "",
            "calendar.example/x.ics",
            "ftp://h3st.example/x",
            "file:///etc/passwd",
            "javascript:alert(1)",
            "https://",
        ),
        *("https:///x", "https://h3st.example:0/x", "https://h3st.example:99999/x", "https://h3st example/x"),
        *(
            "https://h3st.example/a b",
            "https://h3st.example/\x00",
            "https://h3st.example/é",
            "https://h3st.example/a\nb",
        ),
        *("https://ines:pw@h3st.example/x", "https://ines@h3st.example/x", "https://-h3st.example/x", "https://[::1/x"),
        *("https://h3st.example/<x>", 'https://h3st.example/"', "https://h3st.example\\@evil.example/", "x" * 3000),
        "https://h3st.example/" + "x" * 3000,
    ],
)
def test_what_is_no_address_is_refused_and_never_repeated(given: str) -> None:
    with pytest.raises(BadInput) as refused:
        calendar_address(given)
    assert refused.value.remedy
    assert "h3st" not in str(refused.value)
    assert "pw" not in str(refused.value)


def test_of_an_address_only_the_host_is_shown() -> None:
    address = calendar_address("https://Calendar.Example:8443/s3cret.ics?key=s3cret")
    assert host_of(address) == "calendar.example"
    assert shown_address(address) == "https://calendar.example/…"
    assert host_of("nonsense s3cret") == "its host"
