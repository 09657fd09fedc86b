"""One of everything that an address about retention can name."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.machines.models import Machine
from app.retention import keeps, run
from tests.factories import Workshop


def about_retention(session: Session, shop: Workshop, machine: Machine) -> dict[str, str | int]:
    by = {"actor_id": shop.chief.id, "now": shop.now}
    mark = keeps.mark(session, "machine", machine.id, why="A claim", **by)
    row = run.new(session, today=shop.now.date(), **by)
    return {"keep_id": mark.id, "run_id": row.id, "record": "use"}
