"""Files of jobs are read strictly: every fault with its line, and a garage's own jobs over the shipped ones."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.book.jobs import FromTag, StageKind, Wait
from fleetcare.errors import BadFile
from fleetcare.settings.job_files import load_jobs, parse_jobs
from fleetcare.settings.places import SHIPPED_JOBS, shipped_config

SHIPPED = shipped_config() / SHIPPED_JOBS

TEXT = """\
[caution.hot]
text = "Hot."
source = "usual advice"
status = "common practice, no source"

[consumable.oil]
what = "Oil"
from_tag = "refill"
unit = "L"
source = "usual"
status = "common practice, no source"

[consumable.wipes]
what = "Wipes"
amount = 8
source = "usual"
status = "common practice, no source"

[value.plug]
what = "Plug"
tag_name = "fill plug"
source = "the tag"
status = "set by this garage"

[stage.warm]
title = "Warm it"
minutes = 10
source = "usual"
status = "common practice, no source"

[job.oil]
title = "Oil"
services = ["oil"]
stages = ["warm", "drain", "drip", "fill"]
source = "usual"
status = "common practice, no source"

[[job.oil.stage]]
key = "drain"
title = "Drain it"
minutes = 20
consumables = [{ key = "wipes", amount = 4 }]
cautions = ["hot"]
look_at = [{ what = "Old oil", finding = "old-fluid" }, "Anything else"]

[[job.oil.stage]]
key = "drip"
title = "It drips"
least_minutes = 10
most_minutes = 60
wait = "open time"

[[job.oil.stage]]
key = "fill"
title = "Fill it"
minutes = 5
consumables = ["oil"]
values = ["plug"]
"""


def test_a_job_is_read_as_it_is_written() -> None:
    job = parse_jobs(TEXT, "jobs.toml")[0]["oil"]
    assert [stage.key for stage in job.stages] == ["warm", "drain", "drip", "fill"]
    warm, drain, drip, fill = job.stages
    assert (warm.kind, warm.minutes) == (StageKind.HANDS_ON, 10)
    assert (drip.kind, drip.least_minutes, drip.most_minutes, drip.wait) == (
        StageKind.STANDING,
        10,
        60,
        Wait.OPEN_TIME,
    )
    assert [(use.what, use.amount) for use in drain.consumables] == [("Wipes", Decimal(4))]
    assert [(look.what, look.finding) for look in drain.look_at] == [("Old oil", "old-fluid"), ("Anything else", "")]
    assert fill.consumables[0].from_tag is FromTag.REFILL
    assert fill.values[0].tag_name == "fill plug"
    assert job.hands_on_minutes == 35


@pytest.mark.parametrize(
    ("old", "new", "said", "at"),
    [
        ('cautions = ["hot"]', 'cautions = ["hat"]', "There is no caution “hat”.", 'cautions = ["hat"]'),
        ('values = ["plug"]', 'values = ["plugs"]', "There is no value “plugs”.", 'values = ["plugs"]'),
        ('consumables = ["oil"]', 'consumables = ["oils"]', "There is no consumable", 'consumables = ["oils"]'),
        ('"drip", "fill"]', '"drip", "fills"]', "There is no stage “fills”.", "stages = "),
        ('"drip", "fill"]', '"drip"]', "is not in the order", "stages = "),
        ("most_minutes = 60", "most_minutes = 6", "cannot wait at least 10 and at most 6", "most_minutes = 6"),
        ('key = "fill"\n', 'key = "fill"\nafter = ["lid"]\n', "follows lid", "[job.oil]"),
        ('key = "drain"\n', 'key = "drain"\nafter = ["fill"]\n', "go round in a loop", "[job.oil]"),
        ("minutes = 5", 'minutes = "5"', "minutes is", 'minutes = "5"'),
        ("minutes = 5", "minute = 5", "There is no key “minute”", "minute = 5"),
        ('text = "Hot."\nsource = "usual advice"\n', 'text = "Hot."\n', "The key source is missing.", "[caution.hot]"),
        ('title = "Oil"\n', "", "The key title is missing.", "[job.oil]"),
        ("amount = 8\n", "", "Wipes has no amount.", "[consumable.wipes]"),
        ("[value.plug]", "[values.plug]", "There is no table “values” here.", "[values.plug]"),
    ],
)
def test_a_fault_is_named_with_its_line(old: str, new: str, said: str, at: str) -> None:
    assert old in TEXT
    text = TEXT.replace(old, new)
    with pytest.raises(BadFile) as raised:
        parse_jobs(text, "jobs.toml")
    line = next(number for number, each in enumerate(text.splitlines(), start=1) if at in each)
    assert any(said in fault.what and fault.line == line for fault in raised.value.faults), raised.value


def test_a_garages_own_job_takes_the_place_of_the_shipped_one_and_builds_on_what_is_shared(tmp_path: Path) -> None:
    own = tmp_path / "jobs.toml"
    own.write_text(
        """
[job.engine-oil]
title = "Engine oil, our way"
services = ["engine oil"]
stages = ["warm", "ours", "waste"]
source = "this garage"
status = "set by this garage"

[[job.engine-oil.stage]]
key = "ours"
title = "As we do it"
minutes = 30
cautions = ["hot-fluid"]
consumables = ["engine-oil"]
""",
        encoding="utf-8",
    )
    shipped, ours = load_jobs(SHIPPED), load_jobs(SHIPPED, own)
    assert [stage.key for stage in ours.jobs["engine-oil"].stages] == ["warm", "ours", "waste"]
    assert ours.jobs.keys() == shipped.jobs.keys()
    assert load_jobs(SHIPPED, tmp_path / "none.toml") == shipped
