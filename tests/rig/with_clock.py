"""`ropewalk`, its clock on the wall set by as many seconds as a file says: `with_clock.py FILE soak ...`."""

import sys
import time
from pathlib import Path

_real_s = time.time
_ahead = Path(sys.argv.pop(1))


def _set_s() -> float:
    return _real_s() + float(_ahead.read_text() or 0)


time.time = _set_s

if __name__ == "__main__":
    from tui.command import main

    main()
