"""Keys for programs on the command line: made once, listed without themselves, ended by name."""

from __future__ import annotations

from pathlib import Path

from fleetcare.chance import key_hash
from fleetcare.fleet.access import Purpose, Scope
from tests.cli.conftest import Run, parts_of_home


def test_a_key_is_shown_once_and_only_its_hash_is_kept(run: Run, home: Path) -> None:
    key = run("token", "Teo", "--name", "tracker", "--scope", "readings", "--vehicle", "Bellows", "--json").data["api"]
    parts = parts_of_home(home)
    with parts.store.read() as view:
        stored = view.key(key_hash(key))
    parts.close()
    assert stored is not None
    assert (stored.purpose, stored.person, stored.mark, stored.scope) == (Purpose.API, "teo", "BE", Scope.READINGS)
    listed = run("token", "Teo", "--list")
    assert "tracker: readings, BE alone, made " in listed.out
    assert key not in listed.out


def test_keys_end_by_name_or_all_at_once(run: Run) -> None:
    for name in ("tracker", "shelf", ""):
        run("token", "Teo", "--name", name)
    assert run("token", "Teo", "--revoke", "--name", "tracker", "--json").data == {"ended": 1}
    assert [one["name"] for one in run("token", "Teo", "--list", "--json").data] == ["shelf", ""]
    assert "shelf" in run("token", "Teo", "--revoke", "--name", "shelv").sentence
    assert run("token", "Teo", "--revoke").out == "2 keys ended.\n"
    assert run("token", "Teo", "--list").out == "There is no key.\n"


def test_what_is_no_scope_person_or_vehicle_is_refused(run: Run) -> None:
    assert "look, readings" in run("token", "Teo", "--scope", "everything").sentence
    assert "Tea" in run("token", "Tea").sentence
    assert "Bellows" in run("token", "Teo", "--vehicle", "Bellow").sentence
