"""People and keys as pages: the list, one person with keys, a link shown once, a form not taken, somebody who left."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fleetcare.fleet.access import AccessKey, Purpose, Scope
from fleetcare.fleet.people import Light, Person, Role
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.look import look_card
from fleetcare.page.cards.people import people_card
from fleetcare.page.cards.person import PersonCard, ShownOnce, TriedPerson, person_card
from fleetcare.page.drawings.code import square_code
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, BELLOWS, GARAGE, INES, TODAY

TEO = replace(INES, key="teo", name="Teo Lindqvist", mail="teo@karstridge.example")
GONE = Person("wanda", "Wanda Okoro", roles=(), letter_weekday=None)
HOUSE = replace(GARAGE, list_keeper="ines")
MADE = datetime(2026, 3, 2, 12, tzinfo=UTC)
KEYS = (
    AccessKey("a" * 64, Purpose.API, "teo", "", MADE, name="tracker", scope=Scope.READINGS),
    AccessKey("b" * 64, Purpose.API, "teo", "AN", MADE, MADE + timedelta(days=90)),
    AccessKey("c" * 64, Purpose.SESSION, "teo", "", MADE, MADE + timedelta(days=90)),
    AccessKey("d" * 64, Purpose.FEED, "teo", "", MADE, name="phone"),
)
LINK = "https://garage.example/sign-in/k3y"
TRIED = TriedPerson(
    "Nothing says what this person does here. Tick at least one.", "role", "Noor", "noor@", "UTC", "mi", (), ("AN",)
)


def one(
    person: Person = TEO,
    *,
    done: Changed | None = None,
    once: ShownOnce | None = None,
    tried: TriedPerson | None = None,
    key_typed: dict[str, str] | None = None,
) -> PersonCard:
    """The page of one person, as Ines sees it."""
    return person_card(
        garage=HOUSE,
        reader=INES,
        today=TODAY,
        person=person,
        vehicles=(ANVIL, replace(BELLOWS, keeper="teo", drivers=("teo",))),
        keys=[] if person.has_left else KEYS,
        hands=2,
        state="5tate",
        can_enter=True,
        done=done,
        once=once,
        tried=tried,
        key_typed=key_typed,
    )


def people_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    everybody = people_card(
        garage=HOUSE, reader=INES, today=TODAY, people=(INES, replace(TEO, mail=""), GONE),
        vehicles=(ANVIL, BELLOWS), keys=KEYS, can_enter=True, tried=TRIED,
    )  # fmt: skip
    shown = ShownOnce("The way in for Teo", "It opens the garage once.", LINK, square_code(LINK))
    return {
        "people": made.people(everybody, "s3al"),
        "person": made.person(one(done=Changed("Teo Lindqvist; keeper: Teo Lindqvist; driver.", still="")), "s3al"),
        "person-once": made.person(one(once=shown), "s3al"),
        "person-problem": made.person(
            one(tried=TRIED, key_typed={"problem": "The name is empty.", "days": "x"}), "s3al"
        ),
        "person-gone": made.person(one(replace(GONE, roles=()), tried=None), "s3al"),
        "look": made.look(
            look_card(
                garage=HOUSE, reader=INES, today=TODAY, unit=INES.unit, light=Light.DEVICE, can_enter=True, saved=True
            ),
            "s3al",
        ),
        "look-stranger": made.look(
            look_card(
                garage=HOUSE,
                reader=None,
                today=TODAY,
                unit=None,
                light=Light.NIGHT,
                can_enter=False,
                problem="That is none of what there is to choose. Choose from the list.",
            ),
            "s3al",
        ),
        "person-onlooker": made.person(one(replace(TEO, roles=(Role.ONLOOKER,), mail="")), "s3al"),
    }
