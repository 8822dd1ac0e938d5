"""The only place that draws something nobody can guess: the keys in links."""

from __future__ import annotations

import base64
import hashlib
import secrets
from typing import Protocol


class KeyMaker(Protocol):
    """Makes keys for links."""

    def new_key(self) -> str:
        """A fresh key of at least 128 bits, safe in an address."""
        ...


class RandomKeys:
    """Keys from the operating system's random source."""

    def new_key(self) -> str:
        """43 characters, 256 bits."""
        return secrets.token_urlsafe(32)


def key_hash(key: str) -> str:
    """What is stored of a key: a plain hash is enough for 112 bits and more. Source: OWASP ASVS 5.0, 6.5.2."""
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()


def new_id(keys: KeyMaker) -> str:
    """A name for something for ever, which says nothing about it: 128 bits in hexadecimal.

    Source: RFC 7986, 5.3: a UID should not hold data about who or where.
    """
    return key_hash(keys.new_key())[:32]


def in_small_letters(key: str) -> str:
    """A key of 32 small letters and digits that follows from another one and does not lead back to it: 160 bits.

    For the left of a mail address, where programs on the way may change capitals and 64 octets are the most.
    """
    drawn = hashlib.sha256(f"in small letters\n{key}".encode("utf-8", "surrogatepass")).digest()
    return base64.b32encode(drawn[:20]).decode("ascii").lower()
