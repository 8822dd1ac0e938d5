"""What follows from a finding: judged by the book, refused without a place, decided otherwise only with a reason."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fleetcare.errors import BadFinding, NotFound
from fleetcare.fleet.component import Component, LineKey, TagFact
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import shipped_config
from fleetcare.work.findings import FindingBook, Follow, FollowKind, LimitKnown, Measure, Worse, measured_grade
from fleetcare.work.found import Found, Judged, Seen, holding, judged, look_of, settled
from fleetcare.work.tag_limits import limit_on_tag

TODAY = date(2026, 4, 14)
AXLE = Component("rear-axle", "rear axle", "Rear axle", facts=(TagFact("backlash", "0.006 to 0.009 in"),))
BRAKES = Component("brakes", "brakes", "Brakes", facts=(TagFact("least pad thickness", "3 mm", "stamped"),))
PADS = Measure("mm", Worse.SMALLER, "least pad thickness", near=Decimal(2), most=Decimal(40))


@pytest.fixture(scope="module")
def book() -> FindingBook:
    """The shipped one."""
    return load_findings(shipped_config() / "findings.toml")


def see(book: FindingBook, seen: Seen, component: Component = AXLE) -> Judged:
    return judged(seen, book, component, mark="AN", on=TODAY, by="teo")


def test_flakes_on_the_magnet_want_another_look_and_chips_stop_the_vehicle(book: FindingBook) -> None:
    flakes = see(book, Seen("rear-axle", "magnet", "flakes"))
    assert flakes.found.words == "Debris on the magnet: slivers or flakes"
    assert flakes.found.follow == Follow(
        FollowKind.LOOK_AGAIN, Decimal(500), DistanceUnit.MI, 28, todo="drain a little, look at the magnet again"
    )
    assert flakes.found.follow.look_by(TODAY) == date(2026, 5, 12)
    chips = see(book, Seen("rear-axle", "magnet", "Chips or pieces")).found
    assert (chips.follow.kind, chips.holds, chips.is_open) == (FollowKind.HOLD, True, True)
    paste = see(book, Seen("rear-axle", "Debris on the magnet", "paste")).found
    assert (paste.follow.kind, paste.is_open) == (FollowKind.NOTHING, False)
    assert holding((flakes.found, chips, paste)) == (chips,)


# Source: US Army TM 10-3930-660-34, para 9-5, and TM 5-3810-306-34, p. 8-42.
@pytest.mark.parametrize(
    ("grade", "says"),
    [
        ("toe", "backlash is too small"),
        ("heel", "backlash is too wide"),
        ("face", "too far from the ring gear"),
        ("flank", "too near the ring gear"),
    ],
)
def test_a_contact_pattern_means_what_the_manuals_say(book: FindingBook, grade: str, says: str) -> None:
    for side in ("drive side", "coast side"):
        given = see(book, Seen("rear-axle", "pattern", grade, side))
        assert says in given.means
        assert "shim" not in given.means, "the same remedy is a thicker shim in one design and a thinner one in another"
        assert given.found.words.startswith(f"Contact pattern, {side}: ")


def test_a_finding_without_a_place_is_refused(book: FindingBook) -> None:
    with pytest.raises(BadFinding, match=r"where is not said\. Say one of: drive side, coast side"):
        see(book, Seen("rear-axle", "pattern", "toe"))
    with pytest.raises(BadFinding, match="no place of Contact pattern"):
        see(book, Seen("rear-axle", "pattern", "toe", "top"))
    with pytest.raises(BadFinding, match="has no places"):
        see(book, Seen("rear-axle", "magnet", "paste", "left"))
    with pytest.raises(BadFinding, match="not found on Brakes"):
        see(book, Seen("brakes", "magnet", "paste"), BRAKES)
    with pytest.raises(BadFinding, match="no place"):
        Found("AN", "", "magnet", "paste", "x", TODAY, Follow(FollowKind.NOTHING))


def test_what_is_not_in_the_book_is_refused_with_what_is(book: FindingBook) -> None:
    with pytest.raises(NotFound, match="Did you mean magnet"):
        see(book, Seen("rear-axle", "magnets", "paste"))
    with pytest.raises(BadFinding, match="It is bare, paste, flakes, chips"):
        see(book, Seen("rear-axle", "magnet", "green"))
    with pytest.raises(BadFinding, match="not measured"):
        see(book, Seen("rear-axle", "magnet", "paste", value=Decimal(1)))
    with pytest.raises(BadFinding, match="has no value"):
        see(book, Seen("rear-axle", "backlash"))


def test_a_value_is_judged_by_the_tag_and_by_nothing_if_no_limit_is_known(book: FindingBook) -> None:
    thick = see(book, Seen("brakes", "pads", place="front left", value=Decimal("4.5")), BRAKES)
    assert (thick.found.grade, thick.found.follow.kind) == ("near", FollowKind.LOOK_AGAIN)
    assert thick.limit == LimitKnown(Decimal(3), None, "the tag, stamped")
    assert thick.found.words == "Pad thickness, front left: 4.5 mm, near its least"
    bare = Component("brakes", "brakes", "Brakes")
    unknown = see(book, Seen("brakes", "pads", place="front left", value=Decimal("1.0")), bare)
    assert (unknown.found.grade, unknown.found.follow.kind, unknown.limit) == ("", FollowKind.NOTHING, None)
    assert "No limit is known" in unknown.means
    doubtful = Component("brakes", "brakes", "B", facts=(TagFact("least pad thickness", "3 mm", "unknown"),))
    assert limit_on_tag(doubtful, PADS) is None


def test_backlash_is_held_against_its_range_whatever_unit_the_tag_prints(book: FindingBook) -> None:
    # 0.006 to 0.009 in is 0.1524 to 0.2286 mm (1 in = 25.4 mm exactly, NIST SP 811, B.8).
    grades = [
        see(book, Seen("rear-axle", "backlash", value=Decimal(value))).found.grade
        for value in ("0.15", "0.155", "0.19", "0.2286", "0.23")
    ]
    assert grades == ["past", "near", "good", "near", "past"]


def test_a_value_that_no_part_has_is_refused() -> None:
    for value in (Decimal(-1), Decimal("NaN"), Decimal(41)):
        with pytest.raises(BadFinding, match="cannot be"):
            measured_grade(PADS, value, None)


def test_the_keeper_may_decide_otherwise_and_says_why(book: FindingBook) -> None:
    otherwise = Follow(FollowKind.LOOK_AGAIN, days=7)
    with pytest.raises(BadFinding, match="Say why"):
        see(book, Seen("rear-axle", "magnet", "chips", otherwise=otherwise))
    decided = see(book, Seen("rear-axle", "magnet", "chips", otherwise=otherwise, decided="a shop rag pin, found"))
    assert (decided.found.follow, decided.by_book.kind) == (otherwise, FollowKind.HOLD)
    assert decided.found.decided == "a shop rag pin, found"
    same = see(book, Seen("rear-axle", "magnet", "paste", otherwise=Follow(FollowKind.NOTHING), decided="as it says"))
    assert same.found.decided == ""


def test_a_look_stands_under_a_line_of_its_own_that_leads_back_to_its_sheet(book: FindingBook) -> None:
    found = Found("AN", "rear-axle", "magnet", "flakes", "x", TODAY, Follow(FollowKind.HOLD), order=147, position=2)
    assert found.line == LineKey("AN", "rear-axle", "look-0147-2")
    assert look_of(found.line) == (147, 2)
    assert look_of(LineKey("AN", "rear-axle", "rear-axle-fluid")) is None
    done = settled(found, on=TODAY, by="ines", note="clean")
    assert (done.is_open, done.holds, done.settled_by) == (False, False, "ines")
    with pytest.raises(BadFinding):
        settled(found, on=date(2026, 4, 13), by="ines")


@pytest.mark.parametrize(
    "make",
    [
        lambda: Follow(FollowKind.LOOK_AGAIN),
        lambda: Follow(FollowKind.NOTHING, days=3),
        lambda: Follow(FollowKind.SHORTEN),
        lambda: Follow(FollowKind.SHORTEN, factor=Decimal(1)),
        lambda: Follow(FollowKind.SHORTEN, factor=Decimal(0)),
        lambda: Follow(FollowKind.HOLD, factor=Decimal("0.5")),
        lambda: Follow(FollowKind.LOOK_AGAIN, Decimal(0)),
        lambda: Follow(FollowKind.LOOK_AGAIN, days=-1),
    ],
)
def test_what_cannot_follow_is_refused(make: object) -> None:
    with pytest.raises(BadFinding):
        make()  # type: ignore[operator]


def test_the_shipped_book_has_a_source_and_a_status_for_every_kind_and_a_best_grade_that_asks_nothing(
    book: FindingBook,
) -> None:
    assert len(book.kinds) >= 20
    for kind in book.kinds.values():
        assert kind.source, kind.key
        assert kind.status, kind.key
        assert kind.grades[0].follow.kind is FollowKind.NOTHING, kind.key
