"""Schema changes, in order. The law of this folder: no model of the program is imported here."""
