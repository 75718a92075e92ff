"""The report: figures, tables in words, and one self-contained page.

The plotting library refuses to be imported where the environment names a backend that it does not know, as a shell that
a notebook has started may. Nothing here opens a window: it is imported without, and told the name afterwards.
"""

import os
import sys
from contextlib import suppress

if "matplotlib" not in sys.modules:
    named = os.environ.pop("MPLBACKEND", "")
    import matplotlib

    if named:
        os.environ["MPLBACKEND"] = named
        with suppress(ValueError):
            matplotlib.rcParams["backend"] = named
