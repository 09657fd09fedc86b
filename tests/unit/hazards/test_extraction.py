"""Which checks are the examination of an extraction system, by the law that their terms name.

Published: Control of Substances Hazardous to Health Regulations 2002 (SI 2002/2677), regulation
9(2)(a) (local exhaust ventilation, every 14 months), 9(2)(b) (any other engineering control, at
suitable intervals), 9(3) (respirators), Schedule 4 (6 months and 1 month); from memory.
"""

from __future__ import annotations

import pytest

from app.hazards.due import IntervalUnit
from app.hazards.extraction import (
    examined_as_extraction,
    named_like_extraction,
    over_the_law,
)
from app.hazards.models import Basis
from app.hazards.terms import EXTRACTION
from assessments.catalogue import kinds
from assessments.hierarchy import Level

COSHH = "Control of Substances Hazardous to Health Regulations 2002, "


@pytest.mark.parametrize(
    ("source", "is_one"),
    [
        (COSHH + "regulation 9(2)(a)", True),
        (COSHH + "regulation 9(2)", True),
        ("COSHH Regulations 2002, regulation 9 and schedule 4 (Great Britain)", True),
        ("National order on local exhaust ventilation, section 3", True),
        (COSHH + "regulation 9(2)(b)", False),
        (COSHH + "regulation 9(3)", False),
        (COSHH + "regulations 7 and 9(3)", False),
        ("Lifting Operations and Lifting Equipment Regulations 1998, regulation 9(3)", False),
        ("Pressure Systems Safety Regulations 2000, regulations 8 and 9", False),
        ("", False),
    ],
)
def test_the_law_that_is_named_decides(source, is_one):
    assert examined_as_extraction(Basis.STATUTORY, source) is is_one
    assert not examined_as_extraction(Basis.COMMON_PRACTICE, source)


def test_what_the_program_offers_for_extraction_is_recognised_by_it():
    assert all(examined_as_extraction(Basis.STATUTORY, offer.source) for offer in EXTRACTION)


def found_in_the_catalogue():
    for kind in kinds().values():
        for control in kind.controls:
            for check in control.checks:
                if examined_as_extraction(Basis(check.basis), check.source):
                    yield kind, control, check


def test_in_the_catalogue_it_finds_engineering_controls_alone_within_the_interval_of_the_law():
    found = list(found_in_the_catalogue())
    assert len(found) > 20
    for _kind, control, check in found:
        assert control.level is Level.ENGINEERING, control.title
        assert (check.unit, check.every <= 14) == ("month", True)


def test_it_finds_what_no_word_of_the_title_tells():
    titles = {control.title for _kind, control, _check in found_in_the_catalogue()}
    unnamed = {title for title in titles if not named_like_extraction(title)}
    assert "Enclosure with door shut, filter or duct" in unnamed
    named = {
        control.title
        for kind in kinds().values()
        for control in kind.controls
        if named_like_extraction(control.title)
    }
    assert "Turntable and trolley at booth height" in named - titles


def test_an_interval_over_fourteen_months_is_longer_than_the_law():
    source = COSHH + "regulation 9(2)(a)"
    assert not over_the_law(source, every=14, unit=IntervalUnit.MONTH)
    assert over_the_law(source, every=15, unit=IntervalUnit.MONTH)
    assert not over_the_law("House rule", every=24, unit=IntervalUnit.MONTH)
