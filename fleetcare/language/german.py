"""What German needs beside its texts: forms of words that stand in a figure with its noun."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

DATIVE: Mapping[str, str] = MappingProxyType(
    {
        "Tage": "Tagen",
        "Monate": "Monaten",
        "Jahre": "Jahren",
        "ein": "einem",
        "eine": "einer",
        "kein": "keinem",
        "keine": "keiner",
        "Fahrzeuge": "Fahrzeugen",
        "Stände": "Ständen",
        "Termine": "Terminen",
        "Briefe": "Briefen",
        "Buchungen": "Buchungen",
    }
)
"""Words as they stand in a count, and after `vor`, `seit`, `in`, `nach`, `von` and `mit`."""

COUNTS = ("kein", "ein", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun", "zehn", "elf", "zwölf")
