"""Words that stand in many letters alike: the caution, and how to read the rod."""

from __future__ import annotations

from fleetcare.language import later, tr

SAFETY = later(
    "Go by the vehicle’s own manual in all work; if you are unsure, leave it to a qualified "
    "technician. A date here is reckoned, and no word that a vehicle is safe to drive."
)
_ROD_IN_HTML = later(
    "How to read the rod: dark is worn by the last reading, grey is reckoned since, strokes "
    "between the thin and the thick line are the due window, and what stands beyond the "
    "thick line is past late."
)
_ROD_IN_PLAIN = later(
    "How to read the rod: = worn by the last reading, ~ reckoned since, / due window, # worn "
    "into the window, ! past late. Each sign is 5 % of the service interval."
)


def rod_words(has_rods: bool) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """How to read the rod, in the HTML twin and in the plain one; nothing for a letter without a rod."""
    return ((tr(_ROD_IN_HTML),), (tr(_ROD_IN_PLAIN),)) if has_rods else ((), ())
