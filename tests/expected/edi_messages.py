"""Messages written by hand from the standards, for the tests of advance ship notices."""

from collections.abc import Sequence

from receiving.model import mod10_check_digit

STAR = "*"


def sscc(serial: int) -> str:
    """An SSCC of the demo prefix 952."""
    body = f"19520000{serial:09d}"
    return body + mod10_check_digit(body)


def isa(
    element: str = "*", component: str = ">", terminator: str = "~", version: str = "00401", control: int = 1
) -> str:
    """An interchange header of 106 characters (X12.5)."""
    parts = ["ISA", "00", " " * 10, "00", " " * 10, "ZZ", f"{'SHIPPER':15}", "ZZ", f"{'FIELD':15}", "260301", "0800"]
    return element.join([*parts, "U", version, f"{control:09d}", "0", "P", component]) + terminator


def x12(
    *transactions: Sequence[str],
    element: str = "*",
    component: str = ">",
    terminator: str = "~",
    after: str = "\n",
    version: str = "00401",
    control: int = 1,
) -> bytes:
    """An interchange of 856 transactions, given by their segments between ST and SE, with right counts."""
    end = terminator + after
    text = isa(element, component, terminator, version, control) + after
    text += f"GS*SH*SHIPPER*FIELD*20260301*0800*1*X*004010{end}".replace("*", element)
    for number, segments in enumerate(transactions, start=1):
        body = [f"ST*856*{number:04d}", *segments, f"SE*{len(segments) + 2}*{number:04d}"]
        text += "".join(segment.replace("*", element) + end for segment in body)
    text += f"GE*{len(transactions)}*1{end}IEA*1*{control:09d}{end}".replace("*", element)
    return text.encode()


STANDARD = (
    "BSN*00*WAVE7*20260301*0800*0001",
    "HL*1**S",
    "TD5*B*2*ABCD*M",
    "REF*BM*BOL-1",
    "DTM*011*20260301",
    "N1*ST*Distribution centre*92*DC1",
    "HL*2*1*O",
    "PRF*PO-9",
    "N1*BY*Shop*92*0417",
    "HL*3*2*T",
    f"MAN*GM*00{sscc(900)}",
    "HL*4*3*P",
    f"MAN*GM*00{sscc(1)}",
    "PO4*1*****10*LB***20*10*5*IN",
    "HL*5*4*I",
    "LIN*1*VN*TRAY-A*UP*614141999996",
    "SN1**2*EA",
    "PID*F****Sample tray A",
    "HL*6*3*P",
    f"MAN*CP*1Z9999**GM*00{sscc(2)}",
    "HL*7*6*I",
    "LIN**VN*TAGS",
    "SN1**40*EA",
    "CTT*7*42",
)
"""Shipment, order, tare, pack, item: one outer box with two cartons."""


def edifact(*messages: Sequence[str], una: str = "UNA:+.? '", after: str = "\n", charset: str = "UNOC") -> str:
    """An interchange of DESADV messages, given by their segments between UNH and UNT, with right counts."""
    text = f"{una}{after}UNB+{charset}:3+SHIPPER:14+FIELD:14+260301:0800+77'{after}"
    for number, segments in enumerate(messages, start=1):
        body = [f"UNH+M{number}+DESADV:D:01B:UN:EAN007", *segments, f"UNT+{len(segments) + 2}+M{number}"]
        text += "".join(f"{segment}'{after}" for segment in body)
    return text + f"UNZ+{len(messages)}+77'{after}"


DESPATCH = (
    "BGM+351+WAVE8+9",
    "DTM+11:20260301:102",
    "RFF+ON:PO-9",
    "NAD+DP+0417::92",
    "CPS+1",
    "PAC+1++201",
    "PCI+33E",
    f"GIN+BJ+{sscc(901)}",
    "CPS+2+1",
    "PAC+1++CT",
    "MEA+PD+AAB+KGM:4.5",
    "MEA+PD+LN+MMT:600",
    "PCI+33E",
    f"GIN+BJ+{sscc(11)}",
    "LIN+1++4006381333931:SRV",
    "PIA+5+TRAY-A:SA",
    "IMD+F++:::Sample tray A",
    "QTY+12:2:PCE",
    "CPS+3+1",
    "PAC+1++CT",
    "PCI+33E",
    f"GIN+BJ+{sscc(12)}",
    "LIN+2++:",
    "PIA+5+TAGS:SA",
    "QTY+12:40",
    "CNT+2:2",
)
"""One outer box with two cartons, three packing levels."""
