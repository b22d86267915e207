"""A shelf with a few jobs, made of records."""

import json
from pathlib import Path

import pytest

RECORD = Path(__file__).parents[1] / "record" / "data" / "record-v1.json"


@pytest.fixture
def put(tmp_path):
    """Put a record on the shelf."""
    draws = iter(range(1000))

    def put(place, *, d=47.0, o=2.2, u=0.1, bosses=6, crosses=2, photos=None, begun=None, **label):
        raw = json.loads(RECORD.read_bytes())
        number = next(draws)
        raw["job"] = Path(place).name
        raw["label"] = {"hub": "", **label}
        raw["begun"] = begun or f"2026-01-01T00:00:{number:02d}Z"
        for side in raw["measurement"]["sides"]:
            found = side["measurement"]
            for name, value in (("flange_diameter", d), ("spoke_offset", o)):
                found["figures"][name].update(value=value, u=u)
            found.update(boss_count=bosses, crosses=crosses)
        for file in raw["inputs"]:
            if file["kind"] == "photo":
                file["pixels_sha256"] = f"{photos or number}{file['path']}"
        file = tmp_path / "shelf" / place / "record.json"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(raw))
        return file

    return put


@pytest.fixture
def shelf_folder(tmp_path):
    (tmp_path / "shelf").mkdir(exist_ok=True)
    return tmp_path / "shelf"
