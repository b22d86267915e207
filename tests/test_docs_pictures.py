"""Every picture of the documentation is made by a script from the present program, and is shown somewhere."""

import ast
import re
from pathlib import Path

DOCS = Path(__file__).parents[1] / "docs"
SCRIPTS = ("pictures.py", "tour_pictures.py")


def made():
    """The names that the scripts write: whole words, and those put together from a table's keys."""
    names = set()
    for script in SCRIPTS:
        tree = ast.parse((DOCS / script).read_text(encoding="utf-8"))
        words = {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
        names |= {word for word in words if re.fullmatch(r"[\w-]+\.jpg", word)}
        for joined in (node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)):
            parts = [p.value if isinstance(p, ast.Constant) else None for p in joined.values]
            if parts[-1] == ".jpg":
                names |= {f"{parts[0]}{word}.jpg" for word in words}
    return names


def shown():
    pages = [DOCS.parent / "README.md", *DOCS.glob("*.md")]
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    return {Path(name).name for name in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text)}


def test_each_picture_comes_from_a_script_and_is_shown():
    there = {file.name for file in DOCS.glob("*.jpg")}
    assert there
    assert there <= made()
    assert there == shown()


def test_the_tour_shows_the_steps_of_the_page_in_their_order():
    text = (DOCS / "tour.md").read_text(encoding="utf-8")
    steps = re.findall(r"tour-(\w+)\.jpg", text)
    page = (DOCS.parent / "src/hubsight/page/templates/job.html.j2").read_text(encoding="utf-8")
    places = [page.index(f'"{step}"') for step in steps if step != "jobs"]
    assert steps[0] == "jobs"
    assert places == sorted(places)
