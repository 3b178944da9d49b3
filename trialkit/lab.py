"""JupyterLab on a trial's notebooks, run by this environment's own interpreter."""

import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from jupyter_client.kernelspec import NATIVE_KERNEL_NAME

from trialkit.lab_copies import LAB, prepare_lab
from trialkit.report.kernel import OwnKernelSpecManager

__all__ = ["OneKernel", "open_lab"]

ANNOUNCEMENTS = "@jupyterlab/apputils-extension:announcements"


class OneKernel(OwnKernelSpecManager):
    """Offers this environment's interpreter and no other, whatever the machine has registered."""

    def find_kernel_specs(self) -> dict[str, str]:
        """
        One name, with the folder of its icons.

        Returns
        -------
        dict of str to str
        """
        from ipykernel.kernelspec import RESOURCES

        return {NATIVE_KERNEL_NAME: RESOURCES}

    def get_kernel_spec(self, kernel_name: str):
        """
        Specification of this interpreter, by any name: a notebook may have been saved elsewhere.

        Parameters
        ----------
        kernel_name : str

        Returns
        -------
        jupyter_client.kernelspec.KernelSpec
        """
        spec = super().get_kernel_spec(kernel_name)
        spec.resource_dir = self.find_kernel_specs()[NATIVE_KERNEL_NAME]
        return spec


def open_lab(folder: str | Path, *, options: Sequence[str] = ()) -> None:
    """Prepare the copies and start JupyterLab on them; comes back when it is stopped.

    It listens on this machine only, asks for its token, fetches no news and no updates.

    Parameters
    ----------
    folder : str or pathlib.Path
        The trial folder.
    options : sequence of str
        More options of JupyterLab, such as "--no-browser" or "--ServerApp.port=8890".
    """
    from jupyterlab.labapp import LabApp

    for done in prepare_lab(folder):
        print(done, flush=True)
    with _quiet():
        LabApp.launch_instance(argv=[*_options(Path(folder).resolve()), *options])


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep JupyterLab from asking whether it may fetch news: it may not, see `_options`."""
    before = os.environ.get("JUPYTER_CONFIG_PATH")
    with tempfile.TemporaryDirectory(prefix="trialkit-") as made:
        settings = Path(made, "labconfig", "page_config.json")
        settings.parent.mkdir()
        settings.write_text(json.dumps({"disabledExtensions": {ANNOUNCEMENTS: True}}))
        paths = [made, before] if before else [made]
        os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join(paths)
        try:
            yield
        finally:
            del os.environ["JUPYTER_CONFIG_PATH"]
            if before is not None:
                os.environ["JUPYTER_CONFIG_PATH"] = before


def _options(root: Path) -> list[str]:
    return [
        f"--ServerApp.root_dir={root}",
        f"--LabApp.default_url=/lab/tree/{LAB}/comparison.ipynb",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.kernel_spec_manager_class={__name__}.{OneKernel.__name__}",
        "--KernelManager.transport_encryption=required",
        # Nothing is looked up elsewhere: what is published stays between you and this machine.
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
    ]
