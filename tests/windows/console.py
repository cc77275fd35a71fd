"""Runs a program at a terminal of its own, waits until it shows a live line, types Ctrl-C or closes the terminal, and ends
with 0 where the program ended within twenty seconds of it.

    console.py interrupt|close COMMAND...
"""

import os
import pty
import select
import sys
import time


def until(terminal, wanted, seconds):
    """What the terminal shows, up to this text; None where it does not come."""
    shown = b""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                piece = os.read(terminal, 65536)
            except OSError:
                return None
            shown += piece
            os.write(1, piece)
            if wanted in shown:
                return shown
    return None


def main():
    how, *command = sys.argv[1:]
    child, terminal = pty.fork()
    if child == 0:
        os.execvp(command[0], command)
    if until(terminal, b"top left", 90) is None:
        os.kill(child, 9)
        sys.exit("it shows nothing")
    time.sleep(2)
    if how == "interrupt":
        os.write(terminal, b"\x03")
    else:
        os.close(terminal)
    end = time.monotonic() + 20
    while time.monotonic() < end:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            print("\nexit status", os.waitstatus_to_exitcode(status))
            return
        if how == "interrupt" and select.select([terminal], [], [], 0.2)[0]:
            try:
                os.write(1, os.read(terminal, 65536))
            except OSError:
                pass
        time.sleep(0.1)
    os.kill(child, 9)
    sys.exit("it goes on")


main()
