"""The pages of documents: one blueprint for all files of this folder."""

from __future__ import annotations

from flask import Blueprint, Response

from app.parts import parts

bp = Blueprint("documents", __name__)


def pdf_answer(digest: str, name: str) -> Response:
    """Hand a kept document out, to be looked at in the browser."""
    answer = Response(parts().files.read(digest), mimetype="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
