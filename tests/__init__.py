"""Tests, in the rooms of the source, and folders of shared code."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
