"""What follows from a finding, in words: one wording for page, sheet and command."""

from __future__ import annotations

from datetime import date

from fleetcare.wording import day_words, grouped
from fleetcare.work.findings import Follow, FollowKind


def follow_words(follow: Follow, found_on: date, today: date) -> str:
    """`Look again within 500 mi or by 12 May: drain a little.`"""
    todo = f": {follow.todo}" if follow.todo else ""
    match follow.kind:
        case FollowKind.NOTHING:
            return "Nothing follows."
        case FollowKind.HOLD:
            return f"Do not drive until it is settled{todo}."
        case FollowKind.SHORTEN:
            assert follow.factor is not None  # Follow sees to it
            return f"The next interval is cut to {follow.factor.normalize():f} of itself{todo}."
        case FollowKind.LOOK_AGAIN:
            by_day = follow.look_by(found_on)
            parts = [f"within {grouped(follow.distance)} {follow.unit}"] if follow.distance is not None else []
            parts += [f"by {day_words(by_day, today)}"] if by_day is not None else []
            return f"Look again {' or '.join(parts)}{todo}."
