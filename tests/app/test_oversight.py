"""Audit findings end only by what was verified; drills and certificates stay on record."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.actions.actions import close_action, open_actions
from app.errors import Refused
from app.oversight.findings import end_finding, finding_or_404, followed
from app.oversight.models import AidCertificate, AuditFinding, Drill
from app.oversight.readiness import certificates, drills

FINDING = {
    "audit": "Yearly audit 2025",
    "reference": "4",
    "weight": "nonconformity",
    "words": "Hood not moved to the job",
    "area": "",
    "found_on": "2026-03-01",
    "what": "Mark the place of the hood",
    "owner": "Metal bay",
    "due_on": "2026-03-20",
}


@pytest.fixture
def finding_id(shop, visitor, database):
    visitor.sign_in(shop.chief)
    assert visitor.post("/audits/new", data=FINDING).status_code == 303
    with database.read() as session:
        return session.execute(select(AuditFinding.id)).scalar_one()


def test_a_finding_comes_with_what_is_done_by_whom_by_which_day(finding_id, visitor, database):
    with database.read() as session:
        (action,) = open_actions(session, [f"audit_finding:{finding_id}"])
    assert (action.what, action.owner) == (FINDING["what"], FINDING["owner"])
    assert FINDING["what"] in visitor.get(f"/audits/{finding_id}").text
    assert FINDING["words"] in visitor.get("/audits").text


def test_a_finding_does_not_end_while_something_is_still_to_be_done(finding_id, visitor, database):
    answer = visitor.post(f"/audits/{finding_id}/end", data={"verified": "Looked at it"})
    assert answer.status_code == 409
    assert FINDING["what"] in answer.text
    with database.read() as session:
        assert followed(session)[0].ended is None


def test_a_finding_ends_once_and_keeps_how_it_was_verified(finding_id, shop, visitor, database):
    with database.write() as session:
        (action,) = open_actions(session, [f"audit_finding:{finding_id}"])
        close_action(session, action, verified="Marked", actor_id=shop.chief.id, now=shop.now)
    assert visitor.post(f"/audits/{finding_id}/end", data={"verified": " "}).status_code == 422
    page = visitor.post(f"/audits/{finding_id}/end", data={"verified": "Three jobs watched"})
    assert page.status_code == 303
    assert "Three jobs watched" in visitor.get(f"/audits/{finding_id}").text
    with database.write() as session:
        row = finding_or_404(session, finding_id)
        with pytest.raises(Refused, match="ended already"):
            end_finding(session, row, verified="Again", actor_id=shop.chief.id, now=shop.now)


def test_findings_are_read_as_they_stood_at_a_moment(finding_id, shop, clock, database):
    before = shop.now
    clock.at += timedelta(days=1)
    with database.write() as session:
        (action,) = open_actions(session, [f"audit_finding:{finding_id}"])
        close_action(session, action, verified="Marked", actor_id=shop.chief.id, now=shop.now)
        row = finding_or_404(session, finding_id)
        end_finding(session, row, verified="Seen", actor_id=shop.chief.id, now=shop.now)
    with database.read() as session:
        assert followed(session, at=before - timedelta(minutes=1)) == []
        (then,) = followed(session, at=before)
        (now,) = followed(session, at=shop.now)
    assert (then.ended, len(then.open_actions)) == (None, 1)
    assert now.ended is not None
    assert now.open_actions == ()


def test_only_who_may_keep_findings_writes_one_down(shop, visitor):
    visitor.sign_in(shop.author)
    assert visitor.get("/audits").status_code == 200
    assert "Write down a finding" not in visitor.get("/audits").text
    assert visitor.post("/audits/new", data=FINDING).status_code == 403


def test_a_drill_that_was_struck_out_stays_on_record_with_why(shop, visitor, database):
    visitor.sign_in(shop.author)
    held = {"kind": "evacuation", "area": "", "held_on": "2026-03-01", "people": "31"}
    assert visitor.post("/drills", data=held | {"minutes": "4", "learnt": ""}).status_code == 303
    assert "31 people" in visitor.get("/drills").text
    with database.read() as session:
        (drill,) = drills(session)
    assert visitor.post(f"/drills/{drill.id}/strike", data={"why": "Wrong day"}).status_code == 303
    with database.read() as session:
        assert drills(session) == []
        assert session.execute(select(Drill.learnt)).scalars().all() == ["", "Wrong day"]


def test_a_drill_of_the_future_is_refused(shop, visitor, database):
    visitor.sign_in(shop.author)
    answer = visitor.post("/drills", data={"kind": "spill", "held_on": "2027-01-01"})
    assert answer.status_code == 422
    with database.read() as session:
        assert session.execute(select(Drill)).first() is None


def test_a_certificate_names_its_holder_and_ends_once(shop, visitor, database):
    visitor.sign_in(shop.author)
    paper = {
        "person": shop.author.email,
        "duty": "first aider",
        "certificate": "First aid at work",
        "issued_by": "A trainer",
        "issued_on": "2024-01-01",
        "expires_on": "2026-01-01",
    }
    assert visitor.post("/first-aiders", data=paper).status_code == 303
    assert "run out" in visitor.get("/first-aiders").text
    with database.read() as session:
        ((row, name),) = certificates(session)
    assert name == shop.author.name
    assert visitor.post(f"/first-aiders/{row.id}/end").status_code == 303
    assert visitor.post(f"/first-aiders/{row.id}/end").status_code == 409
    with database.read() as session:
        assert certificates(session) == []
        assert len(session.execute(select(AidCertificate)).all()) == 2


def test_a_certificate_of_nobody_is_refused(shop, visitor):
    visitor.sign_in(shop.author)
    answer = visitor.post("/first-aiders", data={"person": "Nobody At All"})
    assert answer.status_code == 422
    assert "Nobody is called that here." in answer.text
