"""The log shows its own breaks: whatever is changed, taken out, put in or moved is found."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.audit.chain import FIRST_SEAL, first_break, seal
from tests.unit.clearance.drawing import many_examples, many_together

START = datetime(2026, 3, 10, 9, tzinfo=UTC)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One row of the log, as the database gives it."""

    sequence: int
    recorded_at: datetime
    actor_id: int | None
    action: str
    subject: str
    detail: dict[str, Any]
    previous_seal: str = ""
    seal: str = ""


def sealed(entry: Entry, previous: str) -> Entry:
    right = seal(
        previous=previous,
        sequence=entry.sequence,
        recorded_at=entry.recorded_at,
        actor_id=entry.actor_id,
        action=entry.action,
        subject=entry.subject,
        detail=entry.detail,
    )
    return replace(entry, previous_seal=previous, seal=right)


def chained(entries: Sequence[Entry]) -> list[Entry]:
    """Return the entries numbered and sealed one to the next."""
    chain: list[Entry] = []
    for number, entry in enumerate(entries, 1):
        previous = chain[-1].seal if chain else FIRST_SEAL
        chain.append(sealed(replace(entry, sequence=number), previous))
    return chain


WORDS = st.text(max_size=12)
VALUES = st.none() | st.booleans() | st.integers() | WORDS
FIELDS = {
    "recorded_at": st.integers(0, 10**12).map(lambda us: START + timedelta(microseconds=us)),
    "actor_id": st.none() | st.integers(1, 99),
    "action": WORDS,
    "subject": WORDS,
    "detail": st.dictionaries(WORDS, VALUES | st.lists(VALUES, max_size=3), max_size=3),
}
ENTRY = st.builds(Entry, sequence=st.just(0), **FIELDS)
CHAINS = st.lists(ENTRY, min_size=1, max_size=5).map(chained)


def place(data: st.DataObject, chain: list[Entry], *, last: int = 0) -> int:
    return data.draw(st.integers(0, len(chain) - 1 - last))


@many_examples
@given(CHAINS)
def test_a_chain_that_nobody_touched_is_whole(chain):
    assert first_break(chain) is None


def test_an_empty_log_is_whole():
    assert first_break([]) is None


@pytest.mark.parametrize("field", [*FIELDS, "sequence", "seal", "previous_seal"])
@many_together
@given(chain=CHAINS, data=st.data())
def test_a_change_of_any_field_is_found_at_its_entry(field, chain, data):
    at = place(data, chain)
    drawn = {
        **FIELDS,
        "sequence": st.integers(-1, 9),
        "seal": st.text("0123456789abcdef", min_size=64, max_size=64),
        "previous_seal": st.text("0123456789abcdef", min_size=64, max_size=64),
    }
    changed = data.draw(drawn[field])
    old = getattr(chain[at], field)
    assume((changed, repr(changed)) != (old, repr(old)))  # 1 and True are equal, but not alike
    assume(field != "detail" or repr(sorted(changed.items())) != repr(sorted(old.items())))
    chain[at] = replace(chain[at], **{field: changed})
    assert first_break(chain) == at + 1


@many_examples
@given(chain=CHAINS, data=st.data())
def test_an_entry_that_was_changed_and_sealed_again_breaks_at_the_next(chain, data):
    assume(len(chain) > 1)
    at = place(data, chain, last=1)
    forged = replace(chain[at], action=chain[at].action + "!")
    chain[at] = sealed(forged, forged.previous_seal)
    assert first_break(chain) == at + 2


@many_examples
@given(chain=CHAINS, data=st.data())
def test_an_entry_that_was_taken_out_is_found(chain, data):
    """All but the last: that the end was cut off, only the kept head can tell."""
    assume(len(chain) > 1)
    at = place(data, chain, last=1)
    del chain[at]
    assert first_break(chain) == at + 1


@many_examples
@given(chain=CHAINS, more=ENTRY, data=st.data())
def test_an_entry_that_was_put_in_is_found(chain, more, data):
    at = place(data, chain)
    forged = sealed(replace(more, sequence=at + 1), chain[at].previous_seal)
    chain.insert(at, forged)
    assert first_break(chain) == at + 2  # the entry after it names another before itself


@many_examples
@given(chain=CHAINS, data=st.data())
def test_entries_that_changed_places_are_found(chain, data):
    assume(len(chain) > 1)
    moved = data.draw(st.permutations(chain).filter(lambda order: order != chain))
    first_moved = next(n for n, entry in enumerate(moved, 1) if entry.sequence != n)
    assert first_break(moved) == first_moved


@many_examples
@given(chain=CHAINS)
def test_the_order_of_the_keys_of_the_detail_is_no_change(chain):
    turned = [replace(e, detail=dict(reversed(e.detail.items()))) for e in chain]
    assert first_break(turned) is None


def test_the_seal_is_the_sha_256_of_its_words():
    """The words as written out here by hand, hashed by FIPS 180-4 SHA-256.

    This is also what keeps old logs readable: the words of a seal may never change.
    """
    words = (
        f'["{FIRST_SEAL}",1,"2026-03-10T09:00:00+00:00",7,"training:sign-off:made",'
        '"record:12","{detail}"]'
    ).replace('"{detail}"', '{"induction":3,"note":"né"}')
    assert hashlib.sha256(words.encode()).hexdigest() == seal(
        previous=FIRST_SEAL,
        sequence=1,
        recorded_at=START,
        actor_id=7,
        action="training:sign-off:made",
        subject="record:12",
        detail={"note": "né", "induction": 3},
    )
