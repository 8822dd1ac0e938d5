"""Ways people and programs write what a dial shows: those that mean one number, and those that do not."""

from __future__ import annotations

SAME = (
    "84210",
    " 84210 ",
    "84 210",
    "84\u2009210",
    "84\u00a0210",
    "84\u202f210",
    "84,210",
    "84.210",
    "84'210",
    "84\u2019210",
    "084210",
    "084 210",
)
"""Every one of them is 84 210."""

SAME_WITH_UNIT = ("84210 mi", "84 210 mi", "84,210 MI", "84210mi", "84'210\u00a0miles")
"""The same in miles, for doors that take a unit behind the number."""

OTHER_UNIT = ("84210 km", "84'210 KM", "84210 h", "84210h")
"""Beside a choice of miles they say two things at once."""

REFUSED = (
    "84_210",
    "\u0668\u0664\u0662\u0661\u0660",  # Arabic digits
    "\uff18\uff14\uff12\uff11\uff10",  # full-width digits
    "\u09ee\u09ea\u09e8\u09e7\u09e6",  # Bengali digits
    "8421\u2070",  # a superscript nought
    "84210\u00b2",
    "\u00b2",
    "\u00bd",
    "9" * 4301,  # int() gives up at 4300 digits
    "1" + "0" * 12,
    "84k",
    "84,21",
    "84.21",
    "84,2105",
    "84,210.50",
    "84,210,5",
    "84 21",
    "84  210",
    "0,500",
    "1e5",
    "1E5",
    "0x1492",
    "+84210",
    "-84210",
    "\u221284210",
    "nan",
    "NaN",
    "inf",
    "Infinity",
    "84210 ft",
    "84210 m",
    "84210 km mi",
    "km",
    "84210..",
    ",84210",
    "84\u200b210",
    "84\u202e210",
    "=84210",
    "eighty four thousand",
    "true",
    "None",
)
"""Not a number, or two numbers at once; the sentence says what to write instead."""
