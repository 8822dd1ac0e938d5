"""The dipstick: wear creeping along a rod towards the zone between early and late."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fleetcare.language import later, tr
from fleetcare.page.drawings.numbers import coordinate
from fleetcare.wording import percent

FULL_SHARE = 1.2
"""Wear share at the end of the blade's scale."""
LEAST_ZONE = 8.0
"""A zone or a saw is never drawn narrower than this."""


class Standing(StrEnum):
    """Where today lies, told by the dates; the drawing must never say otherwise."""

    AHEAD = later("window ahead")
    OPEN = later("window open")
    PAST_LATE = later("past late")
    NO_DATE = later("no date in sight")


@dataclass(frozen=True, slots=True)
class RodForm:
    """Measures of a rod. Centre line is half the height; the scale runs over width - tip - tail."""

    width: float
    height: float
    tip: float
    tail: float
    half: float
    """Half height of the blade and of wear on it."""
    zone_half: float
    notch_half: float
    edge_beyond: float
    blade_end: float
    """From the right side."""
    neck_end: float
    ring_at: float
    ring_radius: float
    hole_radius: float
    tooth_height: float

    @property
    def centre(self) -> float:
        """The centre line's y."""
        return self.height / 2

    @property
    def per_share(self) -> float:
        """Drawing units for a whole interval: K = (W - tip - tail) / 1.2."""
        return (self.width - self.tip - self.tail) / FULL_SHARE

    def x_of(self, share: float) -> float:
        """Where a wear share lies along the rod; shares under 0 and over 1.2 lie at the ends of the scale."""
        return self.tip + self.per_share * min(max(share, 0.0), FULL_SHARE)

    @property
    def end(self) -> float:
        """Where the blade ends and the neck begins."""
        return self.width - self.blade_end


def _large(width: float, height: float) -> RodForm:
    return RodForm(
        width=width,
        height=height,
        tip=12,
        tail=52,
        half=4,
        zone_half=8,
        notch_half=12,
        edge_beyond=3,
        blade_end=44,
        neck_end=20,
        ring_at=11,
        ring_radius=8,
        hole_radius=2.6,
        tooth_height=5,
    )


WIDE = _large(520, 36)
PHONE = _large(358, 30)
SMALL = RodForm(
    width=300,
    height=22,
    tip=8,
    tail=30,
    half=3,
    zone_half=6,
    notch_half=8.5,
    edge_beyond=2,
    blade_end=22,
    neck_end=14,
    ring_at=8,
    ring_radius=5,
    hole_radius=2,
    tooth_height=3.5,
)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle."""

    x: str
    y: str
    width: str
    height: str


@dataclass(frozen=True, slots=True)
class Dipstick:
    """Everything a template needs to draw one rod: paths and numbers as text, empty where a part is missing.

    zone_x, now_x: where zone and wear edge were put, for whoever wants to check them; None if there is none.
    """

    view_box: str
    label: str
    blade: str
    zone: Box | None
    wet: str
    wet_in_zone: Box | None
    reckoned: tuple[Box, ...]
    past_late: str
    edge: str
    early: str
    late: str
    early_on_wear: str
    late_on_wear: str
    off_the_rod: str
    hole: tuple[str, str, str]
    neck: str
    ring: tuple[str, str, str]
    zone_x: tuple[float, float] | None
    now_x: float | None


def dipstick(
    *,
    q_read: float | None,
    q_now: float | None,
    q_early: float | None,
    q_late: float | None,
    standing: Standing,
    form: RodForm,
) -> Dipstick:
    """The rod for one service.

    q_read, q_now: wear share at the last reading and today, 1 is a whole interval; None if it cannot be said.
    q_early, q_late: ends of the zone; None without a date in sight.
    Wear stands in the zone exactly if the window is open, and past its late end exactly if the service is past late,
    also where the zone had to be widened or the scale ends.
    """
    now = None if q_now is None else _place(q_now, form)
    read = None if q_read is None else _place(q_read, form)
    zone = None
    if standing is not Standing.NO_DATE and q_early is not None and q_late is not None:
        zone = _zone(form.x_of(q_early), form.x_of(q_late), now, standing, form)
        now = _kept_in_place(now, zone, standing)
    if read is not None and now is not None:
        read = min(read, now)
    late_end = None
    if zone and now is not None and standing is Standing.PAST_LATE:
        now = late_end = max(now, zone[1] + LEAST_ZONE)
    off = q_now is not None and q_now > FULL_SHARE
    return Dipstick(
        view_box=f"0 0 {coordinate(form.width)} {coordinate(form.height)}",
        label=dipstick_label(q_read, q_now, q_early, q_late),
        blade=_blade(form, zone),
        zone=_box(zone[0], zone[1], form.zone_half, form) if zone else None,
        wet=_tip_to(min(read, zone[0]) if zone else read, form) if read is not None else "",
        wet_in_zone=_in_zone(zone[0], read, zone, form) if zone and read is not None else None,
        reckoned=_reckoned(read, now, zone, form),
        past_late=_saw(zone[1], late_end, form) if zone and late_end is not None else "",
        edge="" if now is None or off else _upright(now, _edge_half(now, zone, form), form),
        early=_upright(zone[0], form.notch_half, form) if zone else "",
        late=_upright(zone[1], form.notch_half, form) if zone else "",
        early_on_wear=_upright(zone[0], form.zone_half, form) if zone and read is not None and read > zone[0] else "",
        late_on_wear=_upright(zone[1], form.zone_half, form) if zone and late_end is not None else "",
        off_the_rod=_break_line(form) if off else "",
        hole=(coordinate(form.x_of(1.0)), coordinate(form.centre), coordinate(form.hole_radius)),
        neck=f"M{coordinate(form.end)} {coordinate(form.centre)}H{coordinate(form.width - form.neck_end)}",
        ring=(coordinate(form.width - form.ring_at), coordinate(form.centre), coordinate(form.ring_radius)),
        zone_x=zone,
        now_x=now,
    )


def dipstick_label(q_read: float | None, q_now: float | None, q_early: float | None, q_late: float | None) -> str:
    """The rod in a sentence, for those who do not see it."""
    if q_now is None:
        return tr("Wear cannot be said without a reading.")
    if q_read is None or abs(q_now - q_read) < 1e-9:
        wear = tr("Wear {percent} percent.", percent=percent(q_now))
    else:
        wear = tr(
            "Wear {percent} percent by reckoning, {percent2} percent by the last reading.",
            percent=percent(q_now),
            percent2=percent(q_read),
        )
    if q_early is None or q_late is None:
        return tr("{wear} No date in sight.", wear=wear)
    return tr(
        "{wear} Due window from {percent} to {percent2} percent.",
        wear=wear,
        percent=percent(q_early),
        percent2=percent(q_late),
    )


def _place(share: float, form: RodForm) -> float:
    """Where wear ends; wear beyond the scale fills the blade to its end."""
    return form.end if share > FULL_SHARE else form.x_of(share)


def _zone(early: float, late: float, now: float | None, standing: Standing, form: RodForm) -> tuple[float, float]:
    """Ends of the zone, widened round its middle to what can be seen and kept clear of wear that is not in it."""
    if late - early < LEAST_ZONE:
        middle = (early + late) / 2
        early, late = middle - LEAST_ZONE / 2, middle + LEAST_ZONE / 2
    if now is not None and standing is Standing.AHEAD and early <= now:
        early, late = now + 1, max(late, now + 1 + LEAST_ZONE)
    if now is not None and standing is Standing.PAST_LATE and late >= now:
        early, late = min(early, now - LEAST_ZONE), now
    room = form.end - (LEAST_ZONE if standing is Standing.PAST_LATE else 0)
    if late > room:
        early, late = min(early, room - LEAST_ZONE), room
    return early, late


def _kept_in_place(now: float | None, zone: tuple[float, float], standing: Standing) -> float | None:
    """Where wear ends, held on the side of the zone's ends that the dates say."""
    if now is None:
        return None
    if standing is Standing.AHEAD:
        return min(now, zone[0] - 1)
    if standing is Standing.OPEN:
        return min(max(now, zone[0]), zone[1])
    return now


def _blade(form: RodForm, zone: tuple[float, float] | None) -> str:
    """Outline: round tip at the left, widened with slanting shoulders where the zone is."""
    c, half, wide = form.centre, form.half, form.zone_half
    top, bottom = coordinate(c - half), coordinate(c + half)
    there = back = ""
    if zone:
        early, late = coordinate(zone[0]), coordinate(zone[1])
        rises, falls = coordinate(zone[0] - 3), coordinate(min(zone[1] + 3, form.end))
        up, low = coordinate(c - wide), coordinate(c + wide)
        there = f"H{rises}L{early} {up}H{late}L{falls} {top}"
        back = f"H{falls}L{late} {low}H{early}L{rises} {bottom}"
    x = coordinate(_shoulder(form))
    r = coordinate(half)
    return f"M{x} {top}{there}H{coordinate(form.end)}V{bottom}{back}H{x}A{r} {r} 0 0 1 {x} {top}Z"


def _shoulder(form: RodForm) -> float:
    """Where the round tip meets the straight blade."""
    return form.tip - 2


def _tip_to(x: float, form: RodForm) -> str:
    """Solid wear from the tip to x on the plain blade."""
    start = _shoulder(form)
    c, half = form.centre, form.half
    s, r = coordinate(start), coordinate(half)
    return (
        f"M{s} {coordinate(c - half)}H{coordinate(max(x, start))}V{coordinate(c + half)}"
        f"H{s}A{r} {r} 0 0 1 {s} {coordinate(c - half)}Z"
    )


def _box(left: float, right: float, half: float, form: RodForm) -> Box:
    return Box(
        coordinate(left),
        coordinate(form.centre - half),
        coordinate(round(right, 1) - round(left, 1)),
        coordinate(2 * half),
    )


def _in_zone(left: float, right: float, zone: tuple[float, float], form: RodForm) -> Box | None:
    """The part of a stretch that lies in the zone, at the zone's height."""
    left, right = max(left, zone[0]), min(right, zone[1])
    return _box(left, right, form.zone_half, form) if right - left >= 0.05 else None


def _reckoned(
    read: float | None, now: float | None, zone: tuple[float, float] | None, form: RodForm
) -> tuple[Box, ...]:
    """Dither from the last reading to today: on the blade before the zone, and in it."""
    if now is None:
        return ()
    start = _shoulder(form) if read is None else max(read, _shoulder(form))
    boxes = []
    before = min(now, zone[0]) if zone else now
    if before - start >= 0.05:
        boxes.append(_box(start, before, form.half, form))
    if zone and (inside := _in_zone(start, now, zone, form)):
        boxes.append(inside)
    return tuple(boxes)


def _saw(left: float, right: float, form: RodForm) -> str:
    """Past late: a bar of zone height with a saw for its upper edge, teeth 4 wide."""
    top, bottom = form.centre - form.zone_half, form.centre + form.zone_half
    teeth = max(1, round((right - left) / 4))
    step = (right - left) / teeth
    edge = "".join(
        f"L{coordinate(left + step * (tooth + 0.5))} {coordinate(top - form.tooth_height)}"
        f"L{coordinate(left + step * (tooth + 1))} {coordinate(top)}"
        for tooth in range(teeth)
    )
    return f"M{coordinate(left)} {coordinate(top)}{edge}V{coordinate(bottom)}H{coordinate(left)}Z"


def _edge_half(x: float, zone: tuple[float, float] | None, form: RodForm) -> float:
    inside = zone is not None and x >= zone[0]
    return (form.zone_half if inside else form.half) + form.edge_beyond


def _upright(x: float, half: float, form: RodForm) -> str:
    return f"M{coordinate(x)} {coordinate(form.centre - half)}V{coordinate(form.centre + half)}"


def _break_line(form: RodForm) -> str:
    """A jagged line across the end of the blade: the wear goes on beyond it."""
    x, c, h = form.end - 12, form.centre, form.zone_half + 2
    return (
        f"M{coordinate(x + 2)} {coordinate(c - h)}L{coordinate(x - 2)} {coordinate(c - h / 3)}"
        f"L{coordinate(x + 2)} {coordinate(c + h / 3)}L{coordinate(x - 2)} {coordinate(c + h)}"
    )
