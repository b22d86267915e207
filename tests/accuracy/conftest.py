"""Make the benchmark's own modules importable for its tests, as they are when run.py is run."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
