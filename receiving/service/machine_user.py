"""Who runs this process, as the operating system knows him."""

import getpass
import os

from receiving.model import Actor

COMMAND_LINE = "command line"
"""The role of somebody who is known as a user of the operating system alone."""


def user_of_this_machine() -> Actor:
    """The user of the operating system who runs a command, as the system knows him and not as he says."""
    try:
        name = pwd.getpwuid(os.getuid()).pw_name if pwd else getpass.getuser()
    except (KeyError, OSError, ImportError):
        name = ""
    return Actor(name or f"user {os.getuid() if hasattr(os, 'getuid') else '?'}", COMMAND_LINE)
