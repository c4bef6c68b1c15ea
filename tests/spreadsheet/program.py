"""A real spreadsheet program, run without a window and with a profile of its own: LibreOffice."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

#: Read and write CSV with commas, quotes where needed, UTF-8; the last parts: show cells as they look, all sheets.
READ_CSV = "CSV:44,34,76,1,,1033"
WRITE_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
XLSX = "xlsx:Calc MS Excel 2007 XML"


class Program:
    """The program with its own profile, so that nothing of a user's settings is in the result."""

    def __init__(self, profile: Path) -> None:
        self.profile = profile

    def convert(self, file: Path, to: str, folder: Path, reading: str = "") -> Path:
        """The file as the program saves it in another format; its name ends in the format's first word."""
        folder.mkdir(exist_ok=True)
        command = ["soffice", f"-env:UserInstallation={self.profile.as_uri()}", "--headless", "--norestore"]
        command += [f"--infilter={reading}"] if reading else []
        command += ["--convert-to", to, "--outdir", str(folder), str(file)]
        ran = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        made = sorted(folder.glob(f"{file.stem}*.{to.partition(':')[0]}"))
        assert made, ran.stdout + ran.stderr
        return made[0]


def installed() -> bool:
    """Whether the program is there; `.ci/run` installs it."""
    return shutil.which("soffice") is not None
