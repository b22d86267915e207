"""``python -m hubsight``."""

from hubsight.cli import app

if __name__ == "__main__":
    app(prog_name="hubsight")
