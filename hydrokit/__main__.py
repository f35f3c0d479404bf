"""``python -m hydrokit`` is the command ``hydrokit``."""

import sys

# Python puts the working folder first here; whatever lies in it is not to be imported.
if sys.path and not sys.flags.safe_path:
    del sys.path[0]

from hydrokit.cli import main

if __name__ == "__main__":
    sys.exit(main())
