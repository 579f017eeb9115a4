"""Why another machine gave no answer, in words of ours: those of a library are for the log."""

import socket
import ssl
from urllib.error import HTTPError, URLError

from receiving.messages import Text, message


def why_no_answer(fault: BaseException) -> Text:
    """What a try to reach another machine ran into, as the end of a sentence.

    >>> str(why_no_answer(URLError(ConnectionRefusedError(111, "Connection refused"))))
    'nothing listens at its address and port'
    >>> str(why_no_answer(ValueError("Expecting value: line 1")))
    'what it answered cannot be read'
    """
    if isinstance(fault, HTTPError):
        return message("it answered with status {status}", status=fault.code)
    cause = fault.reason if isinstance(fault, URLError) and isinstance(fault.reason, BaseException) else fault
    match cause:
        case TimeoutError():
            return message("it took too long")
        case socket.gaierror():
            return message("its name was not found on the network")
        case ssl.SSLCertVerificationError():
            return message("its certificate does not prove whose address it is")
        case ssl.SSLError():
            return message("no encrypted connection could be made")
        case ConnectionRefusedError():
            return message("nothing listens at its address and port")
        case ConnectionError():
            return message("it broke off the connection")
        case OSError():
            return message("the network has no route there")
        case _:
            return message("what it answered cannot be read")
