"""The strip of a visit is as long as its hours, shows every stretch, and writes nothing over anything."""

from __future__ import annotations

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.page.drawings.clock_strip import BAR_EVERY, WIDTH, ClockStrip, StripStretch, clock_strip

ANVIL = clock_strip(
    [StripStretch(True, 140, "09:00"), StripStretch(False, 1500, "11:20"), StripStretch(True, 80, "Sun 12:20")],
    free="Sun 13:40",
    label="Anvil",
)


def blocks(strip: ClockStrip) -> list[tuple[float, float]]:
    """Begin and width of each hands-on block."""
    return [(float(x), float(wide)) for x, wide in re.findall(r"M([\d.]+) [\d.]+h([\d.]+)V", strip.hands)]


def bars(strip: ClockStrip) -> list[float]:
    return [float(x) for x in re.findall(r"M([\d.]+)", strip.standing)]


def test_a_reseal_is_drawn_to_scale() -> None:
    # 1 720 minutes on 500: 140 are 40.70, 1500 are 436.05, 80 are 23.26.
    (first, last) = blocks(ANVIL)
    assert abs(first[1] - 40.70) < 0.06
    assert abs(last[0] - 476.74) < 0.06
    assert abs(last[0] + last[1] - WIDTH) < 0.1
    assert min(bars(ANVIL)) > first[1]
    assert max(bars(ANVIL)) < last[0]
    assert [text.text for text in ANVIL.spans] == ["2 h 20", "stands 25 h", "1 h 20"]
    assert [text.text for text in ANVIL.clock] == ["09:00", "11:20", "Sun 13:40"]
    assert len(bars(ANVIL)) == round(436.05 / BAR_EVERY)


stretches = st.lists(st.integers(1, 20_000), min_size=1, max_size=9).map(
    lambda minutes: [StripStretch(at % 2 == 0, each, "Sun 12:20") for at, each in enumerate(minutes)]
)


@given(stretches)
def test_every_stretch_is_seen_in_order_and_lettering_never_overlaps(given_: list[StripStretch]) -> None:
    strip = clock_strip(given_, free="Mon 09:00", label="a visit")
    found = blocks(strip)
    assert len(found) == sum(each.is_hands_on for each in given_)
    assert all(wide >= 1 for _, wide in found)
    assert all(a + wide <= b + 0.11 for (a, wide), (b, _) in pairwise(found))
    assert bool(strip.standing) == any(not each.is_hands_on for each in given_)
    for texts in (strip.spans, strip.clock[:-1]):
        ends = 0.0
        for each in texts:
            assert float(each.x) >= ends
            ends = float(each.x) + 6 * len(each.text)
        assert ends <= WIDTH + 0.1
    assert strip.clock[-1].text == "Mon 09:00"
