"""Results kept for all test processes of one run, in its own folder: what one of them has worked out the other reads."""

import os
import pickle
import shutil
from pathlib import Path


class Results:
    """By key, the bytes that tell all that a result rests on."""

    def __init__(self, folder: Path):
        self.folder, self.held = folder, {}
        folder.mkdir(exist_ok=True)

    def get(self, key: bytes, make):
        if key not in self.held:
            path = self.folder / key.hex()
            if not path.exists():
                part = path.with_suffix(f".{os.getpid()}")
                part.write_bytes(pickle.dumps(make()))
                part.replace(path)  # whole or not at all, whoever is first
            self.held[key] = pickle.loads(path.read_bytes())
        return self.held[key]

    def folder_of(self, name: str, make) -> Path:
        """What `make` puts into a folder; nobody changes it there."""
        folder, part = self.folder / name, self.folder / f"{name}.{os.getpid()}"
        if not folder.exists():
            part.mkdir()
            make(part)
            try:
                part.rename(folder)  # whole or not at all
            except OSError:  # another was first
                shutil.rmtree(part)
        return folder
