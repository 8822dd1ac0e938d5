"""A new vehicle in five short steps: what it is, its dial and use, its parts, what was done when, and a last look."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from fleetcare.book.rows import BookRow
from fleetcare.due.telling import rule_words
from fleetcare.fleet.duty import DAILY, DutyCycle
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.language import later, tr, tr_book
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.entry import MOST_PARTS, ONCE_FIELD, PART_FIELD
from fleetcare.page.cards.frame import NEW_URL, ROAD_URL, VEHICLES_URL, Link, bare_frame
from fleetcare.page.cards.pulled_by import TOWED_FIELD, TOWED_OTHERS_FIELD, pulled_by_fields
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_in_words import vehicle_in_words
from fleetcare.quantities import MeterUnit
from fleetcare.wording import sentence
from fleetcare.work.new_vehicle import PartOffered, Past, Said, is_asked

STEPS = 5
STEP_FIELD = "step"
NAME_FIELD, KIND_FIELD, CALLED_FIELD, KEEPER_FIELD = "name", "kind", "called", "keeper"
MARK_FIELD, UNIT_FIELD, DIAL_FIELD, DIGITS_FIELD = "mark", "unit", "dial", "digits"
SINCE_FIELD, YEARLY_FIELD = "in-service", "yearly"
PARTS_FIELD, PAST_PREFIX, ON_PREFIX, AT_PREFIX = "part", "past.", "on.", "at."
VIN_FIELD, DESCRIPTION_FIELD = "vin", "description"
NO_DIAL = "none"
_NEVER_IN_ADDRESS = frozenset({STEP_FIELD, ONCE_FIELD, VIN_FIELD})
"""What no step hands on by its address: a VIN is nobody else's business, and a key belongs to one form."""

_CALLED = {
    VehicleKind.CAR: later("coupe, hatchback, estate"),
    VehicleKind.VAN: later("shuttle, delivery van"),
    VehicleKind.LIGHT_TRUCK: later("pick-up, tow rig"),
    VehicleKind.HEAVY_TRUCK: later("lorry, recovery truck"),
    VehicleKind.BUS: later("coach, school bus"),
    VehicleKind.TRAILER: later("pulled by another vehicle"),
}
_KINDS = {
    VehicleKind.CAR: later("Car"),
    VehicleKind.VAN: later("Van"),
    VehicleKind.LIGHT_TRUCK: later("Light truck"),
    VehicleKind.HEAVY_TRUCK: later("Heavy truck"),
    VehicleKind.BUS: later("Bus"),
    VehicleKind.TRAILER: later("Trailer"),
}
_PAST_WORDS = {
    Past.UNKNOWN: later("I do not know"),
    Past.DONE: later("It was done"),
    Past.NEW: later("Never since new"),
    Past.LEFT: later("It has none"),
}


@dataclass(frozen=True, slots=True)
class Around:
    """What every step needs to know. keepers: people who may answer for it; only the reader, unless they keep the list.

    taken: vehicles that are here.
    """

    garage: Garage
    reader: Person
    today: date
    keepers: tuple[Person, ...]
    taken: tuple[Vehicle, ...] = ()


def what_it_is(around: Around, typed: Typed) -> AskCard:
    """Step 1: its name, what it is, who keeps it."""
    fields = [
        Field(
            NAME_FIELD, tr("Its name"), value=typed.of(NAME_FIELD), hint=tr("As people here call it."), is_required=True
        ),
        kind_field(typed.of(KIND_FIELD)),
        Field(
            CALLED_FIELD,
            tr("In your own words, if you like"),
            value=typed.of(CALLED_FIELD),
            hint=tr("Such as tow rig."),
        ),
    ]
    if len(around.keepers) > 1:
        fields.append(keeper_field(around.keepers, typed.of(KEEPER_FIELD, around.reader.key)))
    return _card(around, typed, 1, tr("Put a vehicle on the road"), (Group(tuple(fields)),))


def its_dial(
    around: Around, typed: Typed, *, name: str, kind: VehicleKind, mark: str, duties: Sequence[DutyCycle]
) -> AskCard:
    """Step 2: its mark, what the dial shows, how it is used. mark: the one proposed."""
    unit = typed.of(UNIT_FIELD, NO_DIAL if kind is VehicleKind.TRAILER else around.garage.unit.value)
    units = (
        (MeterUnit.MI.value, tr("miles")),
        (MeterUnit.KM.value, "km"),
        (MeterUnit.HOURS.value, tr("hours")),
        (NO_DIAL, tr("it has no dial")),
    )
    dial = [
        Field(
            UNIT_FIELD,
            tr("It counts"),
            "one",
            choices=tuple(Choice(value, words, value == unit) for value, words in units),
        ),
        Field(
            DIAL_FIELD,
            tr("What it shows today"),
            "digits",
            typed.of(DIAL_FIELD),
            hint=tr("Empty if it is not at hand."),
        ),
    ]
    if kind is VehicleKind.TRAILER and around.taken:
        chosen = typed.all_of(TOWED_FIELD)
        pulls = [v for v in around.taken if v.kind is not VehicleKind.TRAILER and v.out_of_fleet_on is None]
        dial += pulled_by_fields(pulls, chosen, typed.of(TOWED_OTHERS_FIELD))
    about = (
        Field(
            SINCE_FIELD,
            tr("In service since, if known"),
            "day",
            typed.of(SINCE_FIELD),
            hint=tr("The first day of its life, with whomever; roughly will do."),
            latest=around.today.isoformat(),
        ),
        Field(
            YEARLY_FIELD,
            tr("Distance in a year, roughly"),
            "digits",
            typed.of(YEARLY_FIELD),
            hint=tr("In the dial’s unit. Used until readings know better."),
        ),
        Field(DIGITS_FIELD, tr("Whole digits of the dial"), "digits", typed.of(DIGITS_FIELD, "6")),
    )
    groups = (
        Group(
            (
                Field(
                    MARK_FIELD,
                    tr("Its mark"),
                    value=typed.of(MARK_FIELD) or mark,
                    hint=tr("Two to six capitals or digits that stand for it in drawings and calendars."),
                    is_required=True,
                ),
            )
        ),
        Group(tuple(dial), tr("Its dial")),
        Group(
            tuple(_mix(typed, duties)),
            tr("How is it used?"),
            tr("In parts: 3 and 1 means three quarters and one quarter."),
        ),
        Group(
            about, tr("More about its age and dial"), is_folded=True, is_open=any(typed.of(f.name) for f in about[:2])
        ),
    )
    return _card(around, typed, 2, tr("{name}: mark, dial and use", name=name), groups)


def its_parts(around: Around, typed: Typed, *, name: str, parts: Sequence[PartOffered]) -> AskCard:
    """Step 3: which parts it has, those that are usual ticked."""
    chosen = typed.all_of(PARTS_FIELD) if typed.has(PARTS_FIELD) else [p.key for p in parts if p.is_usual]

    def ticks(usual: bool) -> tuple[Choice, ...]:
        return tuple(
            Choice(p.key, sentence(tr_book(p.kind)), p.key in chosen, ", ".join(tr_book(row.short) for row in p.rows))
            for p in parts
            if p.is_usual is usual
        )

    groups = [Group((Field(PARTS_FIELD, tr("It has"), "many", choices=ticks(True)),))]
    if others := ticks(False):
        more = Field(PARTS_FIELD, tr("It also has"), "many", choices=others, slug="more-parts")
        is_open = any(each.is_chosen for each in others)
        groups.append(Group((more,), tr("More parts"), is_folded=True, is_open=is_open))
    told = tr("The interval book proposes the services under each part. Its figures are a start; change them any time.")
    return _card(around, typed, 3, tr("{name}: what is on it", name=name), tuple(groups), said=(told,))


def done_when(
    around: Around, typed: Typed, *, name: str, parts: Sequence[PartOffered], unit: MeterUnit | None
) -> AskCard:
    """Step 4: for each service, when it was last done. unit: of the dial, None if there is none."""
    groups = []
    for part in parts:
        asked = tuple(_past(typed, part, row, unit, around.today) for row in part.rows if is_asked(row))
        if asked:
            groups.append(Group(asked, sentence(tr_book(part.kind))))
    told = tr(
        "A day or what the dial showed will do. Not knowing is a good answer: a look comes first, then the interval."
    )
    return _card(around, typed, 4, tr("{name}: when was it last done?", name=name), tuple(groups), said=(told,))


def before_saving(
    around: Around,
    typed: Typed,
    *,
    vehicle: Vehicle,
    said: Said,
    duties: Mapping[str, DutyCycle],
    once: tuple[str, str],
) -> AskCard:
    """Step 5: everything in words, the VIN, and the button. once: name and value of the key that the form carries."""
    fields = (
        Field(
            VIN_FIELD,
            tr("VIN, if at hand"),
            value=typed.of(VIN_FIELD),
            hint=tr("17 digits and capitals, on its plate."),
        ),
        Field(DESCRIPTION_FIELD, tr("Anything else worth knowing"), "area", typed.of(DESCRIPTION_FIELD)),
    )
    groups, problem = with_problem((Group(fields),), typed.problem_field, typed.problem)
    own = (VIN_FIELD, DESCRIPTION_FIELD, STEP_FIELD, once[0])
    keeper = next((each.name for each in around.keepers if each.key == vehicle.keeper), vehicle.keeper)
    return AskCard(
        frame=bare_frame(tr("Put a vehicle on the road"), garage=around.garage, today=around.today, home_url=ROAD_URL),
        heading=tr("{name}: is it right so?", name=vehicle.name),
        action_url=NEW_URL,
        button=tr("Put it on the road"),
        groups=groups,
        step=tr("Step {step} of {steps}", step=STEPS, steps=STEPS),
        items=vehicle_in_words(vehicle, said, keeper, duties, around.today),
        problem=problem,
        hidden=(*((name, value) for name, value in typed.pairs if name not in own), once),
        back=Link(tr("Back one step"), step_url(typed, STEPS - 1)),
        foot=tr("Nothing is saved before you press."),
    )


def kind_field(chosen: str) -> Field:
    """What it is, by what the interval book goes by."""
    return Field(
        KIND_FIELD,
        tr("What is it?"),
        "one",
        choices=tuple(Choice(k.value, tr(_KINDS[k]), k.value == chosen, tr(_CALLED[k])) for k in VehicleKind),
    )


def keeper_field(keepers: Sequence[Person], chosen: str) -> Field:
    """Who answers for it."""
    return Field(
        KEEPER_FIELD,
        tr("Who keeps it?"),
        "one",
        choices=tuple(Choice(each.key, each.name, each.key == chosen) for each in keepers),
    )


def past_words(past: Past) -> str:
    """What somebody may say of when a service was last done."""
    return tr(_PAST_WORDS[past])


def step_url(typed: Typed, step: int) -> str:
    """A step with everything that was typed so far; it can be gone back to and opened again at any time."""
    pairs = [(name, value) for name, value in typed.pairs if name not in _NEVER_IN_ADDRESS and value != ""]
    return f"{NEW_URL}?{urlencode([(STEP_FIELD, str(step)), *pairs])}"


def mix_fields(chosen: Mapping[str, int], duties: Sequence[DutyCycle]) -> tuple[Field, ...]:
    """The usual mix in parts, a row for each duty."""
    return tuple(
        Field(
            f"{PART_FIELD}{duty.key}",
            sentence(tr_book(duty.title)),
            "short",
            choices=tuple(
                Choice(str(count), str(count) if count else tr("none"), count == chosen.get(duty.key, 0))
                for count in range(MOST_PARTS + 1)
            ),
        )
        for duty in duties
    )


def _mix(typed: Typed, duties: Sequence[DutyCycle]) -> tuple[Field, ...]:
    given = {duty.key: typed.of(f"{PART_FIELD}{duty.key}") for duty in duties}
    chosen = {key: int(count) for key, count in given.items() if count in {str(n) for n in range(MOST_PARTS + 1)}}
    return mix_fields(chosen or {DAILY: 1}, duties)


def _past(typed: Typed, part: PartOffered, row: BookRow, unit: MeterUnit | None, today: date) -> Field:
    where = f"{part.key}.{row.key}"
    chosen = typed.of(f"{PAST_PREFIX}{where}", Past.UNKNOWN.value)
    then = [Field(f"{ON_PREFIX}{where}", tr("On"), "day", typed.of(f"{ON_PREFIX}{where}"), latest=today.isoformat())]
    if unit is not None:
        label = tr("At, in hours") if unit is MeterUnit.HOURS else tr("At, in {unit}", unit=unit.value)
        then.append(Field(f"{AT_PREFIX}{where}", label, "digits", typed.of(f"{AT_PREFIX}{where}")))
    return Field(
        f"{PAST_PREFIX}{where}",
        tr_book(row.title),
        "past",
        hint=f"{sentence(rule_words(row.rule))}.",
        choices=tuple(Choice(past.value, tr(words), past.value == chosen) for past, words in _PAST_WORDS.items()),
        then=tuple(then),
    )


def _card(
    around: Around, typed: Typed, step: int, heading: str, groups: tuple[Group, ...], said: tuple[str, ...] = ()
) -> AskCard:
    marked, problem = with_problem(groups, typed.problem_field, typed.problem)
    own = {field.name for group in groups for field in group.fields}
    own |= {inner.name for group in groups for field in group.fields for inner in field.then}
    carried = tuple((name, value) for name, value in typed.pairs if name not in own | _NEVER_IN_ADDRESS and value != "")
    return AskCard(
        frame=bare_frame(tr("Put a vehicle on the road"), garage=around.garage, today=around.today, home_url=ROAD_URL),
        heading=heading,
        action_url=NEW_URL,
        button=tr("Go on"),
        groups=marked,
        step=tr("Step {step} of {steps}", step=step, steps=STEPS),
        said=said,
        problem=problem,
        hidden=(*carried, (STEP_FIELD, str(step + 1))),
        method="get",
        back=Link(tr("Back one step"), step_url(typed, step - 1)) if step > 1 else Link(tr("Vehicles"), VEHICLES_URL),
    )
