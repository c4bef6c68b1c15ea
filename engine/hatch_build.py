"""What building a wheel does besides copying files: it makes the pack of the rulebook, which the wheel holds."""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CustomBuildHook(BuildHookInterface[Any]):
    """Loads the rulebook of the source, as strictly as one of somebody's own, and packs it."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Makes the pack, unless the build is for an editable installation: there the YAML is read.

        Raises RulebookFaults, and there is no wheel, where the rulebook has faults.
        """
        if version == "editable":
            return
        sys.path.insert(0, str(Path(self.root) / "engine"))
        from yokebook import shipped
        from yokebook.load.packed.writing import pack_of_shipped

        self._folder = TemporaryDirectory()
        pack = Path(self._folder.name) / shipped.PACK
        pack.write_bytes(pack_of_shipped())
        # forced files come last in a wheel: once it is installed, the pack is younger than the YAML that it was made of
        build_data["force_include"][str(pack)] = f"yokebook/{shipped.PACK}"
