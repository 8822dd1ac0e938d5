"""One letter of every kind, from the invented Karst Ridge garage on Tuesday 14 April 2026."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.digest.answer_letter import AnswerFate, AnswerNews, answer_letter
from fleetcare.digest.bay_day import BayDayNotice, bay_day_letter, bay_day_moved_letter
from fleetcare.digest.concerns import OpenFinding, services_ahead
from fleetcare.digest.letters import come_in_letter
from fleetcare.digest.notices import finding_letter, not_delivered_letter, past_late_letter
from fleetcare.digest.reading_letters import reading_again_letter, reading_letter, reading_missing_letter
from fleetcare.digest.values import DeliveryState, Letter, LetterKind, LetterPlace
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.work.record import Finding
from tests.digest.karst_ridge import BASE, BELLOWS, GARAGE, INES, LINKS, RAFT, STOP, TEO, TODAY, the_letter_to

BERLIN = ZoneInfo("Europe/Berlin")
ANVIL_DAY = BayDayNotice(
    key="bay-0147",
    mark="AN",
    name="Anvil",
    starts_at=datetime(2026, 4, 16, 9, 0, tzinfo=BERLIN),
    services=("Rear axle fluid, cover reseal", "Axle vents, hoses and caps"),
    hands_on_minutes=140,
    then="Then it stands 24 h while the sealant cures; Friday 12:20 another 1 h 20.",
    with_names=("Ines",),
    why="It is the last free Thursday before the hill climb on 1 May, for which it is wanted.",
    sheet=147,
    cautions=("Chock the wheels and use stands; never trust a jack alone.", "Let the axle cool before you drain it."),
)
LOST = tuple(
    LetterPlace(
        id=number,
        person=person,
        kind=LetterKind.GARAGE,
        period="2026-W15",
        message_id=f"<{person}@x>",
        subject="Garage letter, 7 April: one window open",
        to_mail=f"{person}@garage.karstridge.example",
        decided_at=datetime(2026, 4, 7, 5, tzinfo=UTC),
        expires_at=datetime(2026, 4, 14, 5, tzinfo=UTC),
        state=state,
        tries=1,
        next_try_at=None,
        leased_until=None,
        last_answer=answer,
        sent_at=None,
    )
    for number, (person, state, answer) in enumerate(
        [
            ("piet", DeliveryState.FAILED, "550 5.1.1 no such mailbox"),
            ("wanda", DeliveryState.EXPIRED, "451 4.7.1 try again later"),
        ]
    )
)


def every_letter(
    person: Person = TEO,
    garage: Garage = GARAGE,
    bellows: VehicleOutlook = BELLOWS,
    raft: VehicleOutlook = RAFT,
    *,
    text: str = "rear cover damp at the lower left bolt",
    day: BayDayNotice = ANVIL_DAY,
) -> dict[str, Letter]:
    """Letters by a short name, with these in place of the usual ones."""
    plain: dict[str, Any] = {"garage": garage, "person": person, "today": TODAY, "base_url": BASE}
    asking = {**plain, "outlook": bellows, "link": LINKS["BE"], "link_until": date(2026, 5, 19), "stop_url": STOP}
    late = [each for each in services_ahead((raft,), TODAY) if each.window.is_past_late(TODAY)]
    two = (replace(late[0], line=replace(late[0].line, row=replace(late[0].line.row, short="lights"))), *late)
    damp = OpenFinding(date(2026, 4, 12), Finding(text, date(2026, 4, 30)), date(2026, 4, 30))
    notice = {**plain, "stop_url": STOP}
    names = {"piet": "Piet Maartens", "wanda": "Wanda Okafor"}
    about = {**plain, "link_until": date(2026, 5, 19)}
    return {
        "garage": the_letter_to(person, garage=garage, outlooks=(bellows, raft)),
        "garage-ines": the_letter_to(INES, missed="No letter was written last week; this one has what came up since."),
        "garage-bay": the_letter_to(
            TEO,
            bay_days=(
                day,
                replace(day, starts_at=datetime(2026, 4, 25, 18, 0, tzinfo=BERLIN), then="", is_inked=False),
            ),
        ),
        "reading": reading_letter(**asking),
        "reading-by-mail": reading_letter(**asking, reply_to="readings+k3y@garage.karstridge.example"),
        "reading-again": reading_again_letter(**asking),
        "reading-missing": reading_missing_letter(**asking, asked=("Piet", "Wanda")),
        "past-late": past_late_letter(**notice, services=late),
        "past-late-two": past_late_letter(**notice, services=two),
        "finding": finding_letter(**notice, outlook=bellows, findings=[damp], by="Ines"),
        "bay-day": bay_day_letter(**notice, notice=day),
        "bay-day-moved": bay_day_moved_letter(
            **notice, notice=replace(day, moved_from=date(2026, 4, 25), is_inked=False)
        ),
        "not-delivered": not_delivered_letter(**plain, lost=LOST, names=names),
        **{
            f"answer-{fate.value.replace(' ', '-')}": answer_letter(
                **about,
                news=AnswerNews(bellows.vehicle, fate, "99 210", text),
                link=LINKS["BE"] if fate is not AnswerFate.TOO_LATE else "",
            )
            for fate in AnswerFate
        },
        "come-in": come_in_letter(
            garage=garage, person=person, link=f"{BASE}/sign-in/k3y", until=datetime(2026, 4, 14, 22, 20, tzinfo=UTC)
        ),
    }
