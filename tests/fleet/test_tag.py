"""The tag of a component: words become typed values, values that cannot be are refused, unknown ones stay blanks."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag import Basis, ClosureKind, FillTo, ModifierNeed, Tag, Torque, VentKind
from fleetcare.fleet.tag_reading import tag_doubts, tag_of
from fleetcare.fleet.tag_words import as_mm, as_volume, minutes_in, torque_from
from fleetcare.quantities import TorqueUnit

NM, LBF_FT = TorqueUnit.NM, TorqueUnit.LBF_FT


def axle(*facts: TagFact, grade: str = "75W-140 GL-5", litres: str | None = "2.6") -> Component:
    capacity = None if litres is None else Decimal(litres)
    return Component("rear-axle", "rear axle", "Rear axle", grade, capacity, facts)


def read(name: str, value: str, basis: str = "manual") -> Tag:
    return tag_of(axle(TagFact(name, value, basis)))


def torque(text: str) -> Torque:
    found = torque_from(text)
    assert found is not None
    return found


def test_the_aim_is_the_middle_of_the_range() -> None:
    """21 to 30 lb ft gives 25.5, and 28.5 to 40.7 N m gives 34.6. Common practice, no source."""
    assert torque("21 to 30 lb·ft").aim == Decimal("25.5")
    assert torque("28.5 to 40.7 N·m").aim == Decimal("34.6")
    low, aim, high = torque("21 to 30 lb·ft").ends_in(NM)
    assert (round(low, 1), round(aim, 1), round(high, 1)) == (28.5, 34.6, 40.7)


@pytest.mark.parametrize(
    "printed",
    [
        "25 N·m (18 ft lb)",  # Corvette 2002, O-ring side cover
        "47 N·m (35 lb ft)",  # Hummer H2 2008, front, case bolts
        "28 N·m (21 lb ft)",  # Hummer H2 2008, front, hole plug
        "54 to 68 N·m (40 to 50 ft lb)",  # GMC 1992 Yukon service manual, load for a contact pattern
    ],
)
def test_pairs_that_manuals_print_are_one_torque(printed: str) -> None:
    assert torque(printed).beside is not None


def test_a_pair_that_is_no_pair_is_refused_with_what_it_would_be() -> None:
    with pytest.raises(BadInput, match=r"34 N·m and 34 lb·ft are not the same: 34 N·m is 25\.1 lb·ft"):
        torque_from("34 to 46 N·m (34 to 46 lb·ft)")


def test_a_range_upside_down_is_refused() -> None:
    component = axle(TagFact("cover bolts", "46 to 34 N·m"))
    (doubt,) = tag_doubts(component)
    assert doubt.is_fault
    assert "upside down" in doubt.what
    assert "34 to 46" in doubt.instead
    assert tag_of(component).torques == {}


def test_everything_that_is_said_with_a_torque_is_read_in_any_order() -> None:
    found = torque("M8, 10 bolts, first pass 20, 34 to 46 N·m, second pass 40, final turn after the wait, clean thread")
    assert (int(found.low), int(found.high), found.unit, found.count, found.thread) == (34, 46, NM, 10, "M8")
    assert [(each.name, each.value, each.after_wait) for each in found.passes] == [
        ("first pass", 20, False),
        ("second pass", 40, False),
        ("final turn", None, True),
    ]
    assert found.note == "clean thread"
    plug = torque("3/8 inch square, 25 to 34 lb·ft")
    assert (plug.drive, plug.unit, plug.aim) == ("3/8 inch square", LBF_FT, Decimal("29.5"))
    assert torque("180 to 200 N·m, eight each").count == 8


def test_a_pass_beyond_the_range_is_refused() -> None:
    with pytest.raises(BadInput, match="second pass of 60"):
        torque_from("34 to 46 N·m, second pass 60")


def test_words_without_a_torque_hold_none() -> None:
    assert torque_from("spin-on, 93 mm") is None
    assert torque_from("by hand, then the small wrench") is None


@given(st.integers(1, 500), st.integers(0, 200), st.sampled_from(list(TorqueUnit)))
def test_a_torque_is_reached_from_its_lower_to_its_upper_end(low: int, more: int, unit: TorqueUnit) -> None:
    found = torque(f"{low} to {low + more} {unit}")
    assert found.low <= found.aim <= found.high
    assert found.holds(found.aim)
    assert not found.holds(Decimal(low) - 1)
    assert not found.holds(Decimal(low + more) + 1)
    assert found.high_nm - found.low_nm == pytest.approx(more * found.low_nm / low)


@pytest.mark.parametrize(
    ("words", "to", "low", "high", "when"),
    [
        ("to the hole, cold", FillTo.THE_HOLE, None, None, "cold"),
        ("6 mm below the hole", FillTo.BELOW_THE_HOLE, "6", "6", ""),
        ("5/8 to 1 5/8 in below the plug", FillTo.BELOW_THE_HOLE, "15.88", "41.28", ""),  # Chevrolet Tahoe 2001 p. 6-25
        ("15 to 40 mm below the plug", FillTo.BELOW_THE_HOLE, "15", "40", ""),  # the same page, in millimetres
        ("0 to 5 mm below the lip", FillTo.BELOW_THE_HOLE, "0", "5", ""),  # Toyota, differential oil
        ("by volume only", FillTo.BY_VOLUME, None, None, ""),
    ],
)
def test_to_where_it_is_filled_is_not_one_rule(
    words: str, to: FillTo, low: str | None, high: str | None, when: str
) -> None:
    entry = read("fill", words).fill
    assert entry is not None
    assert entry.value is not None
    assert (entry.value.to, entry.value.when) == (to, when)
    assert entry.value.low_mm == (None if low is None else Decimal(low))
    assert entry.value.high_mm == (None if high is None else Decimal(high))


@pytest.mark.parametrize(
    ("words", "need", "amount"),
    [
        ("118 mL, required", ModifierNeed.REQUIRED, "118"),
        ("forbidden, it is in the fluid", ModifierNeed.FORBIDDEN, None),
        ("not needed", ModifierNeed.NOT_NEEDED, None),
        ("4 US fl oz", ModifierNeed.REQUIRED, "118.3"),  # 29.573 53 mL each, NIST SP 811 B.8
    ],
)
def test_a_friction_modifier_is_required_forbidden_or_not_needed(
    words: str, need: ModifierNeed, amount: str | None
) -> None:
    tag = read("friction modifier", words)
    assert tag.friction_modifier is not None
    assert tag.friction_modifier.value is not None
    assert tag.friction_modifier.value.need is need
    assert tag.friction_modifier.value.amount_ml == (None if amount is None else Decimal(amount))
    assert tag.has_modifier == (need is ModifierNeed.REQUIRED)


def test_an_amount_of_what_must_not_go_in_is_refused() -> None:
    (doubt,) = tag_doubts(axle(TagFact("friction modifier", "118 mL, forbidden")))
    assert doubt.is_fault


def test_the_rest_of_a_tag_is_read() -> None:
    tag = tag_of(
        axle(
            TagFact("ratio", "3.73, gears renewed 28 September 2024", "stamped"),
            TagFact("ring gear", "9.75 in"),
            TagFact("stamped", "KR 41-10", "stamped"),
            TagFact("closure", "cover with sealant, 10 bolts M8", "measured"),
            TagFact("open time", "5 min"),
            TagFact("wait before the final turn", "1 h"),
            TagFact("wait before filling", "24 h, at least 12 h"),
            TagFact("vent", "cap on the left tube", "measured"),
            TagFact("magnet", "in the cover"),
            TagFact("backlash", "0.007 to 0.009 in"),
            TagFact("refill", "2.4 L", "measured"),
            TagFact("painted", "grey"),
        )
    )
    assert tag.ratio is not None
    assert (tag.ratio.value, tag.ratio.basis) == (Decimal("3.73"), Basis.STAMPED)
    assert tag.ring_gear_mm is not None
    assert tag.ring_gear_mm.value == Decimal("247.65")  # 9.75 x 25.4
    assert tag.closure is not None
    assert tag.closure.value is not None
    assert (tag.closure.value.kind, tag.closure.value.bolts, tag.closure.value.thread) == (
        ClosureKind.SEALANT,
        10,
        "M8",
    )
    waits = [tag.open_time, tag.before_final_turn, tag.before_filling]
    assert [wait.value.minutes for wait in waits if wait and wait.value] == [5, 60, 24 * 60]
    assert tag.before_filling is not None
    assert tag.before_filling.value is not None
    assert tag.before_filling.value.least_minutes == 12 * 60
    assert tag.vent is not None
    assert tag.vent.value is not None
    assert (tag.vent.value.kind, tag.vent.value.place) == (VentKind.CAP, "the left tube")
    assert tag.backlash_mm is not None
    assert tag.backlash_mm.value == (Decimal("0.178"), Decimal("0.229"))  # 0.007 x 25.4, 0.009 x 25.4
    assert tag.refill == Decimal("2.4")
    assert tag.others == (TagFact("painted", "grey"),)
    assert tag.fluid is not None
    assert tag.fluid.value is not None
    assert (tag.fluid.value.grade, tag.fluid.value.service_class) == ("75W-140", "GL-5")


def test_an_unknown_value_is_a_blank_and_never_a_guess() -> None:
    tag = tag_of(axle(TagFact("capacity", "", "unknown"), TagFact("fill plug", "", "unknown"), litres=None))
    assert tag.capacity_l is not None
    assert tag.capacity_l.value is None
    assert tag.refill is None
    assert tag.torques["fill plug"].value is None
    assert {"capacity", "fill plug", "vent", "ratio"} <= set(tag.blanks)
    assert "fluid" not in tag.blanks


def test_words_that_cannot_be_read_are_kept_as_words_and_said() -> None:
    component = axle(TagFact("closure", "bolted somehow"))
    (doubt,) = tag_doubts(component)
    assert not doubt.is_fault
    assert "sealant" in doubt.instead
    entry = tag_of(component).closure
    assert entry is not None
    assert (entry.value, entry.words) == (None, "bolted somehow")


def test_two_capacities_that_differ_are_refused() -> None:
    (doubt,) = tag_doubts(axle(TagFact("capacity", "2.1 L", "measured")))
    assert doubt.is_fault
    assert "2.6 L" in doubt.what
    assert tag_doubts(axle(TagFact("capacity", "2.6 L with the cover off", "measured"))) == ()


def test_volumes_and_times_are_read_in_the_units_they_are_printed_in() -> None:
    # 3.05 L = 3.22 US qt: Toyota 4Runner V8 service manual, differential oil, +/- 0.05 of each
    quarts = as_volume("3.22 US qt")
    assert quarts is not None
    assert abs(quarts - Decimal("3.05")) < Decimal("0.05")
    assert as_volume("35") is None
    assert as_mm("1 5/8", "in") == Decimal("41.28")
    assert (minutes_in("24 h"), minutes_in("2 days"), minutes_in("5 min")) == (1440, 2880, 5)


@given(
    st.lists(st.builds(TagFact, st.sampled_from(["ratio", "fill", "vent", "cover bolts", "x"]), st.text()), max_size=6)
)
def test_whatever_words_there_are_reading_never_fails_and_loses_none(facts: list[TagFact]) -> None:
    component = axle(*facts)
    tag = tag_of(component)
    entries = [tag.ratio, tag.fill, tag.vent, *tag.torques.values()]
    kept = [entry.words for entry in entries if entry is not None] + [fact.value for fact in tag.others]
    assert sorted(kept) == sorted(fact.value for fact in facts)
    tag_doubts(component)
