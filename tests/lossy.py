"""Work that loses its worker, for the tests of the batch; importable by the workers themselves."""

import os
import time
from pathlib import Path


def twice(number):
    return 2 * number


def slow(number, seconds):
    time.sleep(seconds)
    return number, os.getpid()


def dies_once(number, marker):
    """The first time, for the number 3, the whole process goes; afterwards all is well."""
    if number == 3 and not Path(marker).exists():
        Path(marker).touch()
        os._exit(1)
    return 2 * number


def dies_always(number):
    if number == 3:
        os._exit(1)
    return 2 * number


def refuses(number):
    if number == 3:
        raise ZeroDivisionError("by three")
    return 2 * number
