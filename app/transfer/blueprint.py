"""The pages by which people come in and the register goes out."""

from flask import Blueprint

bp = Blueprint("transfer", __name__)
