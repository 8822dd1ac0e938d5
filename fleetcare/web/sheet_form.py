"""The form of a job sheet as values: what was pressed and typed, checked field by field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from starlette.datastructures import FormData, UploadFile

from fleetcare.actions.hand_in_sheet import Filling
from fleetcare.actions.ports import PhotoShelf
from fleetcare.errors import BadInput, BadPhoto, shown
from fleetcare.intake.numbers import parse_amount, parse_whole
from fleetcare.intake.photos import MOST_BYTES, clean_photo
from fleetcare.intake.sheet_words import figure, part_from, share_in
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.page.cards.hand_in import (
    END,
    FORM,
    KEPT,
    NOTE,
    PARTS,
    PHOTO,
    SIGNED,
    START,
    TORQUE_NOTE,
    Questions,
    seen_of,
)
from fleetcare.page.cards.what_follows import CUT, HOLD, LOOK, NOTHING
from fleetcare.quantities import TorqueUnit
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled, PartUsed, TorqueSet

MOST_PHOTOS = 12
LONGEST_FIELD = 4000


def typed_in(form: FormData) -> dict[str, str]:
    """Every field that was typed or pressed, by name, in order; of a field that is there twice the last."""
    return {name: value[:LONGEST_FIELD] for name, value in form.multi_items() if isinstance(value, str)}


async def photos_in(form: FormData, shelf: PhotoShelf, kept: str) -> str:
    """Takes the photos of a form into the home; all their names, with those `kept` before, joined by commas.

    Raises BadPhoto for what is no photo, by its name, and for too many.
    """
    names = [name for name in kept.split(",") if name]
    for each in form.getlist(PHOTO):
        if not isinstance(each, UploadFile) or not each.filename:
            continue
        if len(names) >= MOST_PHOTOS:
            raise BadPhoto(
                saying("A sheet holds {most_photos} photos at most.", most_photos=MOST_PHOTOS),
                remedy="Send fewer.",
                field=PHOTO,
            )
        raw = await each.read(MOST_BYTES + 1)
        names.append(shelf.keep(clean_photo(raw, each.filename)))
    return ",".join(dict.fromkeys(names))


def filling_of(typed: Mapping[str, str], asked: Questions, shelf: PhotoShelf) -> Filling:
    """The form as a filled sheet. Raises BadInput and NotFound that name what is wrong."""
    left = {}
    for place, (field, service, title) in enumerate(asked.services):
        if typed.get(field) == "left":
            why = clean_text(typed.get(f"why.{place}", ""), field="note")
            if not why:
                raise BadInput(saying("{title} was left.", title=title), remedy="Say why.", field=f"why.{place}")
            left[service] = why
    return Filling(
        left=left,
        start=_dial(typed, START),
        end=_dial(typed, END),
        fills=_fills(typed, asked),
        torques=_torques(typed, asked),
        parts=_parts(typed.get(PARTS, "")),
        hands={
            key: parse_whole(typed[field], least=1, most=86_400, field="minutes")
            for field, key, _ in asked.hands
            if typed.get(field, "").strip()
        },
        renewed=tuple(component.key for field, component in asked.geared if typed.get(field)),
        note=clean_text(typed.get(NOTE, ""), field="note"),
        signed_by=clean_text(typed.get(SIGNED, ""), field="name"),
        seen=_seen(typed, asked),
        photos=_photos(typed.get(KEPT, ""), shelf),
        key=typed.get(FORM, "")[:64],
    )


def _dial(typed: Mapping[str, str], field: str) -> Decimal | None:
    text = typed.get(field, "").strip()
    return parse_amount(text, field=field) if text else None


def _fills(typed: Mapping[str, str], asked: Questions) -> tuple[Filled, ...]:
    found = []
    for field, component, _ in asked.fluids:
        went_in, came_out = typed.get(field, "").strip(), typed.get(f"out.{component.key}", "").strip()
        if came_out and not went_in:
            raise BadInput(
                saying("{title}: nothing is said of what went in.", title=component.title),
                remedy="Give the litres.",
                field=field,
            )
        if went_in:
            out = figure(came_out, f"out.{component.key}") if came_out else None
            found.append(Filled(component.key, component.fluid_grade, figure(went_in, field), out))
    return tuple(found)


def _torques(typed: Mapping[str, str], asked: Questions) -> tuple[TorqueSet, ...]:
    note = clean_text(typed.get(TORQUE_NOTE, ""), field="note")
    return tuple(
        TorqueSet(
            each.component, each.fastener, figure(typed[each.field], each.field), TorqueUnit(each.unit), note=note
        )
        for each in asked.torques
        if typed.get(each.field, "").strip()
    )


def _parts(text: str) -> tuple[PartUsed, ...]:
    return tuple(part_from(line) for line in text.splitlines() if line.strip())


def _seen(typed: Mapping[str, str], asked: Questions) -> tuple[Seen, ...]:
    found = []
    for place, (look, answer) in enumerate(seen_of(asked, typed)):
        seen = Seen(look.component.key, look.kind.key, place=look.place)
        seen = (
            replace(seen, value=figure(answer.removesuffix(look.kind.measure.unit), look.field))
            if look.kind.measure is not None
            else replace(seen, grade=answer)
        )
        found.append(_decided(seen, typed, place))
    return tuple(found)


def _decided(seen: Seen, typed: Mapping[str, str], place: int) -> Seen:
    """The finding with what was decided otherwise on the page that shows what follows."""
    choice, why = typed.get(f"other.{place}", ""), clean_text(typed.get(f"reason.{place}", ""), field="note")
    if choice == NOTHING:
        return replace(seen, otherwise=Follow(FollowKind.NOTHING), decided=why)
    if choice == HOLD:
        return replace(seen, otherwise=Follow(FollowKind.HOLD), decided=why)
    if choice == LOOK:
        text = typed.get(f"days.{place}", "")
        if not text.strip():
            raise BadInput("Nothing is said of when to look again.", remedy="Give the days.", field=f"days.{place}")
        days = parse_whole(text, least=1, most=3660, field="days")
        return replace(seen, otherwise=Follow(FollowKind.LOOK_AGAIN, days=days), decided=why)
    if choice == CUT:
        text = typed.get(f"share.{place}", "")
        if not text.strip():
            raise BadInput(
                "The part of the interval is missing.", remedy="Give it in per cent.", field=f"share.{place}"
            )
        factor = share_in(text, f"share.{place}") / 100
        return replace(seen, otherwise=Follow(FollowKind.SHORTEN, factor=factor), decided=why)
    return seen


def _photos(kept: str, shelf: PhotoShelf) -> tuple[str, ...]:
    names = tuple(name for name in kept.split(",") if name)
    for name in names[: MOST_PHOTOS + 1]:
        shelf.picture(name)  # a name that the form made up opens nothing
    if len(names) > MOST_PHOTOS:
        raise BadPhoto(
            saying("A sheet holds {most_photos} photos at most.", most_photos=MOST_PHOTOS),
            remedy="Send fewer.",
            field=PHOTO,
        )
    return names


def hours_in(text: str) -> float | None:
    """Hours until the next hand, None if nobody knows. Raises BadInput."""
    if not text.strip():
        return None
    hours = float(figure(text, "hours", places=2))
    if hours > 24 * 60:
        raise BadInput(
            saying("{text_} hours is longer than anything stands.", text_=shown(text)),
            remedy="Put it off instead.",
            field="hours",
        )
    return hours
