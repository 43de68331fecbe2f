"""Whether this machine can draw, tested in a child process that may crash.

A missing GL library ends the process with a signal and no exception, so nothing is drawn here
before a child process has drawn the same kind of thing and survived.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from functools import lru_cache

VARIABLE = "VTK_DEFAULT_OPENGL_WINDOW"

#: Window classes to try off screen, in order; "" leaves the choice to the library.
KINDS = ("", "vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")

#: Classes that draw into memory only.
OFF_SCREEN = frozenset({"vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow"})

SECONDS = 60

TRIAL = """\
import pyvista
plotter = pyvista.Plotter(off_screen=True, window_size=(64, 64))
plotter.set_background("white")
plotter.add_mesh(pyvista.Sphere(theta_resolution=8, phi_resolution=8), color="black")
picture = plotter.screenshot(None, return_img=True)
assert picture.min() < picture.max(), "blank"
told = plotter.render_window.ReportCapabilities()
slow = any(name in told for name in ("llvmpipe", "softpipe", "swrast"))
print("drawn by", plotter.render_window.GetClassName(), "software" if slow else "hardware")
"""

#: Colour codes the library puts into its warnings.
COLOURS = re.compile(r"\x1b\[[0-9;]*m")

ADVICE = {
    "linux": "install a GL library (Debian: apt-get install libegl1 libgl1-mesa-dri)",
    "darwin": "reinstall pyvista in this environment: macOS brings its own GL library",
    "win32": "install a graphics driver with OpenGL 3.2 or newer",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Renderer:
    """What can draw here. `kind` is the window class to request ("" is the library's own choice).

    `drawn_by` names the class that drew the trial; `software` means that the processor draws;
    `advice` is empty when something works.
    """

    works: bool
    kind: str
    drawn_by: str
    advice: str
    software: bool = False

    @property
    def on_screen(self) -> bool:
        """Whether this renderer can also open a window."""
        return self.works and self.drawn_by not in OFF_SCREEN


def probe() -> Renderer:
    """What can draw here, tested once per process."""
    return _asked().result()


def start_probe() -> None:
    """Start the test while other work goes on; `probe` then waits for it to finish."""
    _asked()


@lru_cache(maxsize=1)
def _asked() -> Future[Renderer]:
    answer: Future[Renderer] = Future()

    def ask() -> None:
        try:
            answer.set_result(find_renderer((sys.executable, "-c", TRIAL)))
        except BaseException as error:
            answer.set_exception(error)

    threading.Thread(target=ask, daemon=True).start()
    return answer


def find_renderer(trial: Sequence[str]) -> Renderer:
    """Run `trial` with each window class until one draws; say what to install if none does.

    trial : a command that draws something and prints "drawn by CLASS" on success
    """
    told: list[str] = []
    late = False
    wish = os.environ.get(VARIABLE, "")
    for kind in dict.fromkeys((wish, *KINDS)):
        answer, fault = _try(trial, kind)
        if answer:
            drawn_by, *how = answer
            # Named explicitly, so that the next window does not look for a display first.
            named = drawn_by if drawn_by in OFF_SCREEN else kind
            return Renderer(
                works=True,
                kind=named,
                drawn_by=drawn_by,
                advice="",
                software="software" in how,
            )
        told.append(f"{kind or 'default'}: {fault}")
        late |= answer is None
    return Renderer(works=False, kind="", drawn_by="", advice=_advice(told, late))


def use(renderer: Renderer) -> None:
    """Make this process draw in the way that worked."""
    os.environ.pop(VARIABLE, None)
    if renderer.kind:
        os.environ[VARIABLE] = renderer.kind


def no_display() -> str:
    """Why no window can open here: "" if one can, as far as the environment shows."""
    if not sys.platform.startswith("linux"):
        return ""
    if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        return ""
    return (
        "no display: neither DISPLAY nor WAYLAND_DISPLAY is set; "
        "a picture (--picture FILE) needs none"
    )


def _try(trial: Sequence[str], kind: str) -> tuple[list[str] | None, str]:
    """What a trial printed after "drawn by", and why it printed nothing; None: timed out."""
    surroundings = {name: value for name, value in os.environ.items() if name != VARIABLE}
    if kind:
        surroundings[VARIABLE] = kind
    try:
        answer = subprocess.run(
            list(trial), env=surroundings, capture_output=True, text=True, timeout=SECONDS
        )
    except subprocess.TimeoutExpired:
        return None, f"nothing within {SECONDS} s"
    except OSError as error:
        return [], str(error)
    if answer.returncode == 0 and "drawn by" in answer.stdout:
        return answer.stdout.rsplit("drawn by", 1)[1].split(), ""
    return [], _fault(answer)


def _fault(answer: subprocess.CompletedProcess[str]) -> str:
    if answer.returncode < 0:
        return f"ended by {signal.Signals(-answer.returncode).name}"
    lines = COLOURS.sub("", answer.stderr).strip().splitlines()
    told = lines[-1].rsplit("| ", 1)[-1][:100] if lines else ""
    return told or f"status {answer.returncode}"


def _advice(told: list[str], late: bool) -> str:
    """What to do; a trial that timed out does not show that nothing here can draw."""
    tried = "; ".join(told)
    if late:
        return (
            f"the drawing test took too long; run again when the machine is idle (tried {tried})"
        )
    system = "linux" if sys.platform.startswith("linux") else sys.platform
    cure = ADVICE.get(system, ADVICE["linux"])
    return f"nothing here can draw; {cure} (tried {tried})"
