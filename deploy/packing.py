"""Packs the content into the wheel: messages/ and locales/ of the checkout become bot/_factory/ there.

In a checkout the two folders stay at the top level, where the people who edit them look for them; an
installed program has only its package. `pyproject.toml` names `BuildPy` as setuptools' `build_py`.
"""

import pathlib
from itertools import chain

from setuptools.command.build_py import build_py

CONTENT = ("messages", "locales")
BUILD_FILES = ("deploy/packing.py", "deploy/requirements.in")
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
        own = [*self._content(), *BUILD_FILES]
        return [*super().get_source_files(), *own]  # type: ignore[no-untyped-call]

    def get_outputs(self, include_bytecode: bool = True) -> list[str]:
        return [*super().get_outputs(include_bytecode), *self._content().values()]

    def get_output_mapping(self) -> dict[str, str]:
        own = {target: source for source, target in self._content().items()}
        return {**super().get_output_mapping(), **own}

    def _content(self) -> dict[str, str]:
        files = chain.from_iterable(pathlib.Path(folder).rglob("*") for folder in CONTENT)
        return {
            str(file): str(self.build_lib / FACTORY / file)
            for file in sorted(files)
            if file.is_file() and not any(part.startswith(".") for part in file.parts)
        }
