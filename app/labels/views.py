"""Labels to print: which machines, on which sheet, from which place; and the sheet of a room."""

from __future__ import annotations

import hashlib
from itertools import groupby

from flask import Blueprint, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response as Answer

from app.errors import Refused
from app.forms import redirect_to, row_number, rows_chosen, text, whole_or_none
from app.jobs import outbox
from app.labels.content import labelled_in
from app.labels.make import LABEL_JOB, ROOM_JOB
from app.machines.areas import area_or_404
from app.machines.models import Area
from app.machines.tags import ALPHABET, LENGTH, address_of, address_warning
from app.machines.views import machine_or_404
from app.parts import now, parts, reading, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from assessments.document.label_content import Sheet
from assessments.document.label_layout import code_for, code_words
from assessments.document.sheets import sheet_named, sheets
from assessments.errors import Refused as TooLong

bp = Blueprint("labels", __name__)


@bp.get("/labels")
@access(Act.PRINT_LABELS)
def choose() -> str:
    """Choose machines and a sheet: one machine, those of an area, or all."""
    session, me = reading(), actor()
    area_id, only = row_number("area"), row_number("machine")
    machines = [
        machine
        for machine in labelled_in(session, area_id)
        if me.may(Act.PRINT_LABELS, area_id=machine.area_id)
        and (only is None or machine.id == only)
    ]
    names = dict(session.execute(select(Area.id, Area.name)).all())
    return render_template(
        "labels/choose.html",
        rooms=[
            (area, names[area], list(those))
            for area, those in groupby(machines, key=lambda machine: machine.area_id)
        ],
        one=machines[0] if only is not None and machines else None,
        sheets=[(key, sheet.title, _code_on(sheet)) for key, sheet in sheets().items()],
        address_warning=address_warning(parts().settings.public_url),
    )


def _code_on(sheet: Sheet) -> str:
    """Say how codes come out on a sheet; why not, where the site's address is too long for it."""
    address = address_of(parts().settings.public_url, ALPHABET[0] * LENGTH)
    try:
        return code_words(code_for(address, sheet), sheet)
    except TooLong as refusal:
        return refusal.sentence


@bp.post("/labels.pdf")
@access(Act.PRINT_LABELS)
def make() -> Answer:
    """Ask the worker for a sheet of labels."""
    sheet, used = text("sheet", most=40), whole_or_none("used") or 0
    if not used < sheet_named(sheet).places:
        raise Refused("That many places are not on the sheet.", code="used", status=422)
    chosen = rows_chosen("machine")
    if not chosen:
        raise Refused("Choose at least one machine.", code="machine", status=422)
    for machine_id in chosen:
        machine = machine_or_404(reading(), machine_id)
        insist(Act.PRINT_LABELS, area_id=machine.area_id)
    payload = {"machines": chosen, "sheet": sheet, "used": used}
    title = "A label" if len(chosen) == 1 else f"Labels of {len(chosen)} machines"
    return _ask(LABEL_JOB, payload, title, "labels.pdf")


@bp.post("/areas/<int:area_id>/room-sheet.pdf")
@access(Act.PRINT_LABELS)
def room_sheet(area_id: int) -> Answer:
    """Ask the worker for the sheet of a room."""
    area = area_or_404(reading(), area_id)
    insist(Act.PRINT_LABELS, area_id=area_id)
    return _ask(ROOM_JOB, {"area": area_id}, f"Sheet of {area.name}", "room-sheet.pdf")


def _ask(kind: str, payload: dict[str, object], title: str, file_name: str) -> Answer:
    words = hashlib.sha256(repr(payload).encode()).hexdigest()[:16]
    key = f"{kind}:{words}:{now().isoformat()}"
    with writing() as session:
        job = outbox.ask(
            session,
            kind,
            key=key,
            payload=payload,
            now=now(),
            title=title,
            asked_by_id=actor().id,
            file_name=file_name,
        )
    return redirect_to(url_for("work.job", work_id=job.id, waiting=1))
