"""Packs the content into the wheel: messages/ and locales/ of the checkout become bot/_factory/ there.

In a checkout the two folders stay at the top level, where the people who edit them look for them; an
installed program has only its package. `pyproject.toml` names `BuildPy` as setuptools' `build_py`.
"""

import pathlib
from itertools import chain

from setuptools.command.build_py import build_py

CONTENT = ("messages", "locales")
FACTORY = pathlib.PurePath("bot", "_factory")


class BuildPy(build_py):
    """Adds every content file, except in an editable install, which reads the checkout."""

    def run(self) -> None:
        super().run()
        if not self.editable_mode:
            for source, target in self._content().items():
                self.mkpath(str(pathlib.Path(target).parent))
                self.copy_file(source, target)

    def get_source_files(self) -> list[str]:
        """Name what a source distribution needs, this file among it."""
        return [*super().get_source_files(), *self._content(), "deploy/packing.py", "deploy/requirements.in"]

    def get_outputs(self, include_bytecode: bool = True) -> list[str]:
        return [*super().get_outputs(include_bytecode), *self._content().values()]

    def get_output_mapping(self) -> dict[str, str]:
        return super().get_output_mapping() | {target: source for source, target in self._content().items()}

    def _content(self) -> dict[str, str]:
        files = chain.from_iterable(pathlib.Path(folder).rglob("*") for folder in CONTENT)
        return {
            str(file): str(self.build_lib / FACTORY / file)
            for file in sorted(files)
            if file.is_file() and not any(part.startswith(".") for part in file.parts)
        }
