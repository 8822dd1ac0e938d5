"""Every state that is shown by its name has a text in the catalogue."""

from __future__ import annotations

from fleetcare.book.rows import Status
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.language import speaking
from fleetcare.page.cards.state_words import WORDS, state_word
from fleetcare.page.drawings.dipstick import Standing
from fleetcare.settings.catalogues import tongue_of
from fleetcare.work.order import OrderState


def test_every_state_is_among_the_words() -> None:
    shown = {state.value for kind in (Status, VisitState, OrderState, Standing) for state in kind}
    assert shown == WORDS


def test_a_state_is_said_in_the_language_in_force() -> None:
    assert state_word(VisitState.INKED) == "inked"
    with speaking(tongue_of("de")):
        assert state_word(VisitState.INKED) == "fest"
