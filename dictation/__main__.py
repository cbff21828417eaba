"""``python -m dictation``."""

import sys

from dictation.interruption import interruptible

try:
    with interruptible():
        from dictation.cli import main
except KeyboardInterrupt:  # while loading: nothing was begun
    print("Stopped; nothing was begun.", file=sys.stderr)
    sys.exit(130)

if __name__ == "__main__":
    main()
