"""A finding that has a drawing shows it on its page, with the same as a table."""

from __future__ import annotations

import pytest

from app.calculations.limits import choose_regime

DAY = {"tasks-0-0": "85", "tasks-0-1": "4", "tasks-1-0": "90", "tasks-1-1": "1.5"}


@pytest.fixture
def anybody(shop, visitor, database):
    with database.write() as session:
        choose_regime(session, "gb", actor_id=shop.chief.id, now=shop.now)
    return visitor.sign_in(shop.person("Ada Quill"))


def test_a_day_of_noise_is_drawn_with_its_table_and_without_any_style(anybody):
    page = anybody.post("/calculations/noise.daily", data=DAY)
    drawing = page.text.split('<figure class="drawing">')[1].split("</figure>")[0]
    assert "<title>What each task adds to the day</title>" in drawing
    assert "limit 87\N{NO-BREAK SPACE}dB" in drawing
    assert '<th scope="col">Share of the day, %</th>' in drawing
    assert '<td class="number">54.3</td>' in drawing
    assert "style=" not in drawing
    assert "<style" not in drawing


def test_a_finding_without_a_drawing_shows_none(anybody):
    page = anybody.post("/calculations/noise.sum", data={"levels-0-0": "85", "levels-1-0": "85"})
    assert page.status_code == 200
    assert "<figure" not in page.text
