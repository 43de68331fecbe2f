"""Run fitcheck as a module: python -m fitcheck."""

from fitcheck.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
