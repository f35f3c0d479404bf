"""One Jupyter kernel for all notebooks of a run.

Starting a kernel and importing the numerical libraries costs more than most
notebooks do. So one kernel serves them all, forgets everything between two
(`hydrokit.runner.fresh`), and gets ready while the caller does its own imports.
"""

from __future__ import annotations

import ast
import asyncio
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import zmq
from jupyter_client.kernelspec import NATIVE_KERNEL_NAME, KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from jupyter_core.utils import run_sync

from ..errors import RunError
from .launch import for_children

__all__ = ["Kernel", "Kernels"]

SECONDS_TO_START = 120
STARTS = 3  # of a process that dies before it answers
# Modules that the kernel loads at its start.
EXTENSIONS = ("hydrokit.runner.rooms", "hydrokit.runner.fresh")
FRESH = "hydrokit.runner.fresh"  # the module of whose functions it is asked


class Kernels(KernelSpecManager):
    """Python kernels that import nothing from the folder they work in; `run` and `lab` start no
    other Python kernel."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """How a kernel of this name is started."""
        if kernel_name != NATIVE_KERNEL_NAME:
            return super().get_kernel_spec(kernel_name)
        argv = [
            sys.executable,
            "-P",
            str(Path(__file__).with_name("launch.py")),
            "-f",
            "{connection_file}",
        ]
        return KernelSpec(
            argv=argv,
            display_name="Python 3",
            language="python",
            metadata={"debugger": True},
            env=for_children(),
        )


class Kernel:
    """A running kernel; use it in a ``with`` statement.

    Parameters
    ----------
    folder : Path
        The working folder of the notebooks.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # Settings of its own, thrown away afterwards: a run asks nothing of the home folder, which
        # may be shut.
        self.own = tempfile.TemporaryDirectory(prefix="hydrokit-", ignore_cleanup_errors=True)
        self.manager = self._new_manager()
        self.client: Any = None  # the manager's, once the process is there
        self.used = False

    def _new_manager(self) -> AsyncKernelManager:
        manager = AsyncKernelManager(
            kernel_name=NATIVE_KERNEL_NAME,
            kernel_spec_manager=Kernels(),
            connection_file=os.path.join(self.own.name, "kernel.json"),
        )
        if manager.has_trait("transport_encryption") and zmq.has("curve"):
            # Without it other users of this machine could listen, and newer kernels warn of that.
            manager.transport_encryption = "auto"
        return manager

    def __enter__(self) -> Kernel:
        if sys.platform == "win32":
            # The default loop there cannot wait for the kernel's sockets.
            asyncio.set_event_loop_policy(asyncio.WindowsSelectorEventLoopPolicy())
        try:
            run_sync(self._start)()
        except Exception as error:
            self.stop()
            raise RunError(f"The notebook kernel did not start: {error}") from error
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    async def _start(self) -> None:
        """Start the process, which loads its extensions, without waiting for either."""
        await self.manager.start_kernel(
            cwd=str(self.folder),
            env=_environment(self.own.name),
            extra_arguments=[
                "--HistoryManager.hist_file=:memory:",
                *(f"--ext={each}" for each in EXTENSIONS),
            ],
            stderr=subprocess.DEVNULL,
        )
        self.client = self.manager.client()
        # No heartbeat: the manager knows whether its process lives, and a thread less can be left over.
        self.client.start_channels(stdin=False, hb=False)

    def make_fresh(self) -> None:
        """Wait until the kernel is ready and holds nothing of an earlier notebook."""
        run_sync(self._make_fresh)()

    async def _make_fresh(self) -> None:
        try:
            if self.used:
                await self._call(
                    "restore", (), "could not be cleared for the next notebook", SECONDS_TO_START
                )
            else:
                await self._ready()
                self.used = True
        except (RuntimeError, TimeoutError) as error:
            raise RunError(f"The notebook kernel does not answer: {error}") from error

    async def _ready(self) -> None:
        """Wait for the process that was started; one that died is started again.

        Its ports were free when they were chosen; another program may have taken one since.
        """
        for _ in range(STARTS - 1):
            try:
                await self.client.wait_for_ready(timeout=SECONDS_TO_START)
                return
            except RuntimeError:
                if await self.manager.is_alive():
                    raise
            self.client.stop_channels()
            await self.manager.shutdown_kernel(now=True)
            self.manager = self._new_manager()
            await self._start()
        await self.client.wait_for_ready(timeout=SECONDS_TO_START)

    def ask(self, function: str, *arguments: str) -> Any:
        """What a function of `hydrokit.runner.fresh` gives in the kernel, a text in JSON."""
        told = run_sync(self._call)(function, arguments, "could not tell its results")
        return json.loads(ast.literal_eval(told))

    async def _call(
        self, function: str, arguments: tuple[str, ...], failed: str, timeout: float | None = None
    ) -> str:
        """Call a function in the kernel. A kernel takes nothing but lines of Python; this is the
        one that is sent."""
        words = ", ".join(map(repr, arguments))
        line = f"__import__('sys').modules[{FRESH!r}].{function}({words})"
        reply = await self.client.execute(
            "",
            silent=True,
            store_history=False,
            user_expressions={"told": line},
            reply=True,
            timeout=timeout,
        )
        told = reply["content"].get("user_expressions", {}).get("told", {})
        if told.get("status") != "ok":
            raise RunError(f"The notebook kernel {failed}: {told.get('evalue', 'no reason given')}")
        return told["data"]["text/plain"]

    def stop(self) -> None:
        """End the kernel's process; what it holds is of no use any more."""
        run_sync(self._stop)()
        self.own.cleanup()

    async def _stop(self) -> None:
        # After an interrupt the cell's tasks are still waiting; they would complain of the dead kernel.
        waiting = asyncio.all_tasks() - {asyncio.current_task()}
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)
        if self.client is not None:
            self.client.stop_channels()
        if self.manager.has_kernel:
            await self.manager.shutdown_kernel(now=True)


def _environment(own: str) -> dict[str, str]:
    """The kernel's environment: it takes no settings from the home folder."""
    environment = {**os.environ, "IPYTHONDIR": own}
    for name in ("PYTHONSTARTUP", "PYTHONINSPECT"):
        environment.pop(name, None)
    return environment
