"""What the calculations bring with them: NumPy, and nothing of the web, a database or a print."""

import subprocess
import sys

FOREIGN = ["flask", "sqlalchemy", "weasyprint", "jinja2", "qrcode"]

CODE = f"""
import sys
from assessments import methods
assert len(methods.catalogue()) > 40
from assessments.calculate import calculate, plot_of
assert plot_of(calculate("noise.daily", {{"tasks": [["normal(85,2)", 4]]}}))
print(*sorted({{name.partition(".")[0] for name in sys.modules}} & set({FOREIGN})))
"""


def test_a_fresh_interpreter_calculates_and_draws_without_web_database_or_print():
    found = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True)
    assert found.stderr == ""
    assert found.stdout.split() == []
