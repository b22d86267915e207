"""``python -m hubsight``, and what the command ``hubsight`` starts."""

INTERRUPTED = 130
"""Exit code of what Ctrl-C ended, as shells have it (common practice, no source)."""


def main() -> None:
    """Run the command line; Ctrl-C ends it in silence even while it is still being loaded."""
    try:
        from hubsight.cli import app  # noqa: PLC0415 - loading takes long enough to be interrupted

        app(prog_name="hubsight")
    except KeyboardInterrupt:
        raise SystemExit(INTERRUPTED) from None


if __name__ == "__main__":
    main()
