"""A kernel of THIS interpreter, whatever kernels the machine has registered."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from typing import Any

from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager


class OwnKernel(AsyncKernelManager):
    """Starts ipykernel with sys.executable; over Unix sockets where there are any.

    Sockets of this machine's files need no free port, and spare the reader a warning about
    unencrypted ports. Their folder has a short absolute name (the limit is 104 bytes).
    """

    def __init__(self, **kwargs: Any) -> None:
        self._sockets: str | None = None
        if os.name != "nt":
            self._sockets = tempfile.mkdtemp(prefix="rt", dir="/tmp" if os.path.isdir("/tmp") else None)
            kwargs = {**kwargs, "transport": "ipc", "ip": os.path.join(self._sockets, "k")}
        super().__init__(**kwargs)

    @property
    def kernel_spec(self) -> KernelSpec:
        """The spec that starts this interpreter."""
        return KernelSpec(
            argv=[sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"],
            display_name="Python 3",
            language="python",
        )

    def cleanup_resources(self, restart: bool = False) -> Any:
        """Release what the kernel held, the socket folder too."""
        done = super().cleanup_resources(restart)
        if not restart and self._sockets:
            shutil.rmtree(self._sockets, ignore_errors=True)
        return done
