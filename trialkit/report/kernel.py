"""The kernel manager that always starts this environment's own interpreter."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from jupyter_core.utils import run_sync
from traitlets import default
from traitlets.config import Config

# A kernelspec of the same name anywhere on the machine would win otherwise, and bring other
# versions of everything. Nothing is imported from the folder that the kernel works in: a data
# folder may hold a pandas.py. No history: it is a file that parallel kernels would share. A kernel
# that lives for one report makes few cycles; looking for them took a tenth of its time.
ARGUMENTS = (
    "-m",
    "ipykernel_launcher",
    "-f",
    "{connection_file}",
    "--IPKernelApp.ignore_cwd=True",
    "--HistoryManager.enabled=False",
    "--IPKernelApp.log_level=50",
    "--IPKernelApp.exec_lines=__import__('gc').set_threshold(100_000, 50, 50)",
)


class OwnKernelSpecManager(KernelSpecManager):
    """Answers every name with this interpreter."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """
        The same specification for every name.

        Parameters
        ----------
        kernel_name : str

        Returns
        -------
        jupyter_client.kernelspec.KernelSpec
        """
        return KernelSpec(
            argv=[sys.executable, *ARGUMENTS],
            display_name="Python 3",
            language="python",
            metadata={"supported_encryption": "curve"},
        )


class OwnKernelManager(AsyncKernelManager):
    """Starts this interpreter; messages between it and us are encrypted, as ipykernel asks."""

    def __init__(self, **settings: Any) -> None:
        config = Config(settings.pop("config", None) or {})
        config.KernelManager.transport_encryption = "required"
        super().__init__(config=config, **settings)
        self.clients: list[Any] = []

    def client(self, **settings: Any) -> Any:
        """
        A client of the kernel, remembered so that it can be closed with it.

        Parameters
        ----------
        **settings
            As the base class takes them.

        Returns
        -------
        jupyter_client.client.KernelClient
        """
        made = super().client(**settings)
        self.clients.append(made)
        return made

    @default("kernel_spec_manager")
    def _own_specs(self) -> KernelSpecManager:
        return OwnKernelSpecManager(parent=self)


@contextmanager
def started_kernel(cwd: str, first: str = "") -> Iterator[OwnKernelManager]:
    """
    A kernel that is starting up, gone when the block ends.

    Parameters
    ----------
    cwd : str
        Folder that it works in.
    first : str
        A line of Python that it runs before it answers anybody.

    Yields
    ------
    OwnKernelManager
    """
    manager = OwnKernelManager(kernel_name="python3")
    lines = [f"--IPKernelApp.exec_lines={first}"] if first else []
    run_sync(manager.start_kernel)(cwd=cwd, extra_arguments=lines)
    try:
        yield manager
    finally:
        run_sync(manager.shutdown_kernel)(now=True)
        for client in manager.clients:
            client.stop_channels()
