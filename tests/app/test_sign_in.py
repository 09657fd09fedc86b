"""Signing in and out: what lets in, for how long, and what ends it."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.errors import Refused
from app.people import passwords
from app.people.models import Membership, Person, SignIn, SignInAttempt
from app.people.rights import Role
from app.people.signin import (
    begin,
    note_failure,
    sign_out_everywhere,
    token_digest,
    verified,
)
from tests.factories import PASSWORD

WRONG = "That name and password do not belong together."


def try_in(visitor, login, password=PASSWORD):
    return visitor.post("/sign-in", data={"login": login, "password": password})


def is_in(visitor):
    return visitor.get("/me").status_code == 200


def plain(page, login):
    """Return the page without the login that was typed and the token of its form."""
    return re.sub(r'name="csrf_token" value="[^"]+"', "", page.replace(login, "X"))


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


def test_the_right_password_lets_in(visitor, ada):
    answer = try_in(visitor, ada.email)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/me"
    assert "Ada Quill" in visitor.get("/me").text


def test_the_card_number_is_a_login_and_letters_may_be_small(visitor, another, ada):
    assert try_in(visitor, ada.card.lower()).status_code == 303
    assert try_in(another, f"  {ada.email.upper()} ").status_code == 303
    assert is_in(visitor)
    assert is_in(another)


def test_a_wrong_password_lets_nobody_in_and_keeps_the_name_typed(visitor, ada):
    answer = try_in(visitor, ada.email, "not the password")
    assert answer.status_code == 403
    assert WRONG in answer.text
    assert f'value="{ada.email}"' in answer.text
    assert "not the password" not in answer.text
    assert not is_in(visitor)


def test_an_unknown_name_is_answered_like_a_wrong_password(visitor, another, ada):
    nobody = "nobody@puppets.example"
    known = try_in(visitor, ada.email, "not the password")
    unknown = try_in(another, nobody, "not the password")
    assert known.status_code == unknown.status_code
    assert plain(known.text, ada.email) == plain(unknown.text, nobody)


def test_an_unknown_name_costs_one_hash_like_a_known_one(shop, visitor, ada, monkeypatch):
    verified = []
    hasher = passwords._hasher

    class Counting:
        def verify(self, kept: str, given: str) -> bool:
            verified.append(kept)
            return hasher.verify(kept, given)

    monkeypatch.setattr(passwords, "_hasher", Counting())
    try_in(visitor, ada.email, "not the password")
    try_in(visitor, "nobody@puppets.example", "not the password")
    assert len(verified) == 2
    # Both hashes ask for the same work: the parameters stand before the salt.
    assert len({kept.rsplit("$", 2)[0] for kept in verified}) == 1


def test_somebody_without_a_password_cannot_sign_in(shop, visitor, database):
    nobody = shop.person("No Password")
    with database.write() as session:
        row = session.get_one(Person, nobody.id)
        row.password_hash = None
    assert try_in(visitor, row.email, "").status_code == 403
    assert try_in(visitor, row.email, "nobody has this password").status_code == 403


def test_somebody_erased_cannot_sign_in(shop, visitor, ada, database):
    with database.write() as session:
        session.get_one(Person, ada.id).erased_at = shop.now
    assert try_in(visitor, ada.email).status_code == 403


@pytest.mark.parametrize("password", ["", "x" * 201, "pass\x00word", "😀" * 3])
def test_a_password_that_cannot_be_right_is_only_wrong(visitor, ada, password):
    assert try_in(visitor, ada.email, password).status_code == 403


def test_no_password_and_no_token_is_kept_in_the_clear(visitor, ada, database):
    try_in(visitor, ada.email)
    with database.read() as session:
        kept = session.execute(select(Person.password_hash)).scalars()
        assert all(PASSWORD not in (words or "") for words in kept)
        digest = session.execute(select(SignIn.token_digest)).scalar_one()
    with visitor.client.session_transaction() as cookie:
        token = cookie["_user_id"]
    assert digest == token_digest(token) != token


# --- guessing -------------------------------------------------------------------------------


def test_guessing_is_slowed_after_five_and_free_again_after_a_quarter_of_an_hour(
    visitor, ada, clock
):
    for _ in range(5):
        assert try_in(visitor, ada.email, "a guess at it").status_code == 403
    slowed = try_in(visitor, ada.email, "a guess at it")
    assert slowed.status_code == 429
    assert "Too many tries. Wait a quarter of an hour" in slowed.text
    assert try_in(visitor, ada.email).status_code == 429, "even the right one"
    clock.at += timedelta(minutes=14, seconds=59)
    assert try_in(visitor, ada.email).status_code == 429
    clock.at += timedelta(seconds=1)
    assert try_in(visitor, ada.email).status_code == 303


def test_slowing_one_name_slows_no_other(shop, visitor, another, ada):
    for _ in range(6):
        try_in(visitor, ada.email, "a guess at it")
    assert try_in(another, shop.person().email).status_code == 303


def test_an_address_that_tries_many_names_is_slowed(visitor, shop, database, clock):
    with database.write() as session:
        session.add_all(
            SignInAttempt(key_digest=token_digest("address:127.0.0.1"), tried_at=clock.at)
            for _ in range(50)
        )
    assert try_in(visitor, shop.chief.email).status_code == 429


def test_guessing_at_a_signature_is_slowed_too(shop, visitor, clock):
    basics = shop.induction()
    technician, bob = shop.technician(basics), shop.person()
    visitor.sign_in(technician)
    clock.at += timedelta(minutes=6)
    form = {
        "key": "a-key-of-the-form",
        "seen_record_id": "0",
        "result": "not yet",
        "password": "a guess at it",
    }
    address = f"/people/{bob.id}/inductions/{basics.id}"
    assert [visitor.post(address, data=form).status_code for _ in range(6)] == [403] * 5 + [429]


def test_nobody_waits_to_write_while_a_password_is_verified(
    shop, visitor, ada, database, clock, monkeypatch
):
    written = []
    hasher = passwords._hasher

    class Writing:
        """Takes the write lock while it verifies, as another request would."""

        def verify(self, kept: str, given: str) -> bool:
            with database.write() as session:
                session.add(SignInAttempt(key_digest=token_digest("other"), tried_at=clock.at))
            written.append(kept)
            return hasher.verify(kept, given)

    monkeypatch.setattr(passwords, "_hasher", Writing())
    assert try_in(visitor, ada.email, "not the password").status_code == 403
    assert try_in(visitor, shop.chief.email).status_code == 303
    clock.at += timedelta(minutes=6)
    form = {"reason": "Asked to wait", "password": PASSWORD}
    assert visitor.post(f"/people/{ada.id}/suspend", data=form).status_code == 303
    assert len(written) == 3


def test_guesses_made_at_once_tell_no_more_than_one_by_one(shop, ada, database):
    asked = {"login": ada.email, "address": "127.0.0.1", "now": shop.now}
    with database.read() as session:
        person = verified(session, password=PASSWORD, **asked)
    assert person is not None
    with database.write() as session:
        for _ in range(5):
            note_failure(session, **asked)
    with pytest.raises(Refused, match="Too many tries"), database.write() as session:
        begin(session, person, device="", shared=False, **asked)
    with pytest.raises(Refused, match="Too many tries"), database.write() as session:
        note_failure(session, **asked)


def test_a_password_changed_meanwhile_lets_nobody_in(shop, ada, database):
    asked = {"login": ada.email, "address": "127.0.0.1", "now": shop.now}
    with database.read() as session:
        person = verified(session, password=PASSWORD, **asked)
    assert person is not None
    with database.write() as session:
        row = session.get_one(Person, ada.id)
        row.password_hash = passwords.hash_password("another password")
    with pytest.raises(Refused, match="just been changed"), database.write() as session:
        begin(session, person, device="", shared=False, **asked)


# --- how long it lasts -----------------------------------------------------------------------


def test_a_remembered_sign_in_outlives_the_browser(visitor, ada):
    try_in(visitor, ada.email)
    visitor.client.delete_cookie("chuckkey")
    assert is_in(visitor)


def test_a_remembered_sign_in_dies_when_it_is_revoked(shop, visitor, ada, database):
    try_in(visitor, ada.email)
    visitor.client.delete_cookie("chuckkey")
    with database.write() as session:
        sign_out_everywhere(session, person_id=ada.id, actor_id=ada.id, now=shop.now)
    assert not is_in(visitor)


def test_a_sign_in_that_is_revoked_stops_at_once(shop, visitor, another, ada):
    try_in(visitor, ada.email)
    assert is_in(visitor)
    another.sign_in(shop.chief)
    answer = another.post(f"/people/{ada.id}/sign-out")
    assert answer.status_code == 303
    assert not is_in(visitor)
    refused = visitor.post("/sign-out")
    assert refused.status_code == 403


def test_a_sign_in_lasts_sixty_days_and_no_longer(visitor, ada, clock):
    try_in(visitor, ada.email)
    clock.at += timedelta(days=60) - timedelta(seconds=1)
    assert is_in(visitor)
    clock.at += timedelta(seconds=1)
    assert not is_in(visitor)


def test_signing_out_ends_this_sign_in_and_its_memory(visitor, another, ada):
    try_in(visitor, ada.email)
    try_in(another, ada.email)
    kept = visitor.client.get_cookie("chuckkey_remembered").value
    assert visitor.post("/sign-out").status_code == 303
    assert visitor.client.get_cookie("chuckkey_remembered") is None
    assert not is_in(visitor)
    visitor.client.set_cookie("chuckkey_remembered", kept)  # a copy that somebody made
    assert not is_in(visitor)
    assert is_in(another)


def test_signing_out_everywhere_ends_every_sign_in(visitor, another, ada):
    try_in(visitor, ada.email)
    try_in(another, ada.email)
    assert visitor.post("/sign-out/everywhere").status_code == 303
    assert "Signed out on every device." in visitor.get("/sign-in").text
    assert not is_in(visitor)
    assert not is_in(another)


def test_a_sign_in_starts_with_a_session_of_its_own(visitor, ada):
    visitor.get("/sign-in")
    with visitor.client.session_transaction() as cookie:
        cookie["planted"] = "by somebody else"
    try_in(visitor, ada.email)
    with visitor.client.session_transaction() as cookie:
        assert "planted" not in cookie


def test_who_is_signed_in_is_not_asked_again(visitor, ada):
    try_in(visitor, ada.email)
    assert visitor.get("/sign-in?next=/me/code").headers["Location"] == "/me/code"


# --- belonging here ----------------------------------------------------------------------------


def test_a_role_counts_through_the_last_day_and_not_after_it(shop, visitor, clock):
    last = clock.at.date() + timedelta(days=1)
    leaver = shop.person("Leaving Soon", roles=[Role.TECHNICIAN, Role.APPROVER], ends_on=last)
    visitor.sign_in(leaver)
    clock.at += timedelta(days=1)
    assert visitor.get("/people").status_code == 200
    clock.at += timedelta(days=1)
    assert visitor.get("/people").status_code == 403
    assert is_in(visitor), "their own record stays theirs to read"


def test_a_role_does_not_count_before_the_first_day(shop, visitor, clock):
    first = clock.at.date() + timedelta(days=1)
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN], starts_on=first))
    assert visitor.get("/people").status_code == 403
    clock.at += timedelta(days=1)
    assert visitor.get("/people").status_code == 200


def test_the_latest_word_on_a_membership_counts(shop, visitor, database, clock):
    technician = shop.technician()
    visitor.sign_in(technician)
    with database.write() as session:
        session.add(
            Membership(
                person_id=technician.id,
                starts_on=clock.at.date() - timedelta(days=9),
                ends_on=clock.at.date() - timedelta(days=1),
                recorded_at=clock.at,
            )
        )
    assert visitor.get("/people").status_code == 403


# --- the code that a person shows ----------------------------------------------------------------


def code_of(visitor, app, person, at):
    from app.people.codes import code_for

    return code_for(person.id, secret=app.config["SECRET_KEY"], now=at)


def test_a_shown_code_opens_the_person_for_two_minutes(app, shop, visitor, ada, clock):
    code = code_of(visitor, app, ada, clock.at)
    visitor.sign_in(shop.author)
    clock.at += timedelta(seconds=120)
    assert visitor.get(f"/c/{code}").headers["Location"] == f"/people/{ada.id}"
    clock.at += timedelta(seconds=1)
    late = visitor.get(f"/c/{code}")
    assert late.status_code == 404
    assert "run out" in late.text


@pytest.mark.parametrize("forged", ["WzEsMTc3MzEzMzIwMF0.forged", "x", "...", "W10.", "0"])
def test_a_forged_code_opens_nobody(shop, visitor, forged):
    visitor.sign_in(shop.author)
    assert visitor.get(f"/c/{forged}").status_code == 404


def test_a_code_from_the_future_opens_nobody(app, shop, visitor, ada, clock):
    visitor.sign_in(shop.author)
    code = code_of(visitor, app, ada, clock.at + timedelta(minutes=5))
    assert visitor.get(f"/c/{code}").status_code == 404


def test_the_page_of_the_code_makes_itself_anew(visitor, ada):
    try_in(visitor, ada.email)
    page = visitor.get("/me/code").text
    seconds = int(re.search(r'http-equiv="refresh" content="(\d+)"', page)[1])
    assert 0 < seconds < 120


def test_the_program_itself_hashes_slowly():
    asked = "from app.people.passwords import hash_password as h; print(h('a long password'))"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    kind, _version, cost = told.stdout.split("$")[1:4]
    assert kind == "argon2id"
    # The second recommended option of RFC 9106 section 4: 64 MiB, three passes.
    assert cost == "m=65536,t=3,p=4"
