"""Every kind of the catalogue leads to a draft that can be frozen as it stands."""

from __future__ import annotations

import pytest

from app.authoring import controls
from app.authoring.from_kind import draft_from_kind
from app.authoring.line import lines_of
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis
from app.hazards.terms import Terms
from app.people.models import Person
from app.risk_assessments.confirmed import progress_of
from app.risk_assessments.freeze import submit
from assessments.catalogue import kind, kinds
from assessments.document.frozen import thaw
from assessments.hierarchy import Level
from tests.factories import SITE


@pytest.mark.parametrize("key", sorted(kinds()))
def test_every_kind_can_be_confirmed_as_it_stands_and_be_submitted(shop, database, key):
    machine, by = shop.machine(), {"actor_id": shop.author.id, "now": shop.now}
    with database.write() as session:
        draft = draft_from_kind(
            session, kind(key), {machine.id: ""}, reference="RA-1", title="A", **by
        )
        for line in lines_of(session, draft.id):
            line.to_confirm = False
        for each in progress_of(session, draft).open_suggestions:
            controls.decide(session, draft, each, as_suggested(each), **by)
        draft.prose = draft.prose | {"to_confirm": []}
        author = session.get_one(Person, shop.author.id)
        revision = submit(
            session, draft, author=author, site=SITE, material=True, change_note="", now=shop.now
        )
    assert len(thaw(revision.content).hazards) == len(kind(key).hazards)


def as_suggested(each):
    """Take a control with the checks that the kind proposes, unchanged."""
    checks = [
        (
            str(check["title"]),
            Terms(
                every=check["every"],
                unit=IntervalUnit(check["unit"]),
                basis=Basis(check["basis"]),
                basis_source=check["source"],
                **{n: check[n] for n in ("done_by", "passes_when", "measure", "low", "high")},
            ),
        )
        for check in each.checks
    ]
    return controls.Decision(
        proved=controls.Proved.NEW if checks else controls.Proved.WORDS,
        words="Seen on the round.",
        control_id=None,
        title=each.title,
        level=Level(each.level),
        details=each.details,
        shared=each.shared,
        checks=tuple(checks),
    )
