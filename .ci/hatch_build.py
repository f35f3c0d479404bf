"""What a wheel holds beside the package: notebooks, demo studies, published checks and the records they read."""

from pathlib import Path

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WITHIN = "hydrokit"
# Folder of the checkout, what of it, and where that goes within the package.
KEPT = (
    ("notebooks", ("*.ipynb",), "_notebooks"),
    ("studies", ("site.toml", "results.toml", "*.csv", "*.md"), "_studies"),
    ("data", ("*.csv",), "data"),  # the demos name it as ../../data, seen from _studies/creek
    ("tests/published", ("*.toml", "*.csv", "worked_*.py"), "_checks/published"),
    ("tests/data", ("*",), "_checks/data"),
)
LEFT_OUT = {"reports", "__pycache__", ".ipynb_checkpoints"}


class Hook(BuildHookInterface):
    """Adds those files to a wheel; an editable install finds them where they are."""

    def initialize(self, version: str, build_data: dict) -> None:
        if version == "editable":
            return
        root = Path(self.root)
        for folder, patterns, place in KEPT:
            for pattern in patterns:
                for path in sorted((root / folder).rglob(pattern)):
                    inner = path.relative_to(root / folder)
                    if (
                        path.is_file()
                        and not LEFT_OUT.intersection(inner.parts)
                        and not any(each.startswith(".") for each in inner.parts)
                    ):
                        build_data["force_include"][str(path)] = (
                            f"{WITHIN}/{place}/{inner.as_posix()}"
                        )
