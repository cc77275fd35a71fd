"""Runs a program at a terminal of its own, waits until it shows a live line, types Ctrl-C, and ends with the program's own
exit status, or with 99 where it shows nothing, and with 98 where it goes on for more than a minute.

    console.py COMMAND...
"""

import os
import pty
import re
import select
import sys
import time

# Wine's console draws letter by letter, and moves the cursor between them.
MOVES = re.compile(rb"\x1b\[[0-9;?]*[A-Za-z]|\s")


def read(terminal):
    """What the terminal shows next, if it shows something soon."""
    if not select.select([terminal], [], [], 0.2)[0]:
        return b""
    try:
        piece = os.read(terminal, 65536)
    except OSError:
        return b""
    os.write(1, piece)
    return piece


def main():
    command = sys.argv[1:]
    child, terminal = pty.fork()
    if child == 0:
        os.execvp(command[0], command)
    shown, end = b"", time.monotonic() + 120
    while b"topleft" not in MOVES.sub(b"", shown):
        if time.monotonic() > end:
            os.kill(child, 9)
            return 99
        shown += read(terminal)
    os.write(terminal, b"\x03")
    end = time.monotonic() + 60
    while time.monotonic() < end:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        read(terminal)
    os.kill(child, 9)
    return 98


sys.exit(main())
