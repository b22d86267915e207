"""The index of a corpus, from the hubs that lie in its folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from render.hub import SIDES


def write_index(corpus: Path) -> str:
    """Write ``index.json`` for all hubs in a folder, and return a line that says what there is."""
    truths = [json.loads(file.read_text(encoding="utf-8")) for file in sorted(corpus.glob("*/truth.json"))]
    owners = {
        true["design"]["cam"]: f"{true['id']}/camera"
        for true in truths
        if true["sets"].get("camera", {}).get("photos")
    }
    hubs = [_entry(true, owners) for true in truths]
    photos = [
        corpus / true["id"] / photo["file"]
        for true in truths
        for photo_set in true["sets"].values()
        for photo in photo_set["photos"]
    ]
    size = sum(photo.stat().st_size for photo in photos)
    index = {
        "corpus": corpus.name,
        "rendered": True,
        "hubs": hubs,
        "photo_count": len(photos),
        "jpeg_bytes": size,
    }
    (corpus / "index.json").write_text(json.dumps(index, indent=1), encoding="utf-8")
    return f"{corpus}: {len(hubs)} hubs, {len(photos)} photos, {size / 1e6:.1f} MB"


def _entry(true: dict[str, Any], owners: dict[str, str]) -> dict[str, Any]:
    """Return a hub's entry; its camera's own photos may belong to another hub."""
    name, camera = true["id"], true["design"]["cam"]
    sets = {
        photo_set: [photo["file"].split("/")[1] for photo in content["photos"]]
        for photo_set, content in true["sets"].items()
    }
    return {
        "id": name,
        "camera_id": camera,
        "camera_photos": owners.get(camera),
        "job": f"{name}/job.json",
        "truth": f"{name}/truth.json",
        "sides": [side for side in SIDES if side in sets],
        "photos": sets,
    }
