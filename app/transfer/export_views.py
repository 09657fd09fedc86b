"""The page of the exports, and the file."""

from __future__ import annotations

from flask import Response, render_template, send_file, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response as Answer

from app.errors import NotFound
from app.forms import redirect_to
from app.parts import now, parts, reading, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.transfer import export
from app.transfer.blueprint import bp
from app.transfer.exported import GROUPS
from app.transfer.models import RegisterExport


@bp.get("/export")
@access(Act.EXPORT)
def exports() -> str:
    """Show what an export holds, and those that are there."""
    rows = reading().execute(select(RegisterExport).order_by(RegisterExport.id.desc()).limit(20))
    found = list(rows.scalars())
    making = any(row.made_at is None and row.removed_at is None for row in found)
    return render_template(
        "transfer/export.html",
        exports=found,
        making=making,
        groups={name: words for name, (words, _tables) in GROUPS.items()},
    )


@bp.post("/export")
@access(Act.EXPORT)
def ask_export() -> Answer:
    """Ask the worker for an export."""
    with writing() as session:
        export.ask(session, actor_id=actor().id, now=now())
    return redirect_to(url_for("transfer.exports"))


@bp.get("/export/<int:export_id>.zip")
@access(Act.EXPORT)
def export_file(export_id: int) -> Response:
    """Hand the file out while it is kept."""
    row = reading().get(RegisterExport, export_id)
    if row is None or row.made_at is None or row.removed_at is not None:
        raise NotFound("That export is not there: it is being made, or was removed after a day.")
    path = export.path_of(parts().settings, row)
    if not path.is_file():
        raise NotFound("The file of that export is not on this server.")
    return send_file(
        path, mimetype="application/zip", as_attachment=True, download_name=row.file_name
    )
