"""A file is there whole, or as it was before."""

from __future__ import annotations

import pytest

from toneprobe.book.disk import whole_file


def test_what_fails_half_way_leaves_the_old_file_and_nothing_beside_it(tmp_path):
    path = tmp_path / "kept" / "file.json"
    with whole_file(path) as part:
        part.write_text("old")
    with pytest.raises(RuntimeError), whole_file(path) as part:
        part.write_text("new, but")
        raise RuntimeError
    assert path.read_text() == "old" and list(path.parent.iterdir()) == [path]
