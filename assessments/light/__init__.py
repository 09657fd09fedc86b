"""Tables and closed formulas of the standards on optical radiation, as data.

Everything here works alike on floats and on NumPy arrays. The methods in ``methods/laser.py``,
``methods/laser_eyewear.py``, ``methods/uv.py`` and ``methods/welding.py`` ask these tables.
"""
