"""The pages by which people come in and the register goes out, under one name."""

from app.transfer import export_views, list_views, merge_views
from app.transfer.blueprint import bp

__all__ = ["bp", "export_views", "list_views", "merge_views"]
