"""The smallest kind that is in order, as plain tables, and what reading makes of a changed one."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import tomli_w

from assessments.catalogue.reading import Defective, read_kind

COMMON = "common practice"
LAW = "COSHH Regulations 2002"

SAMPLE: dict[str, Any] = {
    "schema": 1,
    "key": "foam-rasp",
    "name": "Foam rasp",
    "group": "Hand tools",
    "form": "machine",
    "summary": "Rasps blocks of foam.",
    "differences": "Width of the drum.",
    "signs": ["M004"],
    "before_use": ["The guard is shut."],
    "emergency": ["Press the red button."],
    "use": {
        "run_mode": "supervised",
        "run_mode_why": "A drum pulls.",
        "run_mode_source": COMMON,
        "lone": "never alone",
        "lone_why": "Somebody has to stop it.",
        "lone_source": COMMON,
        "companions": 1,
        "unstaffed": False,
        "first_aider": False,
    },
    "never": [
        {"material": "Wet foam", "why": "It clogs.", "source": COMMON},
        {"material": "Metal", "why": "It sparks.", "source": COMMON},
    ],
    "abnormal": [
        {"state": "jam", "what": "Isolate first."},
        {"state": "cleaning", "what": "Vacuum, never blow."},
        {"state": "power loss", "what": "It stays off until it is started again."},
    ],
    "hazard": [
        {
            "key": "drum",
            "kind": "Entanglement",
            "sign": "W022",
            "how": "The drum pulls a sleeve in.",
            "who": ["the person at the machine"],
            "states": ["jam"],
            "severity": 4,
            "likelihood": 3,
            "severity_after": 4,
            "likelihood_after": 1,
            "residual": "The gap for the foam stays open.",
            "source": COMMON,
            "method": [
                {
                    "id": "guard.opening",
                    "why": "Reach through the gap.",
                    "inputs": {"shape": "slot", "opening": "8"},
                    "ask": ["distance"],
                    "source": COMMON,
                }
            ],
        },
        {
            "key": "dust",
            "kind": "Dust",
            "how": "Fine foam is breathed.",
            "who": ["people in the same room"],
            "severity": 2,
            "likelihood": 3,
            "severity_after": 2,
            "likelihood_after": 2,
            "residual": "Some dust escapes.",
            "reason": "The extraction cannot reach the hand rasp.",
            "source": LAW,
        },
    ],
    "control": [
        {
            "key": "hood",
            "title": "Guard over the drum",
            "level": "engineering",
            "answers": ["drum"],
            "details": "Opens only with a tool.",
            "shared": False,
            "source": COMMON,
            "check": [
                {
                    "title": "Guard looked at",
                    "every": 1,
                    "unit": "day",
                    "basis": COMMON,
                    "source": COMMON,
                    "done_by": "a technician of the area",
                    "passes_when": "It cannot be moved by hand.",
                },
                {
                    "title": "Gap measured",
                    "every": 14,
                    "unit": "month",
                    "basis": "statutory",
                    "source": f"{LAW}, regulation 9",
                    "done_by": "a competent person",
                    "passes_when": "The gap is within its range.",
                    "measure": "mm",
                    "low": "1.5",
                    "high": "8",
                },
            ],
        },
        {
            "key": "mask",
            "title": "Mask",
            "level": "ppe",
            "answers": ["dust"],
            "details": "Fitted to the face.",
            "shared": False,
            "source": COMMON,
        },
    ],
    "induction": {
        "title": "Foam rasp",
        "basis": COMMON,
        "group_size": 4,
        "group_basis": COMMON,
        "supervised_uses": 1,
        "content": "One.\n\nTwo.",
        "item": [{"words": f"Shows step {each}.", "essential": True} for each in range(1, 6)],
    },
    "source": [
        {"title": LAW, "edition": "SI 2002/2677", "place": "regulation 9", "confirmed": True}
    ],
}


def changed(change: Callable[[dict[str, Any]], Any]) -> str:
    """Return the sample as text after a change to its tables."""
    tables = copy.deepcopy(SAMPLE)
    change(tables)
    return tomli_w.dumps(tables)


def sentences(text: str) -> tuple[str, ...]:
    """Return what reading has against a text; nothing where it is in order."""
    try:
        read_kind(text, name="foam-rasp.toml")
    except Defective as defective:
        return defective.sentences
    return ()
