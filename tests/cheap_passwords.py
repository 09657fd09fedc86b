"""Hashing a password is slow on purpose, and tests ask for it hundreds of times: here it is cheap.

tests/app/test_sign_in.py holds, in a process of its own, that the program itself is not.
"""

from __future__ import annotations

from argon2 import PasswordHasher

from app.people import passwords

CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
passwords._hasher = CHEAP
passwords._NOBODY = CHEAP.hash("nobody has this password")
