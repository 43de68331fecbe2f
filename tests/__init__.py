"""Tests by the rooms of the source, and folders of what they share."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
