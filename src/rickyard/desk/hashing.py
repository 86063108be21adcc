"""argon2id, a few at a time: each hash takes 64 MiB, and what anybody may ask for must not take all the memory.

Whoever wants a password compared takes a place first. When all places are taken the next one is sent away at once,
so that a flood of sign-ins takes neither the memory nor the threads that answer pages.
"""

from __future__ import annotations

import base64
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError
from argon2.low_level import ARGON2_VERSION

from rickyard.errors import RefusedError
from rickyard.text import T_

# At one time, in this process: 128 MiB. The lanes of one keep two cores busy already.
AT_ONCE = 2
# Compared or waiting for it; a quarter of the threads that answer pages, and about a second for the last one.
PLACES = 10

# The costs are the library's own (RFC 9106, second recommended option: 64 MiB, three passes, four lanes).
_HASHER = PasswordHasher()
_turns = threading.BoundedSemaphore(AT_ONCE)
_places = threading.BoundedSemaphore(PLACES)


def _of_no_password() -> str:
    """What a fresh hash looks like, of the same costs, but drawn: making one took a fifth of a second of each start."""
    salt, made = (
        base64.b64encode(secrets.token_bytes(size)).decode().rstrip("=")
        for size in (_HASHER.salt_len, _HASHER.hash_len)
    )
    costs = f"m={_HASHER.memory_cost},t={_HASHER.time_cost},p={_HASHER.parallelism}"
    return f"$argon2id$v={ARGON2_VERSION}${costs}${salt}${made}"


# Compared with when nobody has the name, so that the time taken does not tell.
NOBODY = _of_no_password()


@contextmanager
def place() -> Iterator[None]:
    """A place among those whose password is compared; RefusedError (`busy_sign_in`) if there is none."""
    if not _places.acquire(blocking=False):
        raise RefusedError(
            T_("Many are signing in at this moment. Wait a few seconds, then try again."),
            code="busy_sign_in",
            field="password",
        )
    try:
        yield
    finally:
        _places.release()


def matches(argon2: str, password: str) -> bool:
    """Whether the hash is this password's; asked by somebody who has a place."""
    with _turns:
        try:
            return _HASHER.verify(argon2, password)
        except (Argon2Error, InvalidHashError):
            return False


def hash_of(password: str) -> str:
    """A fresh hash with its own salt and costs."""
    with _turns:
        return _HASHER.hash(password)
