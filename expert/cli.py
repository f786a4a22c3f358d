"""The command `ohmbudsman`: whatever it is doing, loading included, Ctrl-C ends it without a word and with code 130."""

import atexit
import gc
import signal
import sys
from collections.abc import Sequence
from types import FrameType

# 128 and the number of SIGINT, as shells give it for what Ctrl-C ended (common practice).
INTERRUPTED = 130

# Starting makes some 300,000 objects that all stay: looking through them for garbage, again and again and once more at
# the end, took a fifth of the time of a triage.
_OBJECTS = 500_000


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; give its exit code."""
    own_process = arguments is None
    if own_process:
        gc.set_threshold(_OBJECTS)
        atexit.register(gc.freeze)
    came: list[int] = []

    def interrupt(number: int, frame: FrameType | None) -> None:
        came.append(number)
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, interrupt)
    try:
        # Loading takes a while; what is interrupted in it may well turn the interrupt into an error of its own.
        from expert.command_line import run

        return run(arguments)
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception:
        if came:
            return INTERRUPTED
        raise
    finally:
        # A process that is ending anyway is not interrupted once more.
        signal.signal(signal.SIGINT, signal.SIG_IGN if own_process else before)


if __name__ == "__main__":
    sys.exit(main())
