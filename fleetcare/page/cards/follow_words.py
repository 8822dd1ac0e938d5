"""What follows from a finding, in words: one wording for page, sheet and command."""

from __future__ import annotations

from datetime import date

from fleetcare.language import in_force, tr, tr_book
from fleetcare.wording import day_words, document_words
from fleetcare.work.findings import Follow, FollowKind


def follow_words(follow: Follow, found_on: date, today: date) -> str:
    """`Look again within 500 mi or by 12 May: drain a little.`"""
    todo = f": {tr_book(follow.todo)}" if follow.todo else ""
    match follow.kind:
        case FollowKind.NOTHING:
            return tr("Nothing follows.")
        case FollowKind.HOLD:
            return tr("Do not drive until it is settled{todo}.", todo=todo)
        case FollowKind.SHORTEN:
            assert follow.factor is not None  # Follow sees to it
            share = f"{(follow.factor * 100).normalize():f}".replace(".", in_force().decimal)
            return tr("The next interval is cut to {share} % of itself{todo}.", share=share, todo=todo)
        case FollowKind.LOOK_AGAIN:
            by_day = follow.look_by(found_on)
            parts = (
                [tr("within {distance}", distance=document_words(follow.distance, follow.unit))]
                if follow.distance is not None
                else []
            )
            parts += [tr("by {day}", day=day_words(by_day, today))] if by_day is not None else []
            return tr("Look again {join}{todo}.", join=tr(" or ").join(parts), todo=todo)
