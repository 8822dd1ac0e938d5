"""The command `letters`, and the bytes that `digest --raw` shows."""

from __future__ import annotations

import email
import email.policy

import pytest

from tests.cli.conftest import Run


def test_day_hour_zone_and_quiet_hours_can_be_chosen_and_are_shown(run: Run) -> None:
    before = run("letters", "Teo", "--json").data
    words = ("--day", "Friday", "--hour", "18", "--zone", "Pacific/Auckland", "--quiet", "22-6")
    told = run("letters", "teo", *words).out.strip()
    assert told == "Teo Lindqvist: Fridays at 18:00, Pacific/Auckland, quiet from 22 to 6."
    after = run("letters", "Teo", "--json").data
    chosen = {"day": "friday", "hour": 18, "zone": "Pacific/Auckland", "quiet": [22, 6], "language": None}
    assert after == {"person": "teo", **chosen}
    assert after != before
    assert run("letters", "Teo", "--hour", "7", "--json").data == {**after, "hour": 7}, "the rest stays"
    never = run("letters", "Teo", "--day", "never", "--quiet", "off", "--json").data
    assert never == {**after, "day": "never", "hour": 7, "quiet": None}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--day", "someday"), "weekday"),
        (("--hour", "24"), "hour of the day"),
        (("--hour", "7.5"), "hour of the day"),
        (("--hour", "\N{ARABIC-INDIC DIGIT SEVEN}"), "hour of the day"),
        (("--zone", "Atlantis/Deep"), "time zone"),
        (("--zone", "../../etc/passwd"), "time zone"),
        (("--quiet", "21"), "span of hours"),
        (("--quiet", "21-24"), "hour of the day"),
    ],
)
def test_what_cannot_be_changes_nothing_and_says_what_to_write(run: Run, words: tuple[str, ...], told: str) -> None:
    before = run("letters", "Teo", "--json").data
    assert told in run("letters", "Teo", "--day", "sunday", *words).sentence
    assert run("letters", "Teo", "--json").data == before


def test_the_bytes_of_a_letter_are_shown_as_they_go_out(run: Run) -> None:
    shown = run("digest", "Teo", "--raw").raw
    assert shown.endswith(b"--\r\n")
    message = email.message_from_bytes(shown, policy=email.policy.default)
    assert message["X-Idempotency-Key"]
    assert [part.get_content_type() for part in message.iter_parts()] == ["text/plain", "text/html"]
    for words in ((), ("Teo", "--json"), ("Teo", "--html"), ("Teo", "--send")):
        assert "one person" in run("digest", "--raw", *words).sentence
