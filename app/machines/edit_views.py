"""What the register says of a machine, to be changed: words, place, picture, materials, tags."""

from __future__ import annotations

from flask import Blueprint, Response, abort, flash, redirect, render_template, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.errors import NotFound, Refused
from app.forms import choice, day, text, upload, whole
from app.machines import materials
from app.machines.areas import area_or_404
from app.machines.edit import WORDS, describe_machine, move, retire_machine
from app.machines.models import Area, Machine, MachineMaterial, MaterialWord, Tag
from app.machines.photos import MOST_BYTES, clean_picture, keep_photo, photo_of
from app.machines.tags import issue, read_code, repoint, retire
from app.machines.views import machine_or_404
from app.parts import now, parts, reading, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.rights import Act
from app.web import takes_files

bp = Blueprint("machine_edit", __name__)


@bp.get("/machines/<int:machine_id>/edit")
@access(Act.REGISTER_MACHINES)
def edit(machine_id: int) -> str:
    """Show everything that the register says of a machine, with what can be changed."""
    session = reading()
    machine = _asked(session, machine_id)
    tags = session.execute(
        select(Tag).where(Tag.machine_id == machine_id).order_by(Tag.id.desc())
    ).scalars()
    return render_template(
        "machines/edit.html",
        machine=machine,
        areas=session.execute(select(Area).order_by(Area.name)).scalars().all(),
        photo=photo_of(session, machine_id),
        materials=materials.materials_of(session, machine_id),
        words=list(MaterialWord),
        tags=list(tags),
    )


def _asked(session: Session, machine_id: int) -> Machine:
    machine = machine_or_404(session, machine_id)
    insist(Act.REGISTER_MACHINES, area_id=machine.area_id)
    return machine


def _back(machine_id: int, part: str = "") -> Answer:
    return redirect(url_for("machine_edit.edit", machine_id=machine_id, _anchor=part), 303)


@bp.post("/machines/<int:machine_id>/edit")
@access(Act.REGISTER_MACHINES)
def describe(machine_id: int) -> Answer:
    words = {field: text(field, most=200) for field in WORDS}
    with writing() as session:
        machine = _asked(session, machine_id)
        changed = describe_machine(session, machine, words=words, actor_id=actor().id, now=now())
    flash(
        "Changed. Assessments in force keep the words they were approved with."
        if changed
        else "Nothing was different."
    )
    return _back(machine_id)


@bp.post("/machines/<int:machine_id>/move")
@access(Act.REGISTER_MACHINES)
def move_to(machine_id: int) -> Answer:
    """Move a machine to another area. Whoever moves it answers for both."""
    with writing() as session:
        machine = _asked(session, machine_id)
        area = area_or_404(session, whole("area_id"))
        insist(Act.REGISTER_MACHINES, area_id=area.id)
        move(session, machine, area, actor_id=actor().id, now=now())
    flash(
        f"{machine.name} stands in {area.name} now. Look at its assessment again: the room is new."
    )
    return _back(machine_id)


@bp.post("/machines/<int:machine_id>/retire")
@access(Act.REGISTER_MACHINES)
def retire_from(machine_id: int) -> Answer:
    with writing() as session:
        machine = _asked(session, machine_id)
        retire_machine(session, machine, on=day("on"), actor_id=actor().id, now=now())
    flash(f"{machine.name} is retired. Its history stays.")
    return _back(machine_id)


@bp.get("/machines/<int:machine_id>/photo.jpg")
@access(SIGNED_IN)
def photo(machine_id: int) -> Response:
    """Serve the newest picture of a machine."""
    found = photo_of(reading(), machine_id)
    if found is None:
        abort(404)
    return Response(parts().files.read(found.file_digest), mimetype="image/jpeg")


@bp.post("/machines/<int:machine_id>/photo.jpg")
@access(Act.REGISTER_MACHINES)
@takes_files(MOST_BYTES + 1024 * 1024)
def add_photo(machine_id: int) -> Answer:
    _asked(reading(), machine_id)
    data, words = upload("photo"), text("words", most=300)
    if not data:
        raise Refused("Choose a picture first.", code="no-picture", status=422)
    digest = parts().files.keep(clean_picture(data))
    with writing() as session:
        machine = _asked(session, machine_id)
        keep_photo(
            session, machine, file_digest=digest, words=words, actor_id=actor().id, now=now()
        )
    flash("The picture is kept.")
    return _back(machine_id, "photo")


@bp.post("/machines/<int:machine_id>/materials")
@access(Act.REGISTER_MACHINES)
def say_material(machine_id: int) -> Answer:
    with writing() as session:
        machine = _asked(session, machine_id)
        row = materials.say(
            session,
            machine,
            material=text("material", most=200),
            word=choice("word", MaterialWord),
            reason=text("reason"),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{row.material}: {row.word.value}, from now on.")
    return _back(machine_id, "materials")


@bp.post("/machines/<int:machine_id>/materials/<int:material_id>/end")
@access(Act.REGISTER_MACHINES)
def end_material(machine_id: int, material_id: int) -> Answer:
    with writing() as session:
        _asked(session, machine_id)
        row = session.get(MachineMaterial, material_id)
        if row is None or row.machine_id != machine_id:
            raise NotFound("This machine has no such line in its list.")
        materials.end(session, row, reason=text("reason"), actor_id=actor().id, now=now())
    flash(f"{row.material} is no longer on the list.")
    return _back(machine_id, "materials")


@bp.post("/machines/<int:machine_id>/tags")
@access(Act.REGISTER_MACHINES)
def new_tag(machine_id: int) -> Answer:
    with writing() as session:
        tag = issue(session, _asked(session, machine_id), actor_id=actor().id, now=now())
    flash(f"The new code is {tag.code}. Print its label from the machine’s page.")
    return _back(machine_id, "tags")


@bp.post("/machines/<int:machine_id>/tags/<int:tag_id>/retire")
@access(Act.REGISTER_MACHINES)
def retire_tag(machine_id: int, tag_id: int) -> Answer:
    with writing() as session:
        _asked(session, machine_id)
        tag = _live_tag(session, tag_id, machine_id)
        retire(session, tag, actor_id=actor().id, now=now())
    flash(f"{tag.code} speaks for nothing any more. Take the label off.")
    return _back(machine_id, "tags")


@bp.post("/machines/<int:machine_id>/tags/repoint")
@access(Act.REGISTER_MACHINES)
def take_over(machine_id: int) -> Answer:
    """Let the label of a machine that this one replaces speak for this one."""
    code = read_code(text("code", most=40))
    with writing() as session:
        machine = _asked(session, machine_id)
        tag = session.execute(
            select(Tag).where(Tag.code == code, Tag.retired_at.is_(None))
        ).scalar_one_or_none()
        if tag is None:
            raise NotFound("No label in use carries that code.")
        if tag.machine_id == machine.id:
            raise Refused("That label speaks for this machine already.", code="there", status=422)
        _asked(session, tag.machine_id)  # whoever takes a label away answers there too
        repoint(session, tag, machine, actor_id=actor().id, now=now())
    flash(f"The label {tag.code} speaks for {machine.name} now. Fix it here.")
    return _back(machine_id, "tags")


def _live_tag(session: Session, tag_id: int, machine_id: int) -> Tag:
    tag = session.get(Tag, tag_id)
    if tag is None or tag.machine_id != machine_id or tag.retired_at is not None:
        raise NotFound("This machine has no such label in use.")
    return tag
