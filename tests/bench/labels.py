"""Sheets of labels for 300 machines, against the print engine setting as many empty places.

.venv/bin/python -m tests.bench.labels
"""

from __future__ import annotations

import time
from collections.abc import Callable

from assessments.document.label import label_pdf
from assessments.document.label_content import MachineLabel
from assessments.document.many_labels import labels_pdf
from assessments.document.renderer import pdf
from assessments.document.sheets import sheets

MACHINES = 300


def labels() -> list[MachineLabel]:
    return [
        MachineLabel(
            name=f"Machine {n}",
            area="Long hall",
            place=f"Row {n // 20}",
            kind="Pillar drill",
            run_mode="open to cleared people",
            signs=("W018", "M004", "P028"),
            never=("PVC", "Carbon fibre"),
            inductions=("Workshop basics",),
            url=f"HTTPS://REGISTER.EXAMPLE.ORG/M/7K2MQ4X7K2M{n:03}".replace("0", "Z"),
            code=f"7K2MQ4X7K2M{n:03}",
        )
        for n in range(MACHINES)
    ]


def seconds(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun


def bare(places: int) -> str:
    """Return a page with as many places and nothing in them."""
    page = "".join(f'<div class="label">{n}</div>' for n in range(places))
    return (
        '<!doctype html><html lang="en"><head><title>Bare</title></head><body>'
        f"{f'<div class=page>{page}</div>' * -(-MACHINES // places)}</body></html>"
    )


def main() -> None:
    asked = labels()
    label_pdf(asked[:1], sheet=sheets()["label"])  # fonts and styles are read once
    print(f"{MACHINES} machines; target: under 5 s each")
    for key, sheet in sheets().items():
        taken = seconds(lambda sheet=sheet: labels_pdf(asked, sheet=sheet))
        floor = seconds(lambda sheet=sheet: pdf(bare(sheet.places), css="label.css"))
        print(f"{key:8} {taken:5.2f} s  {taken / floor:5.1f} x bare places")


if __name__ == "__main__":
    main()
