"""Under which conditions of the moment the invented workshop lets its machines be used.

Where nothing stands here the draft sets none, and its own words on lone working are all.
"""

from __future__ import annotations

from typing import Any

from app.risk_assessments.conditions import Conditions
from app.risk_assessments.models import Lone


def _alone(lone: Lone, *, companions: int = 0, unstaffed: bool = True, **more: Any) -> Conditions:
    usual: dict[str, Any] = {
        "first_aider": False,
        "minimum_age": None,
        "supervised_under": None,
        "disuse_months": None,
        "equipment": (),
    }
    return Conditions(lone=lone, companions=companions, unstaffed=unstaffed, **usual | more)


CONDITIONS: dict[str, Conditions] = {
    "OT-02": _alone(Lone.NEVER, companions=1, unstaffed=False),
    "OT-04": _alone(Lone.ALLOWED),
    "OT-05": _alone(Lone.ALLOWED, equipment=("Fitted mask, P3",)),
    "OT-07": _alone(Lone.ALLOWED, minimum_age=16, supervised_under=18),
    "OT-08": _alone(Lone.NEVER, companions=1, unstaffed=False, first_aider=True),
    "OT-09": _alone(Lone.ALLOWED),
    "OT-15": _alone(Lone.NEVER, companions=1, unstaffed=False),
    "OT-16": _alone(Lone.ALLOWED, disuse_months=12),
    "OT-18": _alone(Lone.ALLOWED),
}

ABNORMAL: dict[str, tuple[tuple[str, str], ...]] = {
    "OT-02": (
        ("jam", "Stop at the console, wait for the fume to clear, then open with the tongs."),
        ("cleaning", "Only by a technician, with the key out and the supply locked off."),
        ("power loss", "Key out before the supply is back; the gas bottle is shut by hand."),
    ),
    "OT-15": (
        ("jam", "Blade stopped and the saw isolated before anything is pulled free."),
        ("tool change", "A technician, isolated and locked off; the riving knife is set anew."),
        ("power loss", "Push the stop: it must not start by itself when the supply is back."),
    ),
}
