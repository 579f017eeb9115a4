"""Photos as phones write them: in every form with a place, a device and words beside the picture, all of them marked.

Where what lies beside the picture stands: Exif 2.32 (CIPA DC-008), 4.5 to 4.6; XMP part 3 (Adobe, 2016), 1.1.3; IPTC in
Photoshop's resources, the same; multi-picture files (CIPA DC-007), 5; ICC.1:2022, 10.24; PNG third edition (W3C), 11.3;
the WebP container (RFC 9649), 2.7; QuickTime's ``©xyz`` for a place, from memory.
"""

import contextlib
import io
import zlib
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageCms, ImageDraw, PngImagePlugin

MARK = b"Zq7M"
"""Stands in every text beside the pictures, and as the number 0x5A71374D in every number of a place."""
MARKS = (MARK, MARK[::-1], MARK.decode().encode("utf-16-le"), MARK.decode().encode("utf-16-be"))
"""As it stands in texts and in numbers of either order of bytes."""
DEGREES = int.from_bytes(MARK, "big")
GPS = 0x8825


def _picture(colour: str) -> Image.Image:
    image = Image.new("RGB", (320, 240), colour)
    draw = ImageDraw.Draw(image)
    draw.rectangle((40, 40, 220, 150), fill="white", outline="black", width=4)
    return image


def _exif() -> Image.Exif:
    exif = Image.Exif()
    exif[0x010E], exif[0x010F], exif[0x0110] = "Zq7M description", "Zq7M make", "Zq7M model"
    exif[0x0131], exif[0x013B], exif[0x8298] = "Zq7M software", "Zq7M artist", "Zq7M copyright"
    exif[0x9C9D] = "Zq7M author".encode("utf-16-le")
    camera = exif.get_ifd(0x8769)
    camera[0x927C], camera[0x9286] = b"Zq7M maker note", b"ASCII\0\0\0Zq7M comment of the user"
    camera[0xA430], camera[0xA431], camera[0xA435] = "Zq7M owner", "Zq7M serial number", "Zq7M lens number"
    far = (float(DEGREES), 12.0, 30.0)
    exif.get_ifd(GPS).update({1: "N", 2: far, 3: "E", 4: far, 27: b"ASCII\0\0\0Zq7M by satellite", 29: "2026:03:05"})
    return exif


def _xmp() -> bytes:
    return (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="48,12.Zq7MN"/></rdf:RDF>'
        b"</x:xmpmeta>"
    )


def _profile() -> bytes:
    """A colour profile whose texts are marked, of the same length as they were."""
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return made.replace("sRGB built-in".encode("utf-16-be"), "Zq7M built-in".encode("utf-16-be")) + MARK


def _segment(marker: int, data: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(data) + 2).to_bytes(2, "big") + data


def _jpeg(colour: str) -> bytes:
    """With a thumbnail that has a comment of its own, IPTC, extended XMP and bytes after the end."""
    out, small = io.BytesIO(), io.BytesIO()
    _picture(colour).save(
        out, "JPEG", exif=_exif(), comment=b"Zq7M comment", icc_profile=_profile(), xmp=_xmp(), quality=88
    )
    _picture(colour).resize((64, 48)).save(small, "JPEG", comment=b"Zq7M comment of the thumbnail")
    iptc = b"\x1c\x02\x50" + len(b"Zq7M by-line").to_bytes(2, "big") + b"Zq7M by-line"
    more = (
        _segment(0xE1, b"Exif\0\0II*\0\x08\0\0\0\0\0\0\0\0\0" + small.getvalue())
        + _segment(0xE1, b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32 + bytes(8) + _xmp())
        + _segment(0xED, b"Photoshop 3.0\0008BIM\x04\x04\0\0" + len(iptc).to_bytes(4, "big") + iptc)
        + _segment(0xEB, b"Zq7M segment of an application")
    )
    data = out.getvalue()
    return data[:2] + more + data[2:] + b"Zq7M after the end" + small.getvalue()


def _multi_picture(colour: str) -> bytes:
    """Two pictures in one file, as phones keep a gain map or a depth map; each with a place."""
    out, second = io.BytesIO(), _picture("gray")
    second.info["comment"] = b"Zq7M second picture"
    _picture(colour).save(out, "MPO", save_all=True, append_images=[second], exif=_exif(), comment=b"Zq7M first")
    return out.getvalue() + b"Zq7M after the end"


def _png(colour: str) -> bytes:
    out, texts = io.BytesIO(), PngImagePlugin.PngInfo()
    texts.add_text("Comment", "Zq7M text")
    texts.add_text("Author", "Zq7M compressed text", zip=True)
    texts.add_itxt("XML:com.adobe.xmp", _xmp().decode())
    texts.add(b"zzPx", b"Zq7M private chunk")
    _picture(colour).save(out, "PNG", exif=_exif(), pnginfo=texts, icc_profile=_profile())
    return out.getvalue() + b"Zq7M after the end"


def _of_a_kind(colour: str, kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    _picture(colour).save(out, kind, exif=_exif(), xmp=_xmp(), icc_profile=_profile(), **more)
    return out.getvalue()


def _tiff(colour: str) -> bytes:
    out, exif = io.BytesIO(), _exif()
    exif[700], exif[33723] = _xmp(), b"Zq7M by-line"
    _picture(colour).save(out, "TIFF", exif=exif, icc_profile=_profile())
    return out.getvalue() + b"Zq7M after the end"


def _gif(colour: str) -> bytes:
    out = io.BytesIO()
    _picture(colour).save(out, "GIF", comment=b"Zq7M comment")
    return out.getvalue() + b"Zq7M after the end"


def video(folder: Path, colour: tuple[int, int, int] = (90, 138, 181)) -> bytes:
    """A second of MPEG-4 with a place in its user data."""
    file = folder / "walk.mp4"
    writer = cv2.VideoWriter(str(file), cv2.VideoWriter.fourcc(*"mp4v"), 10, (320, 240))
    for n in range(10):
        frame = np.full((240, 320, 3), colour, np.uint8)
        cv2.rectangle(frame, (40 + 4 * n, 40), (220 + 4 * n, 150), (255, 255, 255), -1)
        writer.write(frame)
    writer.release()
    place = b"Zq7M+48.2082+016.3738/"
    text = (len(place) + 12).to_bytes(4, "big") + b"\xa9xyz" + len(place).to_bytes(2, "big") + b"\x15\xc7" + place
    return file.read_bytes() + (len(text) + 8).to_bytes(4, "big") + b"udta" + text


def marked_photos() -> dict[str, bytes]:
    """A photo of each form by its name; each has another colour, so that no two are one photo."""
    phone = Path(__file__).parent / "photos" / "phone.heic"
    made = {
        "phone.jpg": _jpeg("#b58a5a"),
        "two.mpo": _multi_picture("#a57a4a"),
        "screen.png": _png("#956a3a"),
        "shared.webp": _of_a_kind("#c59a6a", "WEBP"),
        "new.avif": _of_a_kind("#d5aa7a", "AVIF"),
        "scanned.tif": _tiff("#855a2a"),
        "old.gif": _gif("#754a1a"),
        # Written once by libheif 1.23 with x265, which the project does not install: EXIF with a place, and XMP.
        "phone.heic": phone.read_bytes(),
    }
    assert all(MARK in unpacked(data) for data in made.values())
    return made


def unpacked(data: bytes) -> bytes:
    """The bytes, and what deflated streams in them hold: those of PDF and of compressed texts of PNG."""
    found, start = [data], 0
    while (start := data.find(b"\x78", start)) >= 0:
        if data[start : start + 2] in (b"\x78\x01", b"\x78\x5e", b"\x78\x9c", b"\x78\xda"):
            with contextlib.suppress(zlib.error):
                found.append(zlib.decompressobj().decompress(data[start:]))
        start += 1
    return b"\n".join(found)
