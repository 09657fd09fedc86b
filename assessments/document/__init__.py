"""The documents: typed values frozen as canonical JSON, and their print.

The law of this folder: a document is drawn from a frozen value and from nothing else.
It is the only place in `assessments` that may import Jinja2, WeasyPrint or qrcode.
"""
