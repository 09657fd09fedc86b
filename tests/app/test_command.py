"""The command: what it answers, and the exit status that a script can rely on."""

from __future__ import annotations

import json
import os
import sqlite3
import sys
from contextlib import closing
from dataclasses import dataclass

import pytest

from app.clearance.facts import machine_file_by_code
from app.cli import main
from app.labels.content import labels_of
from app.risk_assessments.run_mode import RunMode

AT = "2026-03-10T09:00+00:00"


@dataclass
class Done:
    status: int
    out: str
    err: str

    def refused(self) -> str:
        """Return the one sentence of a refusal."""
        assert self.status == 1, self
        assert self.out == ""
        assert self.err.startswith("chuckkey: ")
        assert self.err.count("\n") == 1, self.err
        return self.err


@pytest.fixture
def run(settings, monkeypatch, capsys):
    """Run the command over the test's own data."""
    for name in [name for name in os.environ if name.startswith("CHUCKKEY_")]:
        monkeypatch.delenv(name)

    def command(*arguments: object, data=settings.data) -> Done:
        place = ["--data", str(data)] if data else []
        monkeypatch.setattr(sys, "argv", ["chuckkey", *map(str, arguments), *place])
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        return Done(stop.value.code or 0, said.out, said.err)

    return command


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw", area=shop.area("Wood bay"))


@pytest.fixture
def ada(shop, saw):
    basics = shop.induction("Basics")
    revision = shop.assess(saw, inductions=[basics])
    person = shop.person("Ada Quill")
    shop.hold(person, basics)
    shop.acknowledge(person, revision)
    return person


# --- clearance ------------------------------------------------------------------------------


def test_cleared_ends_with_status_0(run, shop, saw, ada):
    done = run("clearance", ada.email, shop.code(saw), "--at", AT)
    assert done.status == 0
    assert done.out.startswith("Ada Quill at Panel saw: cleared\n")
    assert "holds until 2027-03-11T00:00:00+00:00" in done.out
    assert done.err == ""


def test_not_cleared_ends_with_status_1_and_says_why_and_who_can_mend_it(run, shop, saw, ada):
    bob = shop.person("Bob Reed")
    done = run("clearance", bob.email, "Panel saw", "--at", AT)
    assert done.status == 1
    assert "Bob Reed at Panel saw: not cleared" in done.out
    assert "(induction-missing)" in done.out
    assert done.err == ""


def test_the_answer_is_the_one_of_the_moment_that_was_asked_about(run, ada):
    asked = ("clearance", ada.email, "panel saw", "--json", "--at")
    for at, verdict, status in (
        ("2026-03-10T09:00", "cleared", 0),
        ("2027-03-10T23:59:59", "cleared", 0),
        ("2027-03-11T00:00:00", "not cleared", 1),
        ("2027-03-11T00:30:00+01:00", "cleared", 0),  # 23:30 of the day before at the site
        ("2026-03-10T08:59:59", "out of use", 1),  # nothing was in force yet
    ):
        done = run(*asked, at)
        assert (json.loads(done.out)["verdict"], done.status) == (verdict, status), at


def test_json_carries_everything_that_the_lines_say(run, shop, saw, ada):
    bob = shop.person("Bob Reed")
    found = json.loads(run("clearance", bob.card, saw.id, "--json", "--at", AT).out)
    assert found["person"] == {"id": bob.id, "name": "Bob Reed"}
    assert found["machine"] == {"id": saw.id, "name": "Panel saw"}
    assert found["decided_at"] == "2026-03-10T09:00:00+00:00"
    assert found["rules"] >= 1
    (reason,) = found["reasons"]
    assert reason["code"] == "induction-missing"
    assert "Basics" in reason["sentence"]
    assert reason["remedy"]
    assert reason["who_can_mend_it"]


@pytest.mark.parametrize("by", ["id", "email", "card", "name"])
def test_a_person_is_found_by_number_mail_card_or_name(run, ada, by):
    done = run("clearance", getattr(ada, by), "Panel saw", "--at", AT)
    assert done.status == 0


def test_a_code_may_be_typed_as_it_is_read_aloud(run, shop, saw, ada):
    code = shop.code(saw)
    done = run("clearance", ada.id, f"{code[:4].lower()}-{code[4:]}", "--at", AT)
    assert done.status == 0


def test_somebody_unknown_or_not_alone_of_that_name_is_refused(run, shop, ada):
    assert "no person “Nobody”" in run("clearance", "Nobody", "Panel saw").refused()
    assert "no machine “Nothing”" in run("clearance", ada.email, "Nothing").refused()
    shop.person("Ada Quill")
    words = run("clearance", "Ada Quill", "Panel saw").refused()
    assert "could be 2 of them: say the number or the code." in words
    for odd in ("9" * 30, "１", "%", "' OR 1=1 --", ""):
        assert "There is no person" in run("clearance", odd, "Panel saw").refused()


# --- wrong usage ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [
        ["clearance", "--frobnicate", "a", "b"],
        ["clearance", "a"],
        ["clearance", "a", "b", "c"],
        ["assessment", "Panel saw"],
        ["label", "Panel saw", "--pdf"],
        ["verify", "--at", "now"],
        ["serve", "--port", "0"],
        ["serve", "--port", "many"],
    ],
)
def test_wrong_usage_ends_with_status_2(run, arguments):
    done = run(*arguments)
    assert done.status == 2
    assert done.out == ""
    assert done.err.startswith("chuckkey: ")
    assert "Traceback" not in done.err


def test_an_unknown_command_or_option_ends_with_status_2(run):
    assert run("frobnicate", data=None).status == 2
    assert run("--frobnicate", data=None).status == 2


@pytest.mark.parametrize("at", ["yesterday", "2026-13-01", "9999-12-31T23:59-10:00", ""])
def test_a_moment_that_is_none_ends_with_status_2(run, ada, at):
    done = run("clearance", ada.email, "Panel saw", "--at", at)
    assert done.status == 2
    assert "ISO moment" in done.err


def test_help_ends_with_status_0(run):
    done = run("--help", data=None)
    assert done.status == 0
    for name in ("clearance", "assessment", "label", "verify", "init", "serve", "demo", "calc"):
        assert name in done.out


def test_calc_hands_the_status_of_the_calculation_out(run):
    assert run("calc", "--list", data=None).status == 0
    assert run("calc", "no-such-method", data=None).status != 0


# --- documents --------------------------------------------------------------------------------


def test_an_assessment_is_written_as_a_pdf_and_kept_as_issued(run, settings, ada, tmp_path):
    target = tmp_path / "assessment.pdf"
    assert run("assessment", "Panel saw", "--pdf", target).status == 0
    assert target.read_bytes().startswith(b"%PDF-")
    kept = [path for path in settings.files.rglob("*") if path.is_file()]
    assert [path.read_bytes() for path in kept] == [target.read_bytes()]
    again = tmp_path / "again.pdf"
    run("assessment", "Panel saw", "--pdf", again)
    assert again.read_bytes() == target.read_bytes()


def test_a_machine_without_an_assessment_gets_no_pdf(run, saw, tmp_path):
    target = tmp_path / "none.pdf"
    words = run("assessment", "Panel saw", "--pdf", target).refused()
    assert "No approved risk assessment is in force for Panel saw." in words
    assert not target.exists()


def test_a_label_is_written_even_without_an_assessment(run, saw, tmp_path):
    target = tmp_path / "label.pdf"
    done = run("label", "Panel saw", "--pdf", target)
    assert done.status == 0
    # The tests run at the address that is set where nobody set one.
    assert "an address that only this machine can open" in done.err
    assert done.err.count("\n") == 1
    assert target.read_bytes().startswith(b"%PDF-")
    refused = run("label", "Panel saw", "--pdf", target, "--sheet", "bedsheet").refused()
    assert "bedsheet" in refused


def test_a_label_names_the_strictest_run_mode_of_all_that_covers_the_machine(
    shop, settings, database
):
    drill = shop.machine("Drill")
    for mode in (RunMode.OPEN, RunMode.SUPERVISED, RunMode.OPEN):
        shop.assess(drill, run_mode=mode)
    with database.read() as session:
        (label,) = labels_of(session, [drill.id], settings, at=shop.now)
    assert label.run_mode == "supervised"


def test_a_place_that_cannot_be_written_is_told(run, saw, tmp_path):
    words = run("label", "Panel saw", "--pdf", tmp_path / "no-folder" / "label.pdf").refused()
    assert "cannot be written" in words


# --- the log ----------------------------------------------------------------------------------


def test_a_printed_code_is_pointed_at_a_successor_and_retired(run, shop, saw):
    code, newer = shop.code(saw), shop.machine("Newer saw")
    done = run("tag", code.lower(), "--to", "Newer saw")
    assert (done.status, done.out) == (0, f"{code} speaks for Newer saw from now on.\n")
    with shop.database.read() as session:
        assert machine_file_by_code(session, code, at=shop.now).facts.id == newer.id
    assert run("tag", code, "--retire").out == f"{code} is retired.\n"
    with shop.database.read() as session:
        assert machine_file_by_code(session, code, at=shop.now) is None
    assert "no live tag" in run("tag", code, "--to", "Newer saw").refused()
    assert run("tag", code).status == 2
    assert run("verify").status == 0


def test_a_whole_log_is_verified(run, ada):
    done = run("verify")
    assert (done.status, done.out) == (0, "The log is whole.\n")


@pytest.mark.parametrize(
    "harm",
    [
        "UPDATE audit_entry SET action = 'people:person:erase' WHERE sequence = 3",
        "UPDATE audit_entry SET actor_id = 1 WHERE sequence = 3",
        "UPDATE audit_entry SET recorded_at = '2020-01-01 00:00:00' WHERE sequence = 3",
        "UPDATE audit_entry SET detail = '{}' WHERE sequence = 3",
        "UPDATE audit_entry SET seal = previous_seal WHERE sequence = 3",
        "DELETE FROM audit_entry WHERE sequence = 3",
    ],
)
def test_a_log_that_was_tampered_with_is_told_from_where(run, settings, ada, harm):
    """Whoever holds the file can take the guards off; the seals still tell."""
    with closing(sqlite3.connect(settings.data / "chuckkey.sqlite")) as connection:
        connection.execute("DROP TRIGGER guard_audit_entry_update")
        connection.execute("DROP TRIGGER guard_audit_entry_delete")
        assert connection.execute(harm).rowcount == 1
        connection.commit()
    assert "does not fit together from entry 3 on" in run("verify").refused()


def test_a_log_whose_end_was_cut_off_is_told(run, settings, ada):
    with closing(sqlite3.connect(settings.data / "chuckkey.sqlite")) as connection:
        connection.execute("DROP TRIGGER guard_audit_entry_delete")
        connection.execute(
            "DELETE FROM audit_entry WHERE sequence = (SELECT max(sequence) FROM audit_entry)"
        )
        connection.commit()
        last = connection.execute("SELECT max(sequence) FROM audit_entry").fetchone()[0]
    assert f"does not fit together from entry {last + 1} on" in run("verify").refused()


def test_an_empty_log_is_whole_and_one_that_was_emptied_is_not(run, settings):
    assert run("verify").status == 0
    with closing(sqlite3.connect(settings.data / "chuckkey.sqlite")) as connection:
        connection.execute("UPDATE audit_head SET sequence = 7")
        connection.commit()
    assert "from entry 1 on" in run("verify").refused()


# --- the first account --------------------------------------------------------------------------

FIRST = ("--name", "Ada Quill", "--email", "Ada@Puppets.example", "--password", "a long password")


def test_init_makes_the_first_account_once(run, tmp_path):
    fresh = tmp_path / "fresh"
    done = run("init", *FIRST, data=fresh)
    assert done.status == 0
    assert "Ada Quill may sign in" in done.out
    again = run("init", *FIRST, data=fresh)
    assert again.status == 0
    assert "nobody was added" in again.out
    assert run("verify", data=fresh).status == 0


def test_init_refuses_a_short_password_and_adds_nobody(run, tmp_path):
    fresh = tmp_path / "fresh"
    assert "10 to 200" in run("init", *FIRST[:-1], "short", data=fresh).refused()
    assert run("init", *FIRST, data=fresh).status == 0


def test_init_leaves_a_database_of_a_newer_version_alone(run, settings):
    with closing(sqlite3.connect(settings.data / "chuckkey.sqlite")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9998'")
        connection.commit()
    assert "newer than this program" in run("init", *FIRST).refused()
