"""The desk: what stops people, what is due, and a way to everything else for each role."""

from __future__ import annotations

import re

import pytest

from app.people.rights import Role

STAFF = [Role.TECHNICIAN, Role.APPROVER, Role.AUDITOR, Role.ADMINISTRATOR]


@pytest.mark.parametrize("role", STAFF)
def test_every_way_from_the_desk_leads_somewhere_for_whoever_sees_it(shop, visitor, role):
    visitor.sign_in(shop.person("Somebody", roles=[role]))
    page = visitor.get("/desk").text
    ways = set(re.findall(r'<a class="whole" href="([^"]+)"', page))
    assert len(ways) > 10
    for way in ways:
        assert visitor.get(way).status_code == 200, way


def test_what_stops_everybody_is_told_with_its_reason(shop, visitor):
    saw, drill = shop.machine("Panel saw"), shop.machine("Pillar drill")
    check = shop.check()
    shop.assess(saw, checks=[check])
    shop.assess(drill)
    visitor.sign_in(shop.author)
    page = visitor.get("/desk").text
    assert "Panel saw" in page
    assert "A check has not been done in time" in page
    assert "Pillar drill" not in page


def test_a_person_without_a_role_has_no_desk(shop, visitor):
    visitor.sign_in(shop.person("Ada Quill"))
    assert visitor.get("/desk").status_code == 403
    assert "Desk" not in visitor.get("/me").text
