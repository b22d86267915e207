"""Make the helpers for the real photographs importable."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
