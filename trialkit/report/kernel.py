"""The kernel manager that always starts this environment's own interpreter."""

import sys
from typing import Any

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
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

    @default("kernel_spec_manager")
    def _own_specs(self) -> KernelSpecManager:
        return OwnKernelSpecManager(parent=self)
