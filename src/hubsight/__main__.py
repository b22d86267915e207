"""``python -m hubsight``."""

from hubsight.cli import main

if __name__ == "__main__":
    main()
