"""For tests of the shelf."""

import os

LONG_AGO = 1_700_000_000


def settle(folder):
    """Let a tree look as if it was written long ago: the index looks again at what is a moment old."""
    for path in [folder, *folder.rglob("*")]:
        os.utime(path, (LONG_AGO, LONG_AGO), follow_symlinks=False)
