"""Why another machine gave no answer: each fault of the network in words that a person can act on."""

import http.client
import socket
import ssl
from email.message import Message
from urllib.error import HTTPError, URLError

import pytest

from receiving.wording.network import why_no_answer


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (HTTPError("https://a.example", 502, "Bad Gateway", Message(), None), "it answered with status 502"),
        (URLError(TimeoutError("timed out")), "it took too long"),
        (TimeoutError("The read operation timed out"), "it took too long"),
        (
            URLError(socket.gaierror(-2, "Name or service not known")),
            "its name was not found on the network",
        ),
        (
            URLError(ssl.SSLCertVerificationError(1, "self-signed certificate")),
            "its certificate does not prove whose address it is",
        ),
        (ssl.SSLError(1, "WRONG_VERSION_NUMBER"), "no encrypted connection could be made"),
        (ConnectionRefusedError(111, "Connection refused"), "nothing listens at its address and port"),
        (http.client.RemoteDisconnected("Remote end closed connection"), "it broke off the connection"),
        (OSError(101, "Network is unreachable"), "the network has no route there"),
        (URLError("unknown url type"), "the network has no route there"),
        (http.client.BadStatusLine("x"), "what it answered cannot be read"),
    ],
)
def test_a_fault_of_the_network_is_said_in_our_words(fault: Exception, words: str) -> None:
    assert str(why_no_answer(fault)) == words
