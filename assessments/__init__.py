"""What a machine can do to a person, by how much, and the document that says so.

The law of this folder: data in, findings and documents out. Nothing here knows
the web, a database, a session or the clock; nothing here imports `app`.
"""
