"""The verification code: 80 random bits, written so that a person can copy them from paper."""

import re
import secrets

# Crockford's base 32: no I, L, O, U, so that nothing can be taken for 1 or 0.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
BYTES = 10
LENGTH = BYTES * 8 // 5
GROUP = 4

_SEPARATORS = re.compile(r"[\s\-‐‑‒–—−._/]+")
_MISTAKEN = str.maketrans({"O": "0", "I": "1", "L": "1"})


def code_make() -> str:
    """A new code such as 7Q2M-0XKD-9RTV-41MN."""
    number = int.from_bytes(secrets.token_bytes(BYTES), "big")
    digits = [ALPHABET[(number >> shift) & 31] for shift in range(5 * (LENGTH - 1), -1, -5)]
    return _grouped("".join(digits))


def code_read(text: str) -> str | None:
    """A typed code in its one written form; None when it cannot be a code."""
    if len(text) > 100:
        return None
    plain = _SEPARATORS.sub("", text).upper().translate(_MISTAKEN)
    if len(plain) != LENGTH or any(sign not in ALPHABET for sign in plain):
        return None
    return _grouped(plain)


def _grouped(plain: str) -> str:
    return "-".join(plain[start : start + GROUP] for start in range(0, len(plain), GROUP))
