"""Authoring: from a kind or a copy to a submitted draft. Its pages, put together."""

from __future__ import annotations

from flask import Blueprint

from app.authoring import (
    control_views,
    draft_views,
    induction_pictures,
    induction_views,
    kind_views,
    machine_views,
    scale_views,
    translation_views,
)

bp = Blueprint("authoring", __name__)
for pages in (
    machine_views,
    draft_views,
    control_views,
    kind_views,
    induction_views,
    induction_pictures,
    translation_views,
    scale_views,
):
    bp.register_blueprint(pages.bp)
