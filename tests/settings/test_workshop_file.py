"""The figures of the workshop: each says what it means and how well it is known; an own file changes some."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.workshop import Stakes
from fleetcare.book.bench import Need
from fleetcare.errors import BadFile
from fleetcare.settings.places import SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop

SHIPPED = shipped_config() / SHIPPED_WORKSHOP
STATUSES = {"published source", "common practice, no source", "from memory", "measured on invented garages"}


def own(tmp_path: Path, text: str) -> Path:
    """A garage's own file."""
    path = tmp_path / "workshop.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_shipped_figure_says_what_it_means_and_how_well_it_is_known() -> None:
    workshop = load_workshop(SHIPPED)
    assert len(workshop.figures) == 29
    for key, figure in workshop.figures.items():
        assert figure.means.endswith("."), key
        assert figure.status in STATUSES, key


def test_money_is_cents_and_lateness_weighs_four() -> None:
    prices = load_workshop(SHIPPED).prices
    assert (prices.arrive, prices.out_of_use_per_hour, prices.opening_day) == (800, 80, 1500)
    assert prices.late_per_day(Stakes.WEAR) == 160
    assert prices.overdue(Stakes.LAW) == 160_000
    # 36.00 of parts and 40 minutes at 30.00 an hour over 240 days: 5600 / 240 = 23.3 cents a day.
    assert prices.early_per_day(parts_cents=3600, minutes=40, interval_days=240) == 23
    # 5.5 litres, 300 g and a filter; the gasket that no tag counts is one: 5.8 x 9.00 + 2 x 8.00.
    needs = (
        Need("oil", Decimal("5.5"), "L"),
        Need("grease", Decimal(300), "g"),
        Need("filter", Decimal(1), "pieces"),
        Need("gasket", None, "pieces"),
    )
    assert prices.materials(needs) == 6820
    # 0.6 of 8.00 + 4 x 0.80 + 15.00 + 9.00; and a fortnight late at 0.40 x 4 if likely due before.
    assert prices.skip_cents(setup_cents=900, likely_in_horizon=False, stakes=Stakes.WEAR) == 2112
    assert prices.skip_cents(setup_cents=900, likely_in_horizon=True, stakes=Stakes.WEAR) == 2112 + 14 * 160
    assert prices.moves.near_cents == 2000


def test_an_own_file_changes_what_it_names(tmp_path: Path) -> None:
    text = 'profile = "small_shop"\n[opening_day]\nvalue = 25.50\n[[setup]]\nname = "roof off"\nminutes = 5\ncost = 1\n'
    workshop = load_workshop(SHIPPED, own(tmp_path, text))
    assert workshop.prices.opening_day == 2550
    assert workshop.prices.arrive == 1800
    assert [one.name for one in workshop.prices.setups][-1] == "roof off"
    assert workshop.figures["opening_day"].status == "set by this garage"
    assert workshop.figures["opening_day"].means.startswith("Opening the bay")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('profile = "palace"', 1),
        ("\n[parking]\nvalue = 1", 2),
        ("[arrive]\nvalue = -1", 1),
        ('[arrive]\nvalue = "8"', 2),
        ("[arrive]\nvalue = 8.005", 2),
        ("[arrive]\nprice = 8", 2),
        ("[arrive]\nvalue = true", 2),
        ("[arrive]\nvalue = inf", 2),
        ("[arrive_minutes]\nvalue = 1.5", 2),
        ("[shift_share]\nvalue = 1.5", 1),
        ("arrive = 8", 1),
        ("[[setup]]\nname = 'x'", 1),
    ],
)
def test_a_figure_that_cannot_be_is_named_with_its_line(tmp_path: Path, text: str, line: int) -> None:
    with pytest.raises(BadFile) as fault:
        load_workshop(SHIPPED, own(tmp_path, text))
    assert [(one.file, one.line) for one in fault.value.faults] == [("workshop.toml", line)]


def test_the_shipped_hours_are_read_and_those_of_a_home_take_their_place(tmp_path: Path) -> None:
    shipped = load_workshop(shipped_config() / SHIPPED_WORKSHOP)
    saturday = next(each for each in shipped.hours if each.weekdays == (5,))
    assert (saturday.start, saturday.end, saturday.people, saturday.premium_cents_per_min) == (540, 1020, (), 0)
    assert next(each for each in shipped.hours if each.weekdays == (6,)).premium_cents_per_min == 8  # 4.80 an hour
    own = tmp_path / "workshop.toml"
    own.write_text('[[open]]\ndays = ["friday", "monday"]\nfrom = "8:00"\nuntil = "12:30"\npeople = ["ines"]\n')
    (hours,) = load_workshop(shipped_config() / SHIPPED_WORKSHOP, own).hours
    assert (hours.weekdays, hours.start, hours.end, hours.people) == ((0, 4), 480, 750, ("ines",))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('days = ["caturday"]\nfrom = "8:00"\nuntil = "9:00"', "days are weekdays"),
        ('days = []\nfrom = "8:00"\nuntil = "9:00"', "days are weekdays"),
        ('days = ["friday"]\nfrom = "8"\nuntil = "9:00"', "no time of day"),
        ('days = ["friday"]\nfrom = "9:00"\nuntil = "9:00"', "close before it opens"),
        ('days = ["friday"]\nfrom = "9:00"', "days, from and until"),
        ('days = ["friday"]\nfrom = "9:00"\nuntil = "10:00"\npeople = "ines"', "people are keys"),
    ],
)
def test_hours_that_cannot_be_are_refused_with_their_line(tmp_path: Path, text: str, said: str) -> None:
    own = tmp_path / "workshop.toml"
    own.write_text(f"# hours\n[[open]]\n{text}\n")
    with pytest.raises(BadFile) as caught:
        load_workshop(shipped_config() / SHIPPED_WORKSHOP, own)
    (fault,) = caught.value.faults
    assert said in fault.what
    assert fault.line >= 2


def test_skills_are_those_a_home_names_and_none_where_it_says_nothing(tmp_path: Path) -> None:
    shipped, own = shipped_config() / SHIPPED_WORKSHOP, tmp_path / "workshop.toml"
    assert load_workshop(shipped).skills == {}
    own.write_text('[skills]\nines = ["brakes", " brakes "]\nteo = []\n', encoding="utf-8")
    assert load_workshop(shipped, own).skills == {"ines": ("brakes",), "teo": ()}
    own.write_text('[skills]\nines = "brakes"\n', encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        load_workshop(shipped, own)
    assert "The skills of" in str(caught.value)
    assert caught.value.faults[0].line == 2


def test_orders_are_read_and_a_second_one_for_the_same_two_takes_its_place(tmp_path: Path) -> None:
    text = (
        '[[order]]\nfirst = "a"\nthen = "b"\n[[order]]\nfirst = "a"\nthen = "b"\ngap_days = 3\nmeans = "Clean first."\n'
    )
    workshop = load_workshop(SHIPPED, own(tmp_path, text))
    assert workshop.prices.orders == (Order("a", "b", 3),)
    assert workshop.figures["a, then b"].means == "Clean first."


@pytest.mark.parametrize(
    "text",
    [
        'first = "a"',
        'first = "a"\nthen = ""',
        'first = "a"\nthen = "b"\ngap_days = -1',
        'first = "a"\nthen = "b"\nif = 1',
    ],
)
def test_an_order_that_cannot_be_is_named_with_its_line(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadFile) as fault:
        load_workshop(SHIPPED, own(tmp_path, f"# orders\n[[order]]\n{text}\n"))
    assert [(one.file, one.line) for one in fault.value.faults] == [("workshop.toml", 2)]
