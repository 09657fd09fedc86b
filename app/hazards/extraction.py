"""What makes a control an extraction system: the law that it is examined under. Pure.

A title is no criterion: the canopy of a kiln has no word of extraction in it, and the turntable of
a booth has one. What a check is done for stands in its terms. Regulation 9(2)(a) of the Control of
Substances Hazardous to Health Regulations 2002 (Great Britain) asks for a thorough examination of
local exhaust ventilation at least once in every 14 months, and Schedule 4 for a shorter interval in
some processes; 9(2)(b) is of other engineering controls, 9(3) of respirators. Under any other law
the source of the interval has to name local exhaust ventilation.
"""

from __future__ import annotations

import re

from app.hazards.due import IntervalUnit
from app.hazards.models import Basis

MOST_MONTHS = 14
_COSHH = re.compile(r"\bCOSHH\b|Control of Substances Hazardous to Health", re.IGNORECASE)
_PLACE = re.compile(r"regulations? 9(?! ?\()|regulations? 9 ?\(2\)(?! ?\(b\))|schedule 4", re.I)
_NAMED = re.compile(r"local exhaust ventilation|\bLEV\b", re.IGNORECASE)
_LIKE = re.compile(
    r"extract|exhaust|\blev\b|downdraught|\bhood\b|\bbooth\b|\bfume|\bcanopy|dust collect",
    re.IGNORECASE,
)


def examined_as_extraction(basis: Basis, source: str) -> bool:
    """Say whether a check with these terms is the examination of an extraction system.

    >>> examined_as_extraction(Basis.STATUTORY, "COSHH Regulations 2002, regulation 9(2)(a)")
    True
    >>> examined_as_extraction(Basis.STATUTORY, "COSHH Regulations 2002, regulations 7 and 9(3)")
    False
    """
    if basis is not Basis.STATUTORY:
        return False
    by_coshh = _COSHH.search(source) and _PLACE.search(source)
    return bool(by_coshh or _NAMED.search(source))


def over_the_law(source: str, *, every: int, unit: IntervalUnit) -> bool:
    """Say whether an interval is longer than the 14 months that British law names."""
    return bool(_COSHH.search(source)) and unit is IntervalUnit.MONTH and every > MOST_MONTHS


def named_like_extraction(title: str) -> bool:
    """Say whether the words of a title let one think of extraction: a question, and no answer."""
    return bool(_LIKE.search(title))
