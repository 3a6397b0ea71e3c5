"""Keep the traces of live breaths as trace files in a folder, named by the time of their end."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from ebbline.adapters.files.trace_file import TraceFile
from ebbline.adapters.files.trace_writer import write_trace
from ebbline.core.errors import InputError
from ebbline.services.keep_trace import KeptTrace


class FolderKeeper:
    """Writes each trace to a file of its own; none is ever written over.

    It is made when the link is, so that the time of day then is that of time 0 in the traces.

    Parameters
    ----------
    folder : Path
        Where to; it is made where it is not there.
    clock : callable
        Returns the time of day, with its zone.

    Raises
    ------
    InputError
        If the folder cannot be made.
    """

    def __init__(self, folder: Path, clock: Callable[[], datetime]) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(
                f"{folder}: cannot be made; allowed: a folder that can be written; "
                f"came: {error.strerror}"
            ) from error
        self.folder = folder
        self._clock = clock
        self._started = clock()

    def new_path(self, ending: str) -> Path:
        """Return a path that is not taken, named by the time now.

        Parameters
        ----------
        ending : str
            Such as ``.csv``.

        Returns
        -------
        Path
        """
        stem = self._clock().strftime("%Y-%m-%d-%H%M%S")
        path, count = self.folder / f"{stem}{ending}", 1
        while path.exists():
            count += 1
            path = self.folder / f"{stem}-{count}{ending}"
        return path

    def __call__(self, kept: KeptTrace) -> str:
        """Write a trace and return the name of its file.

        Raises
        ------
        TraceFileError
            If it cannot be a trace file.
        InputError
            If the file cannot be written.
        """
        path = self.new_path(".csv")
        facts = {"profile": kept.profile, "started": self._started.isoformat(timespec="seconds")}
        if kept.invented:
            facts = {"invented": "yes", **facts}
        text = write_trace(
            TraceFile(
                file=str(path),
                trace=kept.trace,
                kind=kept.kind,
                begun_s=kept.begun_s,
                on_for_min=kept.on_for_min,
                facts=facts,
                unused={},
            )
        )
        try:
            # "x": a file that came to be there in the meantime is not written over.
            with path.open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except OSError as error:
            raise InputError(
                f"{path}: the trace cannot be written; allowed: a file that can be written; "
                f"came: {error.strerror}"
            ) from error
        return str(path)
