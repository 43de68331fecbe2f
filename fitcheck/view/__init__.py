"""Display of a result: a still picture, or a window to rotate, cut and heel it in.

Takes a Result; promises never to draw before a child process has shown that drawing works here.
"""

from fitcheck.view.pictures.guarded import picture_or_why, tried
from fitcheck.view.pictures.picture import deviation_picture, picture
from fitcheck.view.pictures.probe import Renderer, no_display, probe, start_probe
from fitcheck.view.pictures.scan_picture import scan_picture
from fitcheck.view.window import show, why_no_window

__all__ = [
    "Renderer",
    "deviation_picture",
    "no_display",
    "picture_or_why",
    "picture",
    "probe",
    "scan_picture",
    "show",
    "start_probe",
    "tried",
    "why_no_window",
]
