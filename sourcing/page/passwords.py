"""The password of a page that is open to the shop's network: only its hash is ever kept."""

from __future__ import annotations

import os
from pathlib import Path
from threading import Lock

from sourcing.faults import BadInput, BadPassword, shown
from sourcing.reading import read_text

SHORTEST = 10
LONGEST = 500  # a longer one is refused unread: hashing it would cost the shop's machine
_ONE = Lock()  # a guess takes 64 MB while it is looked at: one at a time, however many guess


def hashed(password: str) -> str:
    """The hash of a new password (Argon2id, with the library's own parameters and a salt of its own).

    Raises BadInput where it is too short or too long.
    """
    from argon2 import PasswordHasher

    if not SHORTEST <= len(password) <= LONGEST:
        raise BadInput([BadPassword(found=f"{len(password)} signs", expected=f"{SHORTEST} to {LONGEST} signs")])
    return PasswordHasher().hash(password)


def is_right(password: str, kept: str) -> bool:
    """Whether a password is the one that was hashed."""
    from argon2 import PasswordHasher
    from argon2.exceptions import VerificationError

    if len(password) > LONGEST:
        return False
    try:
        with _ONE:
            return PasswordHasher().verify(kept, password)
    except VerificationError:
        return False


def kept_in(path: Path) -> str:
    """The hash that a file holds. Raises BadInput where it holds none."""
    from argon2 import extract_parameters
    from argon2.exceptions import InvalidHashError

    kept = read_text(path).strip()
    try:
        extract_parameters(kept)
    except InvalidHashError:
        raise BadInput([BadPassword(file=shown(path), found="something else")]) from None
    return kept


def keep_in(path: Path, password: str) -> str:
    """Write a new password's hash into a file that only its owner may read; the hash. Never over another file.

    Raises BadInput where the password will not do.
    """
    kept = hashed(password)
    path.parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(kept + "\n")
    return kept
